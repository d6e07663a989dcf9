package charts

import (
	"bytes"
	"encoding/csv"
	"math"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/cell"
)

// readTable parses a table into one map a row.
func readTable(t *testing.T, f fitted, chips []calibrate.Chip) []map[string]string {
	var b bytes.Buffer
	require.NoError(t, table("chips", f.cal, chips).Draw(&b, CSV))
	rows, err := csv.NewReader(&b).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, len(f.cal.Chips)+1)
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, name := range rows[0] {
			assert.NotContains(t, m, name)
			m[name] = row[i]
		}
		out = append(out, m)
	}
	return out
}

// What begins a formula in a spreadsheet is marked as text, after "CSV Injection",
// owasp.org/www-community/attacks/CSV_Injection.
func TestNoFormulas(t *testing.T) {
	f := renamed(shop(t, 3), []string{"+WH"}, []string{"=1+1"})
	f.chips[0].BackingName = "@grey"
	row := readTable(t, f, f.chips)[0]
	assert.Equal(t, "'=1+1", row["chip"])
	assert.Equal(t, "'@grey", row["backing"])
	curves, err := drawnCurves(f.cal, f.shop.Setting)
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, curveTable("curves", curves).Draw(&b, CSV))
	assert.Contains(t, b.String(), "\n'+WH,400,")
}

func TestTable(t *testing.T) {
	f := renamed(shop(t, 3), nil, []string{`a "quoted", name`, "two\nlines", "=1+1"})
	f.cal.Chips[1].Vague = true
	f.chips[1].BackingName = "@grey"
	for i, row := range readTable(t, f, f.chips) {
		r, c := &f.cal.Chips[i], &f.chips[i]
		assert.Equal(t, r.Chip, cell.Text(row["chip"]))
		assert.Equal(t, c.BackingName, cell.Text(row["backing"]))
		assert.Equal(t, r.Measured.Under.String(), row["under"])
		number := func(column string, want, within float64) {
			got, err := strconv.ParseFloat(row[column], 64)
			require.NoError(t, err, column)
			assert.InDelta(t, want, got, within, "%s of %s", column, r.Chip)
		}
		number("thickness_mm", float64(c.Thickness), 0)
		for _, code := range f.cal.Codes() {
			number("phr_"+code, float64(c.Loadings[code]), 0)
		}
		const printed = 0.50001e-4
		number("L_measured", r.Measured.L, printed)
		number("a_measured", r.Measured.A, printed)
		number("b_measured", r.Measured.B, printed)
		number("L_fitted", r.Fitted.L, printed)
		number("a_fitted", r.Fitted.A, printed)
		number("b_fitted", r.Fitted.B, printed)
		number("dE00", r.DE00, printed)
		number("L_left_out", r.LeftOut.L, printed)
		number("a_left_out", r.LeftOut.A, printed)
		number("b_left_out", r.LeftOut.B, printed)
		number("dE00_left_out", r.LeftDE00, printed)
		assert.Equal(t, strconv.FormatBool(r.Vague), row["vague"])
		if r.Vague {
			assert.Empty(t, row["sigma"])
			assert.Empty(t, row["inside95"])
			continue
		}
		number("sigma", r.Sigma, printed)
		assert.Equal(t, strconv.FormatBool(r.Inside), row["inside95"])
	}
}

// Without the chips the table lacks what only they know.
func TestTableWithoutChips(t *testing.T) {
	f := shop(t, 2)
	for _, row := range readTable(t, f, nil) {
		assert.Empty(t, row["backing"])
		assert.Empty(t, row["thickness_mm"])
		assert.Empty(t, row["phr_WH"])
		assert.NotEmpty(t, row["dE00"])
	}
}

// The table of curves says what the calibration says: K and S to six digits,
// and the bands by (1).
func TestCurveTable(t *testing.T) {
	f := shop(t, 3)
	cal := *f.cal
	cal.ModelError.Widen = 1.5
	charts, err := All(&cal, Options{})
	require.NoError(t, err)
	at := slices.IndexFunc(charts, func(c Chart) bool { return c.Name == "curves" && slices.Contains(c.Formats, CSV) })
	require.GreaterOrEqual(t, at, 0)
	var b bytes.Buffer
	require.NoError(t, charts[at].Draw(&b, CSV))
	require.ErrorContains(t, charts[at].Draw(&b, SVG), `no format "svg"; give csv`)
	rows, err := csv.NewReader(&b).ReadAll()
	require.NoError(t, err)
	assert.Equal(t, []string{"pigment", "wavelength_nm", "K_per_mm", "K_low95", "K_high95", "S_per_mm", "S_low95", "S_high95"}, rows[0])
	require.Len(t, rows, 1+len(cal.Curves)*color.Bands)
	for i, row := range rows[1:] {
		c, band := cal.Curves[i/color.Bands], i%color.Bands
		name := c.Code
		if name == "" {
			name = "resin"
		}
		require.Equal(t, []string{name, strconv.Itoa(400 + 10*band)}, row[:2])
		for j, want := range []float64{
			c.K[band], c.K[band] * math.Exp(-1.96*1.5*c.KSD[band]), c.K[band] * math.Exp(1.96*1.5*c.KSD[band]),
			c.S[band], c.S[band] * math.Exp(-1.96*1.5*c.SSD[band]), c.S[band] * math.Exp(1.96*1.5*c.SSD[band]),
		} {
			got, err := strconv.ParseFloat(row[2+j], 64)
			require.NoError(t, err)
			require.InEpsilon(t, want, got, 1e-5, "%s at %s nm, column %d", name, row[1], 2+j)
		}
	}
}
