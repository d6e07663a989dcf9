package readings_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/color"
	"masstone/color/readings"
)

func TestPieces(t *testing.T) {
	data := "name;L_D65;a_D65;b_D65;L_A;a_A;b_A\n" +
		"Lamp;50.0;10.0;20.0;51;12;22\nLamp;50.2;10.0;20.0;51;12;22\nSeal;30;1;2;31;1;2\nLamp;50.1;10.3;20.0;51;12;22.3\n"
	table, err := readings.Samples(strings.NewReader(data), readings.Options{})
	require.NoError(t, err)
	pieces, err := readings.Pieces("f", table.Rows)
	require.NoError(t, err)
	require.Len(t, pieces, 2)
	lamp := pieces[0]
	require.Equal(t, "Lamp", lamp.Name)
	require.Len(t, lamp.Readings, 3)
	require.Len(t, lamp.Labs, 2)
	require.InDelta(t, 50.1, lamp.Labs[0].L, 1e-12)
	require.InDelta(t, 10.1, lamp.Labs[0].A, 1e-12)
	require.InDelta(t, 22.1, lamp.Labs[1].B, 1e-12)
	mcdm := 0.0
	for _, l := range []color.Lab{table.Rows[0].Labs[0], table.Rows[1].Labs[0], table.Rows[3].Labs[0]} {
		mcdm += color.Delta00(lamp.Labs[0].Values(), l.Values()) / 3
	}
	require.InDelta(t, mcdm, lamp.Repeat[0].MCDM, 1e-12)
	require.Empty(t, lamp.Warnings)
	require.Equal(t, "Seal", pieces[1].Name)
	require.Equal(t, 0.0, pieces[1].Repeat[0].MCDM)
}

func TestPiecesNameTheOutlier(t *testing.T) {
	data := "name;L_D65;a_D65;b_D65\nLamp;50.0;10.0;20.0\nLamp;50.1;10.0;20.1\nLamp;56;10.0;20.0\nLamp;50.0;10.1;20.0\nLamp;50.05;10.0;20.0\n"
	table, err := readings.Samples(strings.NewReader(data), readings.Options{})
	require.NoError(t, err)
	pieces, err := readings.Pieces("f", table.Rows)
	require.NoError(t, err)
	require.Len(t, pieces[0].Warnings, 1)
	require.Regexp(t, `^f:4: Lamp: reading 3 of 5 does not belong to the others under D65/10 \(CIEDE2000 4\.\d\d from the mean; MCDM 1\.\d\d\); read the piece again, or leave that reading out$`, pieces[0].Warnings[0].Error())
}

func TestPiecesAverageSpectra(t *testing.T) {
	data := spectra("0.5", "0.7")
	data = strings.Replace(data, "Sb", "Sa", 1)
	no := false
	table, err := readings.Samples(strings.NewReader(data), readings.Options{Percent: &no})
	require.NoError(t, err)
	pieces, err := readings.Pieces("f", table.Rows)
	require.NoError(t, err)
	require.InDelta(t, 0.6, pieces[0].Spectrum.R[30], 1e-15)
	require.Equal(t, 0.5, table.Rows[0].Spectrum.R[30], "the readings stay as they were")
}

func TestPiecesThatAreNotOne(t *testing.T) {
	rows := func() []readings.Row {
		lab := []color.Lab{{L: 50, Under: color.D65Ten()}}
		return []readings.Row{{Line: 2, Name: "A", Backing: "white", ThicknessMM: 3, Loadings: map[string]float64{"WH": 1}, Labs: lab},
			{Line: 3, Name: "A", Backing: "white", ThicknessMM: 3, Loadings: map[string]float64{"WH": 1}, Labs: lab}}
	}
	for want, change := range map[string]func(*readings.Row){
		"other loadings than in row 2":                    func(r *readings.Row) { r.Loadings = map[string]float64{"WH": 2} },
		"another backing than in row 2":                   func(r *readings.Row) { r.Backing = "black" },
		"another thickness than in row 2":                 func(r *readings.Row) { r.ThicknessMM = 2 },
		"another geometry or specular mode than in row 2": func(r *readings.Row) { r.Measurement.Specular = color.SpecularExcluded },
	} {
		two := rows()
		change(&two[1])
		_, err := readings.Pieces("f", two)
		require.EqualError(t, err, "f:3: A: "+want+"; readings of one piece must agree in it; give another piece another name")
	}
	two := rows()
	two[0].Spectrum = &color.Spectrum{FirstNM: 400, StepNM: 10, R: make([]float64, 31)}
	two[1].Spectrum = &color.Spectrum{FirstNM: 400, StepNM: 20, R: make([]float64, 16)}
	_, err := readings.Pieces("f", two)
	require.EqualError(t, err, "f:3: A: other bands than in the readings before; export all readings of a piece on one set of bands")
}

// Chips with --repeats, end to end.
func TestRepeatedChips(t *testing.T) {
	data := chipsHeader + "A,white,3,1,0,50.0,1,1\nA,white,3,1,0,50.2,1,1\n"
	table, err := readings.Chips(strings.NewReader(data), readings.Options{KnownPigments: shop(), Repeats: true})
	require.NoError(t, err)
	pieces, err := readings.Pieces("f", table.Rows)
	require.NoError(t, err)
	require.Len(t, pieces, 1)
	require.InDelta(t, 50.1, pieces[0].Labs[0].L, 1e-12)
	require.Equal(t, map[string]float64{"WH": 1}, pieces[0].Loadings)
}

func TestJoin(t *testing.T) {
	loadings, err := readings.Mixtures(strings.NewReader("chip,backing,thickness_mm,WH,RD\nA1,white,3,1,0\nA2,black,3,1,0.2\nA3,white,3,0,1\n"), readings.Options{KnownPigments: shop()})
	require.NoError(t, err)
	read, err := readings.Samples(strings.NewReader("name,L_D65,a_D65,b_D65\nA2,50,10,5\nA1,80,0,1\nA2,50.1,10,5\n"), readings.Options{})
	require.NoError(t, err)
	both, err := readings.Join("f", loadings, read)
	require.NoError(t, err)
	require.Len(t, both.Rows, 3)
	require.Equal(t, "black", both.Rows[0].Backing)
	require.Equal(t, map[string]float64{"WH": 1, "RD": 0.2}, both.Rows[0].Loadings)
	require.Equal(t, 50.0, both.Rows[0].Labs[0].L)
	require.Equal(t, []string{"WH", "RD"}, both.Pigments)
	require.Len(t, both.Warnings, 1)
	require.EqualError(t, both.Warnings[0], "f:4: A3: was poured, but no reading of it is here; read it, or leave it out")

	read.Rows[1].Name = "Al1"
	_, err = readings.Join("f", loadings, read)
	require.EqualError(t, err, "f:3: Al1: was read, but what is in it is not said; did you mean A1? add it to the loadings, or name it alike")
}

func TestTyped(t *testing.T) {
	want := color.Lab{L: 61.2, A: 38.9, B: 21.4, Under: color.D65Ten()}
	for _, text := range []string{"61.2 38.9 21.4", "61.2,38.9,21.4", "61.2, 38.9, 21.4", "61,2 38,9 21,4", "61,2;38,9;21,4", "L=61.2 a=38.9 b=21.4", " L*: 61.2 a*: 38.9 b*: 21.4", "61.2\t38.9\t21.4"} {
		got, err := readings.Typed(text, color.D65Ten())
		if strings.Contains(text, ": ") {
			require.Error(t, err, text) // five words, not three
			continue
		}
		require.NoError(t, err, text)
		require.Equal(t, want, got, text)
	}
	for text, problem := range map[string]string{
		"":                   "holds 0 numbers, not 3; type L, a and b as 61.2 38.9 21.4",
		"61.2 38.9":          "holds 2 numbers, not 3",
		"61,2,38,9,21,4":     "holds 6 numbers, not 3",
		"61.2 x 21.4":        `is no reading: "x" is not a number`,
		"61,2 38.9 21,4":     "is no reading: \"38.9\" is not a number",
		"161 0 0":            "L* lies in 0..100",
		"50 NaN 0":           "is no reading",
		"50 150 -190":        "no surface passes",
		"a=61.2 L=38.9 b=21": "is no reading",
	} {
		_, err := readings.Typed(text, color.D65Ten())
		require.ErrorContains(t, err, problem, text)
		require.NotContains(t, err.Error(), "\n")
	}
	_, err := readings.Typed("50 1 1", color.Condition{})
	require.ErrorContains(t, err, "unknown illuminant")
}
