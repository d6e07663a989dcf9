package calibrate_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/color"
)

func TestEvidence(t *testing.T) {
	d65, a := color.D65Ten(), color.Under(color.A, color.TenDegree)
	grey := color.Constant(0.2)
	chips := []calibrate.Chip{
		{Name: "both", Labs: []color.Lab{{L: 50, Under: d65}, {L: 51, Under: a}}, Spectrum: &grey},
		{Name: "lab", Labs: []color.Lab{{L: 52, Under: d65}}},
		{Name: "tungsten", Labs: []color.Lab{{L: 53, Under: a}}},
		{Name: "spectrum", Spectrum: &grey},
	}
	lights := func(c calibrate.Chip) []color.Condition {
		var out []color.Condition
		for _, l := range c.Labs {
			out = append(out, l.Under)
		}
		return out
	}
	for _, e := range []struct {
		kind    calibrate.Evidence
		kept    []string
		without []string
	}{
		{calibrate.AllEvidence, []string{"both", "lab", "tungsten", "spectrum"}, nil},
		{calibrate.SpectralEvidence, []string{"both", "spectrum"}, []string{"lab", "tungsten"}},
		{calibrate.LabsEvidence, []string{"both", "lab", "tungsten", "spectrum"}, nil},
		{calibrate.LabEvidence, []string{"both", "lab", "spectrum"}, []string{"tungsten"}},
	} {
		t.Run(string(e.kind), func(t *testing.T) {
			kept, without, err := e.kind.Of(chips, d65)
			require.NoError(t, err)
			var names []string
			for _, c := range kept {
				names = append(names, c.Name)
				switch e.kind {
				case calibrate.LabEvidence:
					require.Nil(t, c.Spectrum)
					require.Equal(t, []color.Condition{d65}, lights(c))
				case calibrate.LabsEvidence:
					require.Nil(t, c.Spectrum)
					require.NotEmpty(t, c.Labs)
				case calibrate.SpectralEvidence:
					require.NotNil(t, c.Spectrum)
					require.Empty(t, c.Labs)
				}
			}
			require.Equal(t, e.kept, names)
			require.Equal(t, e.without, without)
		})
	}
	require.Len(t, chips[0].Labs, 2, "the chips given stay as they are")
	kept, _, err := calibrate.LabsEvidence.Of(chips[:1], d65)
	require.NoError(t, err)
	require.Equal(t, 50.0, kept[0].Labs[0].L, "what was read goes before what the spectrum says")
	kept, _, err = calibrate.LabsEvidence.Of(chips[3:], d65)
	require.NoError(t, err)
	require.Equal(t, calibrate.ThreeLights(color.TenDegree), lights(kept[0]))
	require.InDelta(t, 51.8372, kept[0].Labs[1].L, 1e-3) // 116 0.2^(1/3) - 16

	for _, name := range []string{"lab", "LABS", " spectra", "all"} {
		_, err := calibrate.ParseEvidence(name)
		require.NoError(t, err)
	}
	_, err = calibrate.ParseEvidence("xyz")
	require.ErrorContains(t, err, "give lab, labs, spectra or all")
}

// TestNoiseOf: what an instrument repeats to is the noise of its readings, and one of
// which nothing is stated has the usual.
func TestNoiseOf(t *testing.T) {
	require.Equal(t, calibrate.Noise{LabSD: 0.08, SpectrumSD: 0.001}, calibrate.NoiseOf(0))
	require.Equal(t, calibrate.Noise{LabSD: 0.16, SpectrumSD: 0.002}, calibrate.NoiseOf(0.16))
}
