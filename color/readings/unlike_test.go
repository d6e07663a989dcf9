package readings_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/color"
	"masstone/color/readings"
)

// flatSpectrum reflects r everywhere but at one band.
func flatSpectrum(r float64, at int, there float64) *color.Spectrum {
	s := color.Spectrum{FirstNM: 400, StepNM: 10, R: make([]float64, 31)}
	for i := range s.R {
		s.R[i] = r
	}
	s.R[(at-400)/10] = there
	return &s
}

// TestSigns: a piece is told by what no surface does (CIE 15: the perfect diffuser
// reflects 1), or by scatter that no instrument has.
func TestSigns(t *testing.T) {
	lab := func(l, a, b float64) readings.Row {
		return readings.Row{Name: "x", Labs: []color.Lab{{L: l, A: a, B: b, Under: color.D65Ten()}}}
	}
	spectrum := func(s *color.Spectrum) readings.Row { return readings.Row{Name: "x", Spectrum: s} }
	for name, c := range map[string]struct {
		rows []readings.Row
		want []readings.Case
		why  string
	}{
		"paint":               {[]readings.Row{lab(50, 40, 20), lab(50.1, 40, 20)}, nil, ""},
		"white tile":          {[]readings.Row{spectrum(flatSpectrum(0.98, 600, 1.01))}, nil, ""},
		"fluorescent orange":  {[]readings.Row{spectrum(flatSpectrum(0.3, 600, 1.31))}, []readings.Case{readings.Bright}, "it reflects 1.31 of the light at 600 nm"},
		"one of its readings": {[]readings.Row{spectrum(flatSpectrum(0.9, 600, 1.01)), spectrum(flatSpectrum(0.9, 600, 1.05))}, []readings.Case{readings.Bright}, "1.05"},
		"beyond the solid":    {[]readings.Row{lab(50, 84, -84)}, []readings.Case{readings.Bright}, "where no surface passes"},
		"flakes":              {[]readings.Row{lab(50, 2, 1), lab(56, 2, 1), lab(62, 2, 1)}, []readings.Case{readings.Uneven}, "under D65/10"},
	} {
		pieces, err := readings.Pieces("f", c.rows)
		require.NoError(t, err, name)
		signs, err := pieces[0].Signs()
		require.NoError(t, err, name)
		var cases []readings.Case
		for _, s := range signs {
			cases = append(cases, s.Case)
			assert.Contains(t, s.Why, c.why, name)
		}
		assert.Equal(t, c.want, cases, name)
	}
}

// TestPaintsShowNoSigns: paints that only absorb and scatter (real_pigments: measured
// artist paints, R. S. Berns) are never taken for another kind.
func TestPaintsShowNoSigns(t *testing.T) {
	pieces, err := readings.Pieces("chips", realChips(t).Rows)
	require.NoError(t, err)
	require.Greater(t, len(pieces), 40)
	for _, p := range pieces {
		signs, err := p.Signs()
		require.NoError(t, err)
		assert.Empty(t, signs, p.Name)
	}
}
