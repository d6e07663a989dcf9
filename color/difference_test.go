package color

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestParseFormula(t *testing.T) {
	for text, want := range map[string]Formula{
		"ciede2000": CIEDE2000, "dE00": CIEDE2000, "CIE76": CIE76, "cie 94": CIE94, "CIE94-textile": CIE94Textile,
		"cmc 2:1": CMC21, "CMC(1:1)": CMC11, "dE94": CIE94, "dEab": CIE76,
	} {
		got, err := ParseFormula(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
	}
	for _, f := range Formulas() {
		got, err := ParseFormula(string(f))
		require.NoError(t, err)
		assert.Equal(t, f, got)
	}
	for _, text := range []string{"", "cmc", "CMC(3:1)", "ciede"} {
		_, err := ParseFormula(text)
		assert.ErrorContains(t, err, "use one of CIEDE2000", text)
	}
}

func FuzzParseFormula(f *testing.F) {
	for _, s := range []string{"CIEDE2000", "cmc(2:1)", "dE94", "", "::"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		formula, err := ParseFormula(s)
		if err != nil {
			require.Empty(t, formula)
			return
		}
		_, err = formula.Between([3]float64{50, 0, 0}, [3]float64{51, 0, 0})
		require.NoError(t, err)
	})
}

func TestCompareGivesSignedParts(t *testing.T) {
	std, sample := Lab{50, 30, 0, D65Ten()}, Lab{52, 0, 20, D65Ten()}
	d, err := Compare(std, sample, CIE76)
	require.NoError(t, err)
	assert.InDelta(t, 2, d.DL, 1e-12)
	assert.InDelta(t, -30, d.DA, 1e-12)
	assert.InDelta(t, 20, d.DB, 1e-12)
	assert.InDelta(t, -10, d.DC, 1e-12)
	// A quarter turn: dH = 2 sqrt(C1 C2) sin 45 degrees (ISO/CIE 11664-4).
	assert.InDelta(t, 34.641016, d.DH, 1e-6)

	back, err := Compare(sample, std, CIE76)
	require.NoError(t, err)
	assert.InDelta(t, -d.DH, back.DH, 1e-12)

	_, err = Compare(std, Lab{50, 30, 0, Condition{A, TenDegree}}, CIE76)
	assert.ErrorIs(t, err, ErrConditions)
	assert.EqualError(t, err, "colours are under different conditions: D65/10 and A/10; state both under one")
	_, err = Compare(std, sample, "")
	assert.ErrorContains(t, err, "unknown colour-difference formula")

	_, err = std.DeltaE00(Lab{50, 30, 0, Condition{D65, TwoDegree}})
	assert.ErrorIs(t, err, ErrConditions)
	de, err := std.DeltaE00(sample)
	require.NoError(t, err)
	assert.Equal(t, Delta00(std.Values(), sample.Values()), de)
}

func TestWords(t *testing.T) {
	polar := func(l, c, h float64) Lab { return LCh{l, c, h, D65Ten()}.Lab() }
	for _, c := range []struct {
		name        string
		std, sample Lab
		want        string
	}{
		{"alike", polar(50, 40, 30), polar(50.1, 40.1, 30.1), "alike"},
		{"itself", polar(50, 40, 30), polar(50, 40, 30), "alike"},
		{"lightness", polar(50, 40, 30), polar(51, 40, 30), "lighter"},
		{"darkness", polar(50, 40, 30), polar(49, 40, 30), "darker"},
		{"chroma", polar(50, 40, 30), polar(50, 42, 30), "stronger"},
		{"largest first", polar(50, 40, 30), polar(49.5, 38, 30), "weaker, darker"},
		{"orange to yellow", polar(60, 50, 60), polar(60, 50, 62), "yellower"},
		{"orange to red", polar(60, 50, 60), polar(60, 50, 58), "redder"},
		{"red to blue", polar(60, 50, 10), polar(60, 50, 8), "bluer"},
		{"red across 0", polar(60, 50, 359), polar(60, 50, 1), "yellower"},
		{"yellow to green", polar(80, 60, 92), polar(80, 60, 94), "greener"},
		{"green to yellow", polar(50, 40, 170), polar(50, 40, 167), "yellower"},
		{"green to blue", polar(50, 40, 190), polar(50, 40, 193), "bluer"},
		{"blue to green", polar(40, 40, 265), polar(40, 40, 262), "greener"},
		{"violet to red", polar(40, 40, 310), polar(40, 40, 313), "redder"},
		{"grey", Lab{60, 0.5, 0.5, D65Ten()}, Lab{60, 0.5, 2, D65Ten()}, "yellower"},
		{"grey both ways", Lab{60, 0, 0, D65Ten()}, Lab{60, -1, -2, D65Ten()}, "bluer, greener"},
	} {
		d, err := Compare(c.std, c.sample, CIEDE2000)
		require.NoError(t, err)
		assert.Equal(t, c.want, d.Words(), c.name)
	}
	d, err := Compare(polar(50, 40, 30), polar(50.1, 40, 30), CIEDE2000)
	require.NoError(t, err)
	assert.Equal(t, "lighter", d.WordsAbove(0.05))
}
