package workbench

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes/figure"
)

// fileOf is a file that holds a text.
func fileOf(name, text string) File { return File{Name: name, Data: strings.NewReader(text)} }

const (
	sampleFile = "name,L_D65,a_D65,b_D65,L_A,a_A,b_A\nlamp,50,1,1,51,2,3\nlamp,50.2,1,1,51.2,2,3\nseal,30,1,2,31,1,2\n"
	chipFile   = "chip,backing,thickness_mm,WH,L_D65,a_D65,b_D65\none,white,3,1,90,0,1\n"
	pasteFile  = "code,name,density,price_per_kg\nWH,white,1.9,12.5\n"
)

// TestFilesAreLookedAt: what a file holds is told, whether or not there is a
// bench to know the pigments; nothing is stored.
func TestFilesAreLookedAt(t *testing.T) {
	b, none := newBench(t), WithoutFile(Options{Program: "test"})
	for name, c := range map[string]struct {
		b        *Bench
		r        CheckFileRequest
		kind     readings.Kind
		lights   []string
		ways     []string
		pigments []string
		pieces   int
		cards    int
	}{
		"readings":         {b, CheckFileRequest{File: fileOf("f.csv", sampleFile)}, readings.SamplesKind, []string{"D65/10", "A/10"}, []string{NotSaid}, []string{}, 2, 0},
		"without a bench":  {none, CheckFileRequest{File: fileOf("f.csv", sampleFile)}, readings.SamplesKind, []string{"D65/10", "A/10"}, []string{NotSaid}, []string{}, 2, 0},
		"chips":            {b, CheckFileRequest{File: fileOf("f.csv", chipFile)}, readings.ChipsKind, []string{"D65/10"}, []string{NotSaid}, []string{"WH"}, 1, 0},
		"pigments told":    {none, CheckFileRequest{File: fileOf("f.csv", chipFile), Pigments: []string{"WH"}}, readings.ChipsKind, []string{"D65/10"}, []string{NotSaid}, []string{"WH"}, 1, 0},
		"pigments":         {none, CheckFileRequest{File: fileOf("f.csv", pasteFile)}, readings.PigmentsKind, []string{}, []string{}, []string{}, 0, 1},
		"the way is told":  {none, CheckFileRequest{File: withWay(fileOf("f.csv", sampleFile), color.Measurement{Specular: color.SpecularExcluded})}, readings.SamplesKind, []string{"D65/10", "A/10"}, []string{"d/8 specular excluded"}, []string{}, 2, 0},
		"45/0 leaves none": {none, CheckFileRequest{File: withWay(fileOf("f.csv", sampleFile), color.Measurement{Geometry: color.Directional})}, readings.SamplesKind, []string{"D65/10", "A/10"}, []string{"45/0 specular excluded"}, []string{}, 2, 0},
	} {
		t.Run(name, func(t *testing.T) {
			c.r.File.Options.Repeats = true
			v, err := CheckFile(t.Context(), c.b, c.r)
			require.NoError(t, err)
			assert.Equal(t, c.kind, v.Kind)
			assert.Equal(t, c.lights, v.Lights)
			assert.Equal(t, c.ways, v.Ways)
			assert.Equal(t, c.pigments, v.Pigments)
			assert.Len(t, v.Pieces, c.pieces)
			assert.Len(t, v.Cards, c.cards)
		})
	}
}

func withWay(f File, m color.Measurement) File {
	f.Options.Measurement = m
	return f
}

// TestRepeatsOfAFile: rows of one name are readings of one piece under each
// light, and the row that does not belong is named by its number among them.
func TestRepeatsOfAFile(t *testing.T) {
	text := "name,L_D65,a_D65,b_D65\nlamp,50,1,1\nseal,30,1,2\nlamp,50.1,1,1\nlamp,60,1,1\nlamp,50,1,1.1\nlamp,50.1,1,1\n"
	v, err := CheckFile(t.Context(), WithoutFile(Options{}), CheckFileRequest{File: fileOf("f.csv", text)})
	require.NoError(t, err)
	require.Len(t, v.Pieces, 2)
	lamp, seal := v.Pieces[0], v.Pieces[1]
	assert.Equal(t, 5, lamp.Readings)
	require.Len(t, lamp.Colors, 1)
	assert.Equal(t, 5, lamp.Colors[0].Readings)
	require.NotNil(t, lamp.Colors[0].Outlier)
	assert.Equal(t, 3, *lamp.Colors[0].Outlier)
	assert.InDelta(t, (50+50.1+60+50+50.1)/5, float64(lamp.Colors[0].Lab.L), 1e-9)
	assert.Equal(t, MeanReading{Under: "D65/10", Lab: figure.Lab{L: 30, A: 1, B: 2}, Readings: 1}, seal.Colors[0])
	assert.Equal(t, v.Warnings, texts(v.Remarks))
	require.Len(t, v.Warnings, 1)
	assert.Contains(t, v.Warnings[0], "f.csv:5: lamp: reading 3 of 5 does not belong")
}

func texts(all Remarks) []string {
	var out []string
	for _, r := range all {
		out = append(out, r.Text)
	}
	return out
}

// TestFilesAreConverted: what is written reads back as the same numbers, in
// either format.
func TestFilesAreConverted(t *testing.T) {
	none := WithoutFile(Options{Program: "test", Now: testClock(31)})
	for out, c := range map[string]struct{ to, format, starts string }{
		"r.csv": {"", CSVFormat, "name,"}, "r.TXT": {"", TextFormat, ""}, "-": {"csv", CSVFormat, "name,"}, "r.csv ": {"text", TextFormat, ""},
	} {
		t.Run(out+c.to, func(t *testing.T) {
			v, err := ConvertFile(t.Context(), none, ConvertFileRequest{File: fileOf("f.csv", sampleFile), Out: out, To: c.to})
			require.NoError(t, err)
			assert.Equal(t, c.format, v.Format)
			assert.Equal(t, 3, v.Rows)
			assert.True(t, strings.HasPrefix(string(v.Data), c.starts))
			was, err := CheckFile(t.Context(), none, CheckFileRequest{File: fileOf("f", sampleFile)})
			require.NoError(t, err)
			is, err := CheckFile(t.Context(), none, CheckFileRequest{File: fileOf("f", string(v.Data))})
			require.NoError(t, err)
			require.Len(t, is.Pieces, len(was.Pieces))
			for i := range is.Pieces {
				assert.Equal(t, was.Pieces[i].Colors, is.Pieces[i].Colors)
			}
			if c.format == TextFormat {
				assert.Contains(t, string(v.Data), "readings of f.csv")
				assert.Contains(t, string(v.Data), "2026-03-31")
			}
		})
	}
}

// TestChipsReadTwiceAreConverted: rows of one chip are all written.
func TestChipsReadTwiceAreConverted(t *testing.T) {
	v, err := ConvertFile(t.Context(), newBench(t), ConvertFileRequest{File: fileOf("f.csv", chipFile+"one,white,3,1,90.1,0,1\n"), Out: "r.csv"})
	require.NoError(t, err)
	assert.Equal(t, readings.ChipsKind, v.Kind)
	assert.Equal(t, 2, v.Rows)
}

// TestFilesAreRefused: what is wrong with a request or a file is said in its
// place.
func TestFilesAreRefused(t *testing.T) {
	none := WithoutFile(Options{})
	check := func(f File) error { return errOf(CheckFile(t.Context(), none, CheckFileRequest{File: f})) }
	convert := func(f File, out, to string) error {
		return errOf(ConvertFile(t.Context(), none, ConvertFileRequest{File: f, Out: out, To: to}))
	}
	for name, c := range map[string]struct {
		err     error
		kind    Kind
		problem string
	}{
		"empty":           {check(fileOf("f.csv", "")), Failed, "is empty"},
		"unknown columns": {check(fileOf("f.csv", "mix,WH,RD\na,1,2\n")), Failed, "f.csv:1: column WH: is unknown; a pigment? say ⟦pigments=WH,RD⟧; else"},
		"no such way":     {check(withWay(fileOf("f.csv", sampleFile), color.Measurement{Geometry: color.Directional, Specular: color.SpecularIncluded})), Invalid, "45/0 cannot include"},
		"which format":    {convert(fileOf("f.csv", sampleFile), "r.xls", ""), Invalid, "r.xls: which format?"},
		"other format":    {convert(fileOf("f.csv", sampleFile), "r.csv", "xml"), Invalid, "⟦to=xml⟧: is no format"},
		"pigment list":    {convert(fileOf("f.csv", pasteFile), "r.csv", ""), Failed, "f.csv: is a pigment list"},
	} {
		t.Run(name, func(t *testing.T) {
			require.Error(t, c.err)
			assert.Equal(t, c.kind, KindOf(c.err))
			assert.ErrorContains(t, c.err, c.problem)
		})
	}
}
