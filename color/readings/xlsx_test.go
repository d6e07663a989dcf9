package readings_test

import (
	"archive/zip"
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"masstone/color"
	"masstone/color/readings"
)

// workbook makes an XLSX of one or more worksheets.
func workbook(t testing.TB, sheets map[string][][]any) []byte {
	t.Helper()
	f := excelize.NewFile()
	for name, rows := range sheets {
		_, err := f.NewSheet(name)
		require.NoError(t, err)
		for i, row := range rows {
			cell, err := excelize.CoordinatesToCellName(1, i+1)
			require.NoError(t, err)
			require.NoError(t, f.SetSheetRow(name, cell, &row))
		}
	}
	require.NoError(t, f.DeleteSheet("Sheet1"))
	var b bytes.Buffer
	require.NoError(t, f.Write(&b))
	return b.Bytes()
}

func header(names string) []any {
	var out []any
	for _, n := range strings.Fields(names) {
		out = append(out, n)
	}
	return out
}

func TestWorkbook(t *testing.T) {
	rows := [][]any{{"# read on Monday"}, {}, header("chip backing thickness_mm WH L_D65 a_D65 b_D65 note"), {"A", "white", 3, 1.5, 50.25, -1, "2,5", "first"}, {"B", "white", 3, 0, 60, 1, 2, "second"}}
	data := workbook(t, map[string][][]any{"chips": rows})
	table, err := readings.Chips(bytes.NewReader(data), readings.Options{File: "w.xlsx", KnownPigments: shop(), Decimal: '.'})
	require.EqualError(t, err, `w.xlsx:4: A: column b_D65: "2,5" is not a number; a decimal comma? write a point, or say ⟦decimal=,⟧`)
	require.Zero(t, table)

	rows[3][6] = 2.5
	data = workbook(t, map[string][][]any{"chips": rows})
	table, err = readings.Chips(bytes.NewReader(data), readings.Options{KnownPigments: shop()})
	require.NoError(t, err)
	require.Equal(t, "2 chips; worksheet chips; Lab under D65/10", table.Notes[0])
	require.Equal(t, color.Lab{L: 50.25, A: -1, B: 2.5, Under: color.D65Ten()}, table.Rows[0].Labs[0])
	require.Equal(t, 4, table.Rows[0].Line)

	// A row that stops early has empty cells, not a missing end.
	rows[4] = []any{"B", "white", 3, 0, 60}
	data = workbook(t, map[string][][]any{"chips": rows})
	_, err = readings.Chips(bytes.NewReader(data), readings.Options{File: "w.xlsx", KnownPigments: shop()})
	require.ErrorContains(t, err, "w.xlsx:5: B: column a_D65: is empty")
}

func TestWorksheets(t *testing.T) {
	rows := [][]any{header("name L_D65 a_D65 b_D65"), {"A", 50.5, 1, 2}}
	data := workbook(t, map[string][][]any{"parts": rows, "other": {{"x"}}})
	_, err := readings.Samples(bytes.NewReader(data), readings.Options{File: "w.xlsx"})
	require.ErrorContains(t, err, "w.xlsx: has 2 worksheets; settle it with ⟦sheet⟧: ")
	table, err := readings.Samples(bytes.NewReader(data), readings.Options{Sheet: "Parts"})
	require.NoError(t, err)
	require.Len(t, table.Rows, 1)
	_, err = readings.Samples(bytes.NewReader(data), readings.Options{File: "w.xlsx", Sheet: "chips"})
	require.ErrorContains(t, err, `has no worksheet "chips"; it has `)
}

// zipped makes a workbook of one hostile worksheet.
func zipped(t testing.TB, parts map[string]string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for name, body := range parts {
		w, err := z.Create(name)
		require.NoError(t, err)
		_, err = w.Write([]byte(body))
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	return b.Bytes()
}

func hostileWorkbooks(t testing.TB) map[string][]byte {
	sheet := "xl/worksheets/sheet1.xml"
	return map[string][]byte{
		"unpacks to more than 64 MB":        zipped(t, map[string]string{sheet: "<worksheet>" + strings.Repeat("<!-- "+strings.Repeat(" ", 1000)+" -->", 70_000)}),
		"has a text longer than a megabyte": zipped(t, map[string]string{sheet: "<worksheet>" + strings.Repeat(" ", 2<<20)}),
		"has a tag too long":                zipped(t, map[string]string{sheet: "<worksheet " + strings.Repeat(`a=">" `, 100_000) + ">"}),
		"has more cells or parts":           zipped(t, map[string]string{"xl/sharedStrings.xml": "<sst>" + strings.Repeat("<si/>", 1_100_000)}),
		"is written in UTF-16":              zipped(t, map[string]string{sheet: "\xFF\xFE<\x00"}),
		"is no readable workbook":           zipped(t, map[string]string{"hello.txt": "hello"}),
		"is no readable workbook; export":   []byte("PK\x03\x04"),
		"has too many parts":                zipped(t, manyParts(10_001)),
		"is a damaged workbook; export":     damaged(t),
	}
}

func manyParts(n int) map[string]string {
	parts := map[string]string{}
	for i := range n {
		parts[fmt.Sprintf("part%d.xml", i)] = ""
	}
	return parts
}

// damaged flips bytes within the compressed part.
func damaged(t testing.TB) []byte {
	data := zipped(t, map[string]string{"xl/worksheets/sheet1.xml": strings.Repeat("<worksheet/>", 2000)})
	for i := 60; i < 80; i++ {
		data[i] ^= 0xFF
	}
	return data
}

func TestHostileWorkbooks(t *testing.T) {
	if testing.Short() || raced {
		t.Skip("unpacks hundreds of megabytes")
	}
	for want, data := range hostileWorkbooks(t) {
		_, err := readings.Samples(bytes.NewReader(data), readings.Options{File: "w.xlsx"})
		require.ErrorContains(t, err, "w.xlsx: "+want)
		require.Len(t, strings.Split(err.Error(), "\n"), 1)
	}
}
