package castplan_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

// Colour Index generic names name the hue (Colour Index, generic names: PY yellow,
// PO orange, PR red, PV violet, PB blue, PG green, PBr brown, PBk black, PW white).
func TestPasteByName(t *testing.T) {
	for _, k := range []struct {
		ci, name string
		kind     castplan.PasteKind
		from, to float64 // hue
	}{
		{"PY74", "", castplan.ColouredPaste, 70, 110},
		{"Pigment Yellow 42", "", castplan.ColouredPaste, 60, 85},
		{"PO 34", "", castplan.ColouredPaste, 40, 70},
		{"PR254", "", castplan.ColouredPaste, 5, 40},
		{"PV23", "", castplan.ColouredPaste, 290, 330},
		{"pb15:3", "", castplan.ColouredPaste, 230, 260},
		{"PG7", "", castplan.ColouredPaste, 150, 190},
		{"PBr7", "", castplan.ColouredPaste, 45, 80},
		{"PBk11", "", castplan.DarkPaste, 0, 0},
		{"Pigment Black 7", "", castplan.DarkPaste, 0, 0},
		{"PW6", "", castplan.WhitePaste, 0, 0},
		{"PW18", "", castplan.UnknownPaste, 0, 0}, // chalk hides nothing
		{"PM1", "", castplan.UnknownPaste, 0, 0},  // a metal
		{"", "Dense Black", castplan.DarkPaste, 0, 0},
		{"", "signal red", castplan.ColouredPaste, 5, 40},
		{"", "kelp", castplan.UnknownPaste, 0, 0},
		{"PB29", "red", castplan.ColouredPaste, 260, 300},
	} {
		p := castplan.PasteByName("X", k.ci, k.name)
		assert.Equal(t, k.kind, p.Kind, k.ci+k.name)
		assert.GreaterOrEqual(t, p.Hue, k.from, k.ci+k.name)
		assert.LessOrEqual(t, p.Hue, k.to, k.ci+k.name)
	}
}

// A target is made of the pastes on either side of its hue, a white and a black.
func TestLikely(t *testing.T) {
	paste := func(code string, hue float64) castplan.Paste {
		return castplan.Paste{Code: code, Kind: castplan.ColouredPaste, Hue: hue}
	}
	shelf := []castplan.Paste{{Code: "W2", Kind: castplan.WhitePaste}, {Code: "W1", Kind: castplan.WhitePaste}, {Code: "K", Kind: castplan.DarkPaste}, {Code: "?"},
		paste("R", 25), paste("O", 55), paste("Y", 90), paste("G", 175), paste("B", -100), paste("V", 320)}
	lab := func(a, b float64) color.Lab { return color.Lab{L: 60, A: a, B: b, Under: color.D65Ten()} }
	for name, k := range map[string]struct {
		target color.Lab
		cast   []string
		want   []string
	}{
		"orange":             {lab(30, 20), nil, []string{"W2", "K", "R", "O"}},
		"red":                {lab(40, 0), nil, []string{"W2", "K", "R", "V"}},
		"turquoise":          {lab(-20, -10), nil, []string{"W2", "K", "G", "B"}},
		"grey, to the blue":  {lab(0, -3), nil, []string{"W2", "K", "Y", "B"}},
		"pastes that failed": {lab(30, 20), []string{"W2", "K", "R", "O"}, []string{"Y", "V"}},
		"nothing left":       {lab(30, 20), []string{"W2", "K", "R", "O", "Y", "V", "G", "B"}, nil},
	} {
		assert.Equal(t, k.want, castplan.Likely(k.target, shelf, k.cast), name)
	}
	assert.Equal(t, []string{"Y"}, castplan.Likely(lab(0, 30), []castplan.Paste{paste("Y", 90), paste("B", 270)}, nil), "an opposite hue makes no chroma")
}

// A calibration knows its pastes' hues to a few degrees of the truth.
func TestPasteOfCalibration(t *testing.T) {
	s := virtualshop.Painted(3, 6)
	w := newWorld(s, 3, calibrate.KubelkaMunk)
	c := w.fit(t, virtualshop.OneLight, w.cast(rand.New(rand.NewPCG(3, 3)), w.start(t, 2)))
	for _, code := range s.Codes {
		got, err := castplan.PasteOf(c, code)
		require.NoError(t, err)
		if code == virtualshop.White {
			require.Equal(t, castplan.WhitePaste, got.Kind)
			continue
		}
		mix := map[string]calibrate.PHR{virtualshop.White: s.Level, code: c.Curves[c.Index(code)].MaxPHR / 5}
		truth := castplan.PasteOfTint(code, s.Color(mix, calibrate.Setting{Thickness: 3, Backing: color.Constant(0.9), Specular: color.SpecularIncluded}, color.D65Ten()))
		require.Equal(t, truth.Kind, got.Kind, code)
		require.InDelta(t, truth.Hue, got.Hue, 5, code)
	}
}
