package readings_test

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/color"
	"masstone/color/readings"
)

// shop lists the pigments of testdata/real_pigments.
func shop() []string { return strings.Split("WH BK YE YO OR RD MG VI UB CB GN CR", " ") }

func openTest(t testing.TB, path string) *os.File {
	t.Helper()
	f, err := os.Open("../../testdata/" + path)
	require.NoError(t, err)
	t.Cleanup(func() { f.Close() })
	return f
}

func realChips(t testing.TB) readings.Table {
	t.Helper()
	table, err := readings.Chips(openTest(t, "real_pigments/chips.csv"), readings.Options{File: "chips.csv", KnownPigments: shop()})
	require.NoError(t, err)
	return table
}

// The figures are those printed in testdata/real_pigments/chips.csv.
func TestRealChips(t *testing.T) {
	table := realChips(t)
	require.Equal(t, shop(), table.Pigments)
	require.Len(t, table.Rows, 48)
	require.Equal(t, []string{"48 chips; comma-separated; decimal point; Lab under D65/10, A/10, FL11/10; reflectance 400-700 nm by 10 as fractions"}, table.Notes)

	row := table.Rows[5]
	require.Equal(t, "BK-t10", row.Name)
	require.Equal(t, 12, row.Line)
	require.Equal(t, "white", row.Backing)
	require.Equal(t, 3.0, row.ThicknessMM)
	require.Equal(t, map[string]float64{"WH": 1, "BK": 0.1}, row.Loadings)
	require.Equal(t, []color.Lab{
		{L: 80.77, A: -1.39, B: 0.86, Under: color.Under(color.D65, 10)},
		{L: 80.82, A: -0.97, B: 0.39, Under: color.Under(color.A, 10)},
		{L: 80.79, A: -1.09, B: 0.87, Under: color.Under(color.FL11, 10)},
	}, row.Labs)
	require.Equal(t, 400, row.Spectrum.FirstNM)
	require.Equal(t, 10, row.Spectrum.StepNM)
	require.Len(t, row.Spectrum.R, 31)
	require.Equal(t, 0.4164, row.Spectrum.R[0])
	require.Equal(t, 0.5583, row.Spectrum.R[30])
}

// Lab and spectra of that file carry independent noise (sd 0.08 and 0.001), so
// that some dark chips disagree by more than 0.3 and none by much.
func TestRealChipsAreDoubtedMildly(t *testing.T) {
	table := realChips(t)
	require.NotEmpty(t, table.Warnings)
	for _, w := range table.Warnings {
		require.Contains(t, w.Problem, "differ by")
	}
}

func TestRealMixtures(t *testing.T) {
	table, err := readings.Mixtures(openTest(t, "real_pigments/mixtures.csv"), readings.Options{KnownPigments: shop()})
	require.NoError(t, err)
	require.Len(t, table.Rows, 120)
	require.Equal(t, map[string]float64{"WH": 0.774, "YE": 0.21}, table.Rows[0].Loadings)
	require.Nil(t, table.Rows[0].Spectrum)
	require.Equal(t, "", table.Rows[0].Backing)
	require.Len(t, table.Rows[119].Labs, 3)
	require.Empty(t, table.Warnings)
}

func TestRealPigments(t *testing.T) {
	list, err := readings.Pigments(openTest(t, "real_pigments/pigments.csv"), readings.Options{})
	require.NoError(t, err)
	require.Len(t, list, 12)
	require.Equal(t, "CB", list[9].Code)
	require.Equal(t, "PB15:4", list[9].CIName)
	require.Nil(t, list[9].DensityGML)
}

// Gnumeric 1.12.55 wrote the same rows as a workbook and, in a German locale,
// as semicolons with quoted decimal commas and typographic minus signs.
func TestGnumericFiles(t *testing.T) {
	want := realChips(t)
	for file, note := range map[string]string{
		"gnumeric/chips.xlsx":                "worksheet chips_plain.csv",
		"gnumeric/chips_semicolon_comma.csv": "semicolon-separated; decimal comma",
	} {
		got, err := readings.Chips(openTest(t, file), readings.Options{KnownPigments: shop()})
		require.NoError(t, err, file)
		require.Contains(t, got.Notes[0], note)
		require.Equal(t, withoutLines(want.Rows), withoutLines(got.Rows), file)
	}
}

// withoutLines puts aside where rows stood, which differs between formats.
func withoutLines(rows []readings.Row) []readings.Row {
	out := make([]readings.Row, len(rows))
	for i, r := range rows {
		r.Line = 0
		out[i] = r
	}
	return out
}
