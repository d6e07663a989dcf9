package readings_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/color"
	"masstone/color/readings"
)

// drawTable draws a table that could have been read: names and notes of any
// printable text, loadings, one or two lights, bands on any grid, readings that
// were not taken.
func drawTable(t *rapid.T) readings.Table {
	word := rapid.StringMatching(`[A-Za-z0-9#"';,.éµ°/-][A-Za-z0-9 #"';,.éµ°/-]{0,12}[A-Za-z0-9#"';éµ°/]`)
	table := readings.Table{Pigments: []string{"WH", "RD"}}
	grid := rapid.SampledFrom([][3]int{{400, 10, 31}, {380, 5, 73}, {360, 20, 18}}).Draw(t, "grid")
	lights := rapid.SampledFrom([][]color.Condition{{color.D65Ten()}, {color.Under(color.LEDB3, 2), color.Under(color.A, 10)}}).Draw(t, "lights")
	for i := range rapid.IntRange(1, 6).Draw(t, "rows") {
		row := readings.Row{Name: fmt.Sprintf("%s %d", word.Draw(t, "name"), i), Backing: word.Draw(t, "backing"), Casting: word.Draw(t, "casting"), ThicknessMM: rapid.Float64Range(0.01, 100).Draw(t, "mm"),
			Measurement: color.Measurement{Geometry: color.Sphere, Specular: color.SpecularExcluded}, Circumstances: readings.Circumstances{Mode: "M1", Instrument: "i " + word.Draw(t, "instrument"), Date: "2026-02-03"}, Note: "n" + word.Draw(t, "note"), Loadings: map[string]float64{}}
		for _, code := range table.Pigments {
			if phr := rapid.SampledFrom([]float64{0, 0.003, 1.0 / 3, 20}).Draw(t, "phr"); phr > 0 {
				row.Loadings[code] = phr
			}
		}
		spectrum := rapid.Bool().Draw(t, "spectrum")
		if spectrum {
			row.Spectrum = &color.Spectrum{FirstNM: grid[0], StepNM: grid[1]}
			level := rapid.Float64Range(0.02, 0.8).Draw(t, "level")
			for range grid[2] {
				row.Spectrum.R = append(row.Spectrum.R, level+rapid.Float64Range(0, 0.2).Draw(t, "r"))
			}
		}
		for _, under := range lights {
			if !spectrum { // beside a spectrum it would have to agree
				row.Labs = append(row.Labs, color.Lab{L: rapid.Float64Range(20, 90).Draw(t, "L"), A: rapid.Float64Range(-9, 9).Draw(t, "a"), B: rapid.Float64Range(-9, 9).Draw(t, "b"), Under: under})
			}
		}
		table.Rows = append(table.Rows, row)
	}
	return table
}

// What begins a formula in a spreadsheet is marked as text, after "CSV Injection",
// owasp.org/www-community/attacks/CSV_Injection.
func TestWrittenFormulas(t *testing.T) {
	table := readings.Table{Pigments: []string{"+WH"}, Rows: []readings.Row{{Name: "=1+1", Backing: "@grey", ThicknessMM: 3, Loadings: map[string]float64{"+WH": 1},
		Labs: []color.Lab{{L: 50, A: -1, B: 2, Under: color.D65Ten()}}}}}
	var out bytes.Buffer
	require.NoError(t, readings.WriteCSV(&out, table))
	for _, marked := range []string{"'+WH", "'=1+1", "'@grey", ",-1,"} {
		require.Contains(t, out.String(), marked)
	}
}

func TestWrittenTablesReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := drawTable(t)
		o := readings.Options{KnownPigments: table.Pigments}
		var csv, text bytes.Buffer
		require.NoError(t, readings.WriteCSV(&csv, table))
		leftOut, err := readings.WriteText(&text, table, readings.ExchangeHeader{Originator: `a "bench"`, Descriptor: "drawn", Created: "2026-02-03"})
		whole := table.Rows // a row has Lab or a spectrum
		if hasBoth(table.Rows) {
			require.ErrorContains(t, err, "write Lab and spectra to files of their own")
			whole = nil
		} else {
			require.NoError(t, err)
			require.Empty(t, leftOut)
		}
		no := false // a table of one dark spectrum would do for percent as well
		o.Percent, o.Separator, o.Decimal = &no, ',', '.'
		for name, file := range map[string]*bytes.Buffer{"CSV": &csv, "ISO 28178": &text} {
			written := file.String()
			if name != "CSV" && whole == nil {
				continue
			}
			got, err := readings.Chips(file, o)
			require.NoError(t, err, "%s:\n%s", name, written)
			require.Equal(t, withoutLines(table.Rows), withoutLines(got.Rows), "%s:\n%s", name, written)
			require.Equal(t, table.Pigments, got.Pigments)
		}
	})
}

func TestRealChipsWrittenAsISO28178(t *testing.T) {
	table := realChips(t)
	var b bytes.Buffer
	leftOut, err := readings.WriteText(&b, table, readings.ExchangeHeader{Originator: "masstone"})
	require.NoError(t, err)
	require.Empty(t, leftOut)
	got, err := readings.Chips(&b, readings.Options{KnownPigments: shop()})
	require.NoError(t, err)
	require.Equal(t, withoutLines(table.Rows), withoutLines(got.Rows))
}

func TestSpectraOnTwoGridsCannotBeWritten(t *testing.T) {
	table := readings.Table{Rows: []readings.Row{
		{Name: "A", Spectrum: &color.Spectrum{FirstNM: 400, StepNM: 10, R: make([]float64, 31)}},
		{Name: "B", Spectrum: &color.Spectrum{FirstNM: 400, StepNM: 20, R: make([]float64, 16)}},
	}}
	require.EqualError(t, readings.WriteCSV(&bytes.Buffer{}, table), "B: spectrum on other bands than the rows before; write such readings to a file of their own")
	_, err := readings.WriteText(&bytes.Buffer{}, table, readings.ExchangeHeader{})
	require.Error(t, err)
	_, err = readings.WriteXML(&bytes.Buffer{}, table, readings.ExchangeHeader{})
	require.Error(t, err)
}

func TestRead(t *testing.T) {
	o := readings.Options{KnownPigments: shop()}
	for path, kind := range map[string]readings.Kind{
		"real_pigments/chips.csv": readings.ChipsKind, "real_pigments/mixtures.csv": readings.MixturesKind, "real_pigments/pigments.csv": readings.PigmentsKind,
		"gnumeric/chips.xlsx": readings.ChipsKind, "iso28178/pairs.txt": readings.SamplesKind, "iso17972/parts.cxf": readings.SamplesKind,
	} {
		f, err := readings.Read(openTest(t, path), o)
		require.NoError(t, err, path)
		require.Equal(t, kind, f.Kind, path)
		require.Equal(t, kind == readings.PigmentsKind, len(f.Pigments) > 0)
		require.Equal(t, kind != readings.PigmentsKind, len(f.Table.Rows) > 0)
	}
	_, err := readings.Read(strings.NewReader("x,y\n"), readings.Options{})
	require.Error(t, err)
}

// hasBoth tells whether some rows are spectra and others Lab.
func hasBoth(rows []readings.Row) bool {
	spectra := 0
	for _, r := range rows {
		if r.Spectrum != nil {
			spectra++
		}
	}
	return spectra > 0 && spectra < len(rows)
}

// TestReadingNotTakenIsLeftOut: others read a - in exchange text as 0.
func TestReadingNotTakenIsLeftOut(t *testing.T) {
	lab := func(l float64, c color.Condition) color.Lab { return color.Lab{L: l, Under: c} }
	a := color.Under(color.A, color.TenDegree)
	table := readings.Table{Rows: []readings.Row{
		{Name: "red", Labs: []color.Lab{lab(50, color.D65Ten()), lab(51, a)}},
		{Name: "half", Labs: []color.Lab{lab(40, color.D65Ten())}},
	}}
	var b bytes.Buffer
	leftOut, err := readings.WriteText(&b, table, readings.ExchangeHeader{})
	require.NoError(t, err)
	require.Equal(t, []string{"half"}, leftOut)
	require.NotContains(t, b.String(), "\t-")
	got, err := readings.Samples(&b, readings.Options{})
	require.NoError(t, err)
	require.Equal(t, table.Rows[0].Labs, got.Rows[0].Labs)
	require.Len(t, got.Rows, 1)
}

// TestWrittenXMLReadsBack: what ISO 17972-1 has a place for comes back, the rest
// is named.
func TestWrittenXMLReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := drawTable(t)
		var b bytes.Buffer
		lost, err := readings.WriteXML(&b, table, readings.ExchangeHeader{Originator: "a <bench>", Descriptor: "drawn", Created: "2026-02-03"})
		require.NoError(t, err)
		require.Equal(t, []string{"loadings", "backings", "castings", "thicknesses", "dates"}, lost)
		written := b.String()
		got, err := readings.Samples(&b, readings.Options{})
		require.NoError(t, err, written)
		require.Len(t, got.Rows, len(table.Rows))
		for i, r := range got.Rows {
			want := table.Rows[i]
			require.Equal(t, want.Name, r.Name)
			require.Equal(t, want.Labs, r.Labs)
			require.Equal(t, want.Spectrum, r.Spectrum)
			require.Equal(t, want.Measurement, r.Measurement)
			require.Equal(t, readings.Circumstances{Mode: want.Circumstances.Mode, Instrument: want.Circumstances.Instrument}, r.Circumstances)
		}
	})
}

// TestNothingReadIsNoText: in CSV a reading that was not taken is the dash that
// is read back, not a text that was made safe; a piece of that name is.
func TestNothingReadIsNoText(t *testing.T) {
	const file = "name,L_D65_10,a_D65_10,b_D65_10,L_A_10,a_A_10,b_A_10\nred,50,40,20,-,-,-\n'-,50,40,20,55,44,30\n"
	got, err := readings.Samples(strings.NewReader(file), readings.Options{})
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, readings.WriteCSV(&out, got))
	require.Equal(t, file, out.String())
}
