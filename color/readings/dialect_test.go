package readings_test

import (
	"bytes"
	"encoding/binary"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/require"

	"masstone/color"
	"masstone/color/readings"
)

func utf16Text(s string, order binary.ByteOrder) string {
	var b bytes.Buffer
	_ = binary.Write(&b, order, append([]uint16{0xFEFF}, utf16.Encode([]rune(s))...))
	return b.String()
}

// The same two chips in every layout that can be told apart by itself.
func TestLayoutsAreDetected(t *testing.T) {
	want := []color.Lab{{L: 50.5, A: -1.25, B: 3, Under: color.D65Ten()}, {L: 61, A: 2.5, B: 4.75, Under: color.D65Ten()}}
	semicolons := "chip;backing;thickness_mm;WH;L_D65;a_D65;b_D65\nA;white;3,0;1;50,5;-1,25;3\nB;white;3,0;0,5;61;2,5;4,75\n"
	points := "chip,backing,thickness_mm,WH,L_D65,a_D65,b_D65\nA,white,3.0,1,50.5,-1.25,3\nB,white,3.0,0.5,61,2.5,4.75\n"
	tabs := strings.ReplaceAll(points, ",", "\t")
	for name, c := range map[string]struct{ data, note string }{
		"comma":               {points, "2 chips; comma-separated; decimal point; Lab under D65/10"},
		"semicolon":           {semicolons, "2 chips; semicolon-separated; decimal comma; Lab under D65/10"},
		"semicolon and point": {strings.ReplaceAll(points, ",", ";"), "2 chips; semicolon-separated; decimal point; Lab under D65/10"},
		"tab":                 {tabs, "2 chips; tab-separated; decimal point; Lab under D65/10"},
		"tab and comma":       {strings.ReplaceAll(semicolons, ";", "\t"), "2 chips; tab-separated; decimal comma; Lab under D65/10"},
		"byte-order mark":     {"\uFEFF" + semicolons, "2 chips; UTF-8 with byte-order mark, semicolon-separated; decimal comma; Lab under D65/10"},
		"UTF-16LE":            {utf16Text(tabs, binary.LittleEndian), "2 chips; UTF-16, tab-separated; decimal point; Lab under D65/10"},
		"UTF-16BE":            {utf16Text(tabs, binary.BigEndian), "2 chips; UTF-16, tab-separated; decimal point; Lab under D65/10"},
		"Windows line ends":   {strings.ReplaceAll(points, "\n", "\r\n"), "2 chips; comma-separated; decimal point; Lab under D65/10"},
		"sep line":            {"sep=;\n" + semicolons, "2 chips; semicolon-separated; decimal comma; Lab under D65/10"},
		"blank lines":         {"\n" + points + ",,,,,,\n\n", "2 chips; comma-separated; decimal point; Lab under D65/10"},
		"comments":            {"# read on Monday\n" + points + "# end\n", "2 chips; comma-separated; decimal point; Lab under D65/10"},
		"Windows-1252": {strings.Replace(semicolons, "L_D65;a_D65;b_D65", "L*(10\xB0/D65);a*(10\xB0/D65);b*(10\xB0/D65)", 1),
			"2 chips; Windows-1252 text, semicolon-separated; decimal comma; Lab under D65/10"},
		"minus sign":   {strings.Replace(points, "-1.25", "\u22121.25", 1), "2 chips; comma-separated; decimal point; Lab under D65/10"},
		"quoted cells": {strings.Replace(points, "A,white", `"A","white"`, 1), "2 chips; comma-separated; decimal point; Lab under D65/10"},
	} {
		table, err := readings.Chips(strings.NewReader(c.data), readings.Options{KnownPigments: shop()})
		require.NoError(t, err, name)
		require.Equal(t, c.note, table.Notes[0], name)
		require.Equal(t, []color.Lab{table.Rows[0].Labs[0], table.Rows[1].Labs[0]}, want, name)
		require.Equal(t, map[string]float64{"WH": 0.5}, table.Rows[1].Loadings, name)
	}
}

func TestLinesAboveTheHeader(t *testing.T) {
	table, err := readings.Samples(strings.NewReader("Instrument;bench 1\nRead by;M.\n\nName;L*(D65/10);a*(D65/10);b*(D65/10)\nA;50,5;1;2\n"), readings.Options{})
	require.NoError(t, err)
	require.Equal(t, 5, table.Rows[0].Line)
	require.Contains(t, table.Notes, "the header is taken from line 4; not used of what stands above it: Read by, M.")
}

// What the file cannot settle is refused, and the line names the flag.
func TestAmbiguousLayoutsAreRefused(t *testing.T) {
	header := "chip;backing;thickness_mm;WH;L_D65;a_D65;b_D65\n"
	for _, c := range []struct {
		name, data, want string
		settle           readings.Options
	}{
		{"decimal marks", header + "A;white;3.5;1;50,5;1;2\n", "decimal commas here and decimal points elsewhere (1 cells against 1); settle it with ⟦decimal=,⟧ or ⟦decimal=.⟧", readings.Options{}},
		{"separators", "foo,x;bar,q\nQ,1;white,2\n", "cells may be separated by semicolon or by comma; settle it with ⟦separator⟧", readings.Options{}},
		{"percent", spectra("0.5", "62"), "the spectra of 1 rows look like percent, those of 1 like fractions; settle it with ⟦percent⟧ or ⟦percent=false⟧", readings.Options{}},
	} {
		_, err := readings.Samples(strings.NewReader(c.data), readings.Options{File: "f"})
		require.ErrorContains(t, err, c.want, c.name)
	}
	_, err := readings.Pigments(strings.NewReader("code;stock_g\nWH;1,250\nRD;2,500\n"), readings.Options{})
	require.ErrorContains(t, err, "may be a decimal mark or a group of thousands; settle it with ⟦decimal=,⟧")
	list, err := readings.Pigments(strings.NewReader("code;stock_g\nWH;1,250\nRD;2,500\n"), readings.Options{Decimal: ','})
	require.NoError(t, err)
	require.Equal(t, 1.25, *list[0].StockG)
}

// One mark that is rarer than one in twenty is a slip, and its cell's error; one
// that is not leaves the file undecided.
func TestRareDecimalMarkIsACellError(t *testing.T) {
	for _, c := range []struct {
		slip, mark string
		others     int // cells with the other mark
		want       string
	}{
		{"50,5", ".", 21, `f:2: Z: column L_D65: "50,5" is not a number; a decimal comma? write a point, or say ⟦decimal=,⟧`},
		{"50,5", ".", 20, `f:2: column L_D65: decimal commas here and decimal points elsewhere (1 cells against 20); settle it with ⟦decimal=,⟧ or ⟦decimal=.⟧ and mend the others`},
		{"50.5", ",", 21, `f:2: Z: column L_D65: "50.5" is not a number; a decimal point? write a comma, or say ⟦decimal=.⟧`},
		{"50.5", ",", 20, `f:3: column L_D65: decimal commas here and decimal points elsewhere (20 cells against 1); settle it with ⟦decimal=,⟧ or ⟦decimal=.⟧ and mend the others`},
	} {
		data := "name;L_D65;a_D65;b_D65\nZ;" + c.slip + ";1;2\n" + strings.Repeat("A;50"+c.mark+"5;1;2\n", c.others)
		_, err := readings.Samples(strings.NewReader(data), readings.Options{File: "f"})
		require.EqualError(t, err, c.want)
	}
}

// spectra makes a file of flat 10 nm spectra.
func spectra(values ...string) string {
	var b strings.Builder
	b.WriteString("name")
	for nm := 400; nm <= 700; nm += 10 {
		b.WriteString(";R" + string('0'+rune(nm/100)) + string('0'+rune(nm/10%10)) + "0")
	}
	for i, v := range values {
		b.WriteString("\nS" + string('a'+rune(i)) + strings.Repeat(";"+v, 31))
	}
	return b.String() + "\n"
}

func TestPercent(t *testing.T) {
	yes, no := true, false
	for _, c := range []struct {
		data   string
		say    *bool
		want   float64
		refuse string
	}{
		{data: spectra("0.62", "0.05"), want: 0.62}, // nothing is as dark as 0.05 %
		{data: spectra("0.62", "0.3"), refuse: "light pieces in fractions or of blacks in percent; settle it with ⟦percent=false⟧ or ⟦percent⟧"},
		{data: spectra("0.62", "0.3"), say: &no, want: 0.62},
		{data: spectra("0.62", "0.3"), say: &yes, want: 0.0062},
		{data: spectra("62", "30"), want: 0.62},
		{data: spectra("62", "0.9"), say: &yes, want: 0.62},
		{data: spectra("1.1", "0.9"), say: &no, want: 1.1},
		{data: spectra("1.1", "0.9"), say: &yes, want: 0.011},
		{data: spectra("62"), say: &no, refuse: "reflectance 62 at 400 nm is above 1.2; percent file? say ⟦percent⟧"},
		{data: strings.ReplaceAll(spectra("1.1"), "R", "%R"), want: 0.011},
	} {
		table, err := readings.Samples(strings.NewReader(c.data), readings.Options{Percent: c.say})
		if c.refuse != "" {
			require.ErrorContains(t, err, c.refuse)
			continue
		}
		require.NoError(t, err)
		require.InDelta(t, c.want, table.Rows[0].Spectrum.R[7], 1e-15)
	}
}

func TestOneSlippedBandIsACellError(t *testing.T) {
	data := strings.Replace(spectra("0.62", "0.3"), "0.62;0.62;0.62", "0.62;62;0.62", 1)
	_, err := readings.Samples(strings.NewReader(data), readings.Options{File: "f"})
	require.EqualError(t, err, "f:2: Sa: column R410: reflectance 62 at 410 nm is above 1.2; percent file? say ⟦percent⟧")
}

func TestOptionsSettleTheLayout(t *testing.T) {
	table, err := readings.Samples(strings.NewReader("name|L|a|b\nA|50,5|1|2\n"), readings.Options{Separator: '|', Decimal: ',', Condition: color.Under(color.D50, 2)})
	require.NoError(t, err)
	require.Equal(t, color.Lab{L: 50.5, A: 1, B: 2, Under: color.Under(color.D50, 2)}, table.Rows[0].Labs[0])
	_, err = readings.Samples(strings.NewReader("name|L\n"), readings.Options{File: "f", Separator: '"'})
	require.EqualError(t, err, `f: '"' cannot separate cells; use , ; or tab`)
	_, err = readings.Samples(strings.NewReader("name;L_A;a_A;b_A\nA;1;2;3\n"), readings.Options{File: "f", Decimal: '\''})
	require.ErrorContains(t, err, "is no decimal mark; use ⟦decimal=.⟧ or ⟦decimal=,⟧")
}
