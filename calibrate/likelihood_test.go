package calibrate_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

// fitted casts a plan of a shop and fits what an instrument gives of it.
func fitted(t *testing.T, s *virtualshop.Shop, plan virtualshop.Plan, e virtualshop.Evidence, o calibrate.Options) *calibrate.Calibration {
	t.Helper()
	c, err := calibrate.Fit(context.Background(), s.Codes, e.Of(s.CastAll(rand.New(rand.NewPCG(5, 'l')), s.Study(plan))), o)
	require.NoError(t, err)
	return c
}

// How far the strengths of pastes scatter is found from any evidence.
func TestScatterIsFound(t *testing.T) {
	if underRace {
		t.Skip("a study of figures; run without -race")
	}
	t.Parallel()
	for _, e := range virtualshop.Evidences() {
		if e == virtualshop.ThreeLights && !whole {
			continue
		}
		for _, sd := range []float64{0, 0.04} {
			s := virtualshop.Painted(5, 8)
			s.StrengthSD = sd
			c := fitted(t, s, virtualshop.Thin, e, calibrate.Options{Layer: calibrate.KubelkaMunk})
			t.Logf("%-12s scatter %.3f, found %.4f", e, sd, c.Scatter)
			if sd == 0 {
				require.Less(t, c.Scatter, 0.013, "%s", e)
			} else {
				require.InDelta(t, sd, c.Scatter, 0.016, "%s", e)
			}
		}
	}
}

// The level of a hiding resin's scattering is found where the chips are opaque and
// there are but two per colour.
func TestHidingResinIsFound(t *testing.T) {
	if underRace {
		t.Skip("a study of figures; run without -race")
	}
	s := virtualshop.Painted(1, 12).InOpaqueResin()
	c := fitted(t, s, virtualshop.Tint, virtualshop.Spectra, calibrate.Options{Layer: calibrate.KubelkaMunk})
	sum := 0.0
	for b, v := range c.Curves[0].S {
		sum += math.Log(v/s.Resin.S[b]) / float64(len(c.Curves[0].S))
	}
	t.Logf("ln S of the resin off by %.3f on average", sum)
	require.InDelta(t, 0, sum, 0.25)
}

// The refractive index is found, and said to be known; one that is given stays.
func TestIndexIsFound(t *testing.T) {
	if underRace {
		t.Skip("a study of figures; run without -race")
	}
	t.Parallel()
	s := virtualshop.Radiative(5, 6) // of index 1.47
	g := 0.7
	c := fitted(t, s, virtualshop.Thin, virtualshop.Spectra, calibrate.Options{Layer: calibrate.ExactLayer, Anisotropy: &g})
	t.Logf("index %.3f ± %.3f", c.Layer.Index, c.Layer.IndexSD)
	require.InDelta(t, 1.47, c.Layer.Index, 0.01)
	require.True(t, c.Layer.SurfaceKnown)
	c = fitted(t, virtualshop.Radiative(5, 2), virtualshop.Thin, virtualshop.Spectra, calibrate.Options{Layer: calibrate.ExactLayer, Anisotropy: &g, Index: 1.52})
	require.Equal(t, 1.52, c.Layer.Index)
	require.False(t, c.Layer.SurfaceKnown)
}

// Pigments that scatter faintly are found to, where there are but two chips of each:
// none lies further from the truth than three standard deviations of its own.
func TestFaintScatteringIsFound(t *testing.T) {
	if underRace {
		t.Skip("a study of figures; run without -race")
	}
	t.Parallel()
	s := virtualshop.Radiative(12, 12)
	g := 0.55
	chips := s.CastAll(rand.New(rand.NewPCG(3, 'l')), s.Study(virtualshop.Tint))
	c, err := calibrate.Fit(context.Background(), s.Codes, chips, calibrate.Options{Layer: calibrate.ExactLayer, Anisotropy: &g})
	require.NoError(t, err)
	for i, code := range s.Codes {
		off, sd := 0.0, 0.0
		for b, v := range c.Curves[i+1].S {
			off += math.Log(v/s.Pigments[i].S[b]) / color.Bands
			sd += c.Curves[i+1].SSD[b] / color.Bands
		}
		t.Logf("%s: ln S off by %.2f ± %.2f on average", code, off, sd)
		require.InDelta(t, 0, off, 3*sd+0.05, code)
	}
}
