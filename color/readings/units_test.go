package readings_test

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"masstone/color"
	"masstone/color/readings"
)

// bandsRow is a row of 16 cells of one text behind a name.
func bandsRow(name, cell string) string { return name + strings.Repeat(","+cell, 16) + "\n" }

func bandsHeader() string {
	h := "name"
	for nm := 400; nm <= 700; nm += 20 {
		h += ",R" + string(rune('0'+nm/100)) + string(rune('0'+nm/10%10)) + "0"
	}
	return h + "\n"
}

// A row of units and percent signs say that dark values are percent.
func TestUnitsAreStated(t *testing.T) {
	for name, data := range map[string]string{
		"row of units":  bandsHeader() + bandsRow("", "%") + bandsRow("black", "0.5"),
		"in brackets":   bandsHeader() + bandsRow("[unit]", "[%]") + bandsRow("black", "0.5"),
		"percent signs": bandsHeader() + bandsRow("black", "0.5%"),
		"with a blank":  bandsHeader() + bandsRow("black", "0.5 %"),
	} {
		got, err := readings.Samples(strings.NewReader(data), readings.Options{})
		require.NoError(t, err, name)
		require.Len(t, got.Rows, 1, name)
		assert.InDelta(t, 0.005, got.Rows[0].Spectrum.R[3], 1e-12, name)
	}
	// Units the columns are not read in are not put aside.
	_, err := readings.Samples(strings.NewReader("name,thickness_mm,L_D65,a_D65,b_D65\n,in,,,\nred,3,50,40,20\n"), readings.Options{})
	require.Error(t, err)
}

const oneRed = "name,D65LAB_L,D65LAB_A,D65LAB_B\nred,50,40,20\n"

// Texts without a byte-order mark, with the line ends of old programs, and with
// the light before LAB in the header.
func TestOldTexts(t *testing.T) {
	units := utf16.Encode([]rune(oneRed))
	for name, data := range map[string][]byte{
		"plain":                []byte(oneRed),
		"CR":                   []byte(strings.ReplaceAll(oneRed, "\n", "\r")),
		"CR LF":                []byte(strings.ReplaceAll(oneRed, "\n", "\r\n")),
		"UTF-16 little-endian": wide(units, binary.LittleEndian),
		"UTF-16 big-endian":    wide(units, binary.BigEndian),
	} {
		got, err := readings.Samples(bytes.NewReader(data), readings.Options{})
		require.NoError(t, err, name)
		require.Len(t, got.Rows, 1, name)
		assert.Equal(t, color.Lab{L: 50, A: 40, B: 20, Under: color.D65Ten()}, got.Rows[0].Labs[0], name)
	}
}

func wide(units []uint16, order binary.AppendByteOrder) []byte {
	var out []byte
	for _, u := range units {
		out = order.AppendUint16(out, u)
	}
	return out
}

// TestNamesStayText: a name that a spreadsheet would compute is written with an
// apostrophe before it, and read back without.
func TestNamesStayText(t *testing.T) {
	for _, name := range []string{"=1+1", "+red", "-red", "@red", "'=red", "'red"} {
		row := readings.Row{Name: name, Labs: []color.Lab{{L: 50, Under: color.D65Ten()}}}
		var b bytes.Buffer
		require.NoError(t, readings.WriteCSV(&b, readings.Table{Rows: []readings.Row{row}}))
		line := strings.Split(b.String(), "\n")[1]
		assert.False(t, strings.ContainsAny(line[:1], "=+-@\t"), line)
		got, err := readings.Samples(&b, readings.Options{})
		require.NoError(t, err, name)
		assert.Equal(t, name, got.Rows[0].Name)
	}
}

// book is a workbook of rows.
func book(t testing.TB, rows [][]any, change func(*excelize.File)) *bytes.Buffer {
	t.Helper()
	f := excelize.NewFile()
	for i, row := range rows {
		cell, err := excelize.CoordinatesToCellName(1, i+1)
		require.NoError(t, err)
		require.NoError(t, f.SetSheetRow("Sheet1", cell, &row))
	}
	if change != nil {
		change(f)
	}
	var b bytes.Buffer
	require.NoError(t, f.Write(&b))
	return &b
}

// A light in merged cells above L*, a*, b* is that of all three.
func TestLightsInMergedCells(t *testing.T) {
	rows := [][]any{{"", "D65/10", "", "", "A/10", "", ""}, {"Name", "L*", "a*", "b*", "L*", "a*", "b*"}, {"red", 50, 40, 20, 55, 42, 25}}
	merge := func(f *excelize.File) {
		require.NoError(t, f.MergeCell("Sheet1", "B1", "D1"))
		require.NoError(t, f.MergeCell("Sheet1", "E1", "G1"))
	}
	want := []color.Lab{{L: 50, A: 40, B: 20, Under: color.D65Ten()}, {L: 55, A: 42, B: 25, Under: color.Under(color.A, color.TenDegree)}}
	got, err := readings.Samples(book(t, rows, merge), readings.Options{})
	require.NoError(t, err)
	assert.Equal(t, want, got.Rows[0].Labs)
	got, err = readings.Samples(strings.NewReader(",D65/10,,,A/10,,\nName,L*,a*,b*,L*,a*,b*\nred,50,40,20,55,42,25\n"), readings.Options{})
	require.NoError(t, err)
	assert.Equal(t, want, got.Rows[0].Labs)
	got, err = readings.Samples(strings.NewReader("Illuminant,D50\nName,L*,a*,b*\nred,50,40,20\n"), readings.Options{})
	require.NoError(t, err)
	assert.Equal(t, color.D50, got.Rows[0].Labs[0].Under.Illuminant, "a statement is none")
}

// Formulas that were never calculated have no value; saved by a spreadsheet they
// have.
func TestFormulasNeverCalculated(t *testing.T) {
	rows := [][]any{{"name", "L_D65", "a_D65", "b_D65"}, {"red", nil, 40, 20}}
	formula := func(f *excelize.File) { require.NoError(t, f.SetCellFormula("Sheet1", "B2", "AVERAGE(49,51)")) }
	_, err := readings.Samples(book(t, rows, formula), readings.Options{File: "f"})
	require.EqualError(t, err, "f:2: cell B2 holds the formula =AVERAGE(49,51), which was never calculated; open the file in a spreadsheet and save it again")
	rows[1][1] = 50 // as the spreadsheet saves it beside the formula
	got, err := readings.Samples(book(t, rows, nil), readings.Options{})
	require.NoError(t, err)
	assert.EqualValues(t, 50, got.Rows[0].Labs[0].L)
}

// Day 46057 of a workbook is 4 February 2026 (ECMA-376-1, 18.17.4.1).
func TestNamesThatBecameDates(t *testing.T) {
	rows := [][]any{{"name", "L_D65", "a_D65", "b_D65"}, {46057, 50, 40, 20}, {"46057", 50.5, 40, 20}}
	dated := func(f *excelize.File) {
		id, err := f.NewStyle(&excelize.Style{NumFmt: 16})
		require.NoError(t, err)
		require.NoError(t, f.SetCellStyle("Sheet1", "A2", "A2", id))
	}
	got, err := readings.Samples(book(t, rows, dated), readings.Options{})
	require.NoError(t, err)
	assert.Equal(t, "2026-02-04", got.Rows[0].Name)
	assert.Equal(t, "46057", got.Rows[1].Name)
	assert.Contains(t, got.Notes[0], "dates in the workbook: 2026-02-04 (A2); a name that the spreadsheet took for one must be typed again in a cell formatted as text")
}

// XYZ and LCh are read where no Lab stands beside them. The white of D65/10 is
// that of ASTM E308 (94.811, 100, 107.304), which gives L* 100 and no chroma; a
// chroma of 50 at 36.87 degrees is a* 40, b* 30 (3:4:5).
func TestOtherSpaces(t *testing.T) {
	for header, c := range map[string]struct {
		cells string
		want  [3]float64
	}{
		"name,X_D65_10,Y_D65_10,Z_D65_10":      {"94.811,100,107.304", [3]float64{100, 0, 0}},
		"name,XYZ_X,XYZ_Y,XYZ_Z,illuminant":    {"94.811,100,107.304,D65", [3]float64{100, 0, 0}},
		"name,L*(D65/10),C*(D65/10),h(D65/10)": {"60,50,36.869898", [3]float64{60, 40, 30}},
		"name,L_D65,a_D65,b_D65,C*,h,X,Y,Z":    {"60,40,30,1,1,1,1,1", [3]float64{60, 40, 30}},
		"name,LCH_L,LCH_C,LCH_H,illuminant":    {"60,50,36.869898,D65", [3]float64{60, 40, 30}},
	} {
		got, err := readings.Samples(strings.NewReader(header+"\nred,"+c.cells+"\n"), readings.Options{})
		require.NoError(t, err, header)
		lab := got.Rows[0].Labs[0]
		assert.Equal(t, color.D65Ten(), lab.Under, header)
		for axis, want := range c.want {
			assert.InDelta(t, want, lab.Values()[axis], 0.01, header)
		}
	}
	_, err := readings.Samples(strings.NewReader("name,X_D65,Y_D65,Z_D65\nred,0.4,0.3,0.2\n"), readings.Options{File: "f"})
	require.EqualError(t, err, "f:1: column Y_D65: is nowhere above 1.2; X, Y, Z are read with Y 100 for white; multiply those that run to 1 by 100, or export Lab")
	_, err = readings.Samples(strings.NewReader("name,X_D65,Y_D65,Z_D65\nred,40,30,20\n"), readings.Options{File: "f"})
	require.NoError(t, err)
}

// Tables drawn in text: between bars, aligned by blanks, with one blank between
// words.
func TestDrawnTables(t *testing.T) {
	for name, text := range map[string]string{
		"bars":         "| name     | L_D65 | a_D65 | b_D65 |\n|----------|------:|------:|------:|\n| dark red | 50.5  | 40    | 20    |\n",
		"bars inside":  " name     | L_D65 | a_D65 | b_D65\n----------+-------+-------+-------\n dark red |  50.5 |    40 |    20\n",
		"blanks":       "name      L_D65  a_D65  b_D65\ndark red   50.5     40     20\n",
		"comma, blank": "name      L_D65  a_D65  b_D65\ndark red   50,5   40,0   20,0\n",
		"one blank":    "name L_D65 a_D65 b_D65\ndarkred 50.5 40 20\n",
	} {
		got, err := readings.Samples(strings.NewReader(text), readings.Options{})
		require.NoError(t, err, name)
		require.Len(t, got.Rows, 1, name)
		assert.Equal(t, color.Lab{L: 50.5, A: 40, B: 20, Under: color.D65Ten()}, got.Rows[0].Labs[0], name)
		assert.Equal(t, "darkred", strings.ReplaceAll(got.Rows[0].Name, " ", ""), name)
	}
}

// Bands of 1 nm are read; those of 20 nm with a warning.
func TestFineAndCoarseBands(t *testing.T) {
	header, cells := "name", "grey"
	for nm := 380; nm <= 730; nm++ {
		header += fmt.Sprintf(",%d", nm)
		cells += ",0.05"
	}
	got, err := readings.Samples(strings.NewReader(header+"\n"+cells+"\n"), readings.Options{})
	require.NoError(t, err)
	assert.Empty(t, got.Warnings)
	lab, err := got.Rows[0].Spectrum.Lab(color.Under(color.FL11, color.TenDegree))
	require.NoError(t, err)
	assert.InDelta(t, 26.73, lab.L, 0.01) // 116 0.05^(1/3) - 16, ISO/CIE 11664-4
	r, err := got.Rows[0].Spectrum.Reflectance()
	require.NoError(t, err)
	assert.Equal(t, 0.05, r[30])

	got, err = readings.Samples(strings.NewReader(bandsHeader()+bandsRow("grey", "0.05")), readings.Options{File: "f"})
	require.NoError(t, err)
	require.Len(t, got.Warnings, 1)
	assert.Contains(t, got.Warnings[0].Error(), "f:1: bands 20 nm apart")
}

// TestCoarseBandsUnderLamps: real paints (testdata/real_pigments), every second
// band left out, under the lamp with the sharpest lines.
func TestCoarseBandsUnderLamps(t *testing.T) {
	worst := map[color.Illuminant]float64{}
	for _, r := range realChips(t).Rows {
		coarse := color.Spectrum{FirstNM: r.Spectrum.FirstNM, StepNM: 20}
		for i := 0; i < len(r.Spectrum.R); i += 2 {
			coarse.R = append(coarse.R, r.Spectrum.R[i])
		}
		for _, light := range []color.Illuminant{color.D65, color.FL11} {
			c := color.Under(light, color.TenDegree)
			fine, err := r.Spectrum.Lab(c)
			require.NoError(t, err)
			lab, err := coarse.Lab(c)
			require.NoError(t, err)
			de, err := fine.DeltaE00(lab)
			require.NoError(t, err)
			worst[light] = max(worst[light], de)
		}
	}
	assert.Less(t, worst[color.D65], 0.5)
	assert.Greater(t, worst[color.FL11], 1.0)
	assert.Less(t, worst[color.FL11], 3.0, "as the warning says")
}

// Tables whose readings stand in columns.
func TestReadingsInColumns(t *testing.T) {
	bands := "Wavelength,grey,black\n"
	for nm := 400; nm <= 700; nm += 10 {
		bands += fmt.Sprintf("%d,0.5,0.05\n", nm)
	}
	for name, c := range map[string]struct {
		text string
		want []string
		at   color.Condition
	}{
		"Lab":       {"name,red,green\nL_D65,50,52\na_D65,40,-30\nb_D65,20,21\n", []string{"red", "green"}, color.D65Ten()},
		"no corner": {",red,green\nL_D65,50,52\na_D65,40,-30\nb_D65,20,21\n", []string{"red", "green"}, color.D65Ten()},
		"stated":    {"Illuminant,D50\n,red,green\nL*,50,52\na*,40,-30\nb*,20,21\n", []string{"red", "green"}, color.Under(color.D50, color.TenDegree)},
		"bands":     {bands, []string{"grey", "black"}, color.Condition{}},
	} {
		got, err := readings.Samples(strings.NewReader(c.text), readings.Options{})
		require.NoError(t, err, name)
		var names []string
		for _, r := range got.Rows {
			names = append(names, r.Name)
		}
		assert.Equal(t, c.want, names, name)
		if c.at.Illuminant == "" {
			assert.Equal(t, 0.05, got.Rows[1].Spectrum.R[30], name)
			continue
		}
		assert.Equal(t, color.Lab{L: 52, A: -30, B: 21, Under: c.at}, got.Rows[1].Labs[0], name)
		assert.Contains(t, got.Notes, "the readings stand in columns; lines in messages are their columns", name)
	}
}

// ods is an OpenDocument spreadsheet as ISO/IEC 26300-3 packs it, around rows of
// its content.
func ods(t testing.TB, rows string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	w, err := z.CreateHeader(&zip.FileHeader{Name: "mimetype", Method: zip.Store})
	require.NoError(t, err)
	_, err = w.Write([]byte("application/vnd.oasis.opendocument.spreadsheet"))
	require.NoError(t, err)
	w, err = z.Create("content.xml")
	require.NoError(t, err)
	_, err = w.Write([]byte(`<?xml version="1.0" encoding="UTF-8"?><office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"><office:body><office:spreadsheet><table:table table:name="Sheet1">` + rows + `</table:table></office:spreadsheet></office:body></office:document-content>`))
	require.NoError(t, err)
	require.NoError(t, z.Close())
	return b.Bytes()
}

const (
	odsHead = `<table:table-row><table:table-cell office:value-type="string"><text:p>name</text:p></table:table-cell><table:table-cell office:value-type="string"><text:p>L_D65</text:p></table:table-cell><table:table-cell office:value-type="string"><text:p>a_D65</text:p></table:table-cell><table:table-cell office:value-type="string"><text:p>b_D65</text:p></table:table-cell><table:table-cell table:number-columns-repeated="16380"/></table:table-row>`
	odsRow  = `<table:table-row><table:table-cell office:value-type="string"><text:p>red</text:p></table:table-cell><table:table-cell office:value-type="float" office:value="50.25"><text:p>50,3</text:p></table:table-cell><table:table-cell table:number-columns-repeated="2" office:value-type="float" office:value="20"><text:p>20</text:p></table:table-cell></table:table-row>`
	odsEnd  = `<table:table-row table:number-rows-repeated="1048000"><table:table-cell table:number-columns-repeated="16384"/></table:table-row>`
)

// Workbooks of the open format: values as stored, not as shown.
func TestODS(t *testing.T) {
	got, err := readings.Samples(bytes.NewReader(ods(t, odsHead+odsRow+odsEnd)), readings.Options{})
	require.NoError(t, err)
	require.Len(t, got.Rows, 1)
	assert.Equal(t, color.Lab{L: 50.25, A: 20, B: 20, Under: color.D65Ten()}, got.Rows[0].Labs[0])
	assert.Equal(t, 2, got.Rows[0].Line)
	for rows, want := range map[string]string{
		"": "f: holds no rows",
		odsHead + strings.Replace(odsRow, ` office:value-type="float" office:value="50.25"><text:p>50,3</text:p>`, ` table:formula="of:=[.A1]"><text:p/>`, 1): "f:2: a formula was never calculated; open the file in a spreadsheet and save it again",
		odsHead + strings.Replace(odsRow, "<table:table-row>", `<table:table-row table:number-rows-repeated="1048000">`, 1):                                   "f:2: more than 100000 rows",
	} {
		_, err := readings.Samples(bytes.NewReader(ods(t, rows)), readings.Options{File: "f"})
		require.ErrorContains(t, err, want)
	}
}
