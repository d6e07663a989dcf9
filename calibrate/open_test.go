package calibrate_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

// TestOpenReadings: parts read before they are as yellow as they will be lead a fit
// astray, unless it is told how far they may lie from what was read: then it hears them
// that much less, and finds nothing wrong about them.
func TestOpenReadings(t *testing.T) {
	if underRace {
		t.Skip("fits")
	}
	s := virtualshop.Painted(21, 3)
	rng := rand.New(rand.NewPCG(21, 'o'))
	chips := virtualshop.OneLight.Of(s.CastAll(rng, s.Study(virtualshop.Tint)))
	mixtures := unseenOf(s, rng, 40)
	const off = -0.8
	fit := func(pours int, openSD float64) *calibrate.Calibration {
		rng := rand.New(rand.NewPCG(22, 'o'))
		all := append([]calibrate.Chip{}, chips...)
		for k, m := range s.Mixtures(rng, pours) {
			c, err := virtualshop.OneLight.Of([]calibrate.Chip{s.Cast(rng, s.Chip(fmt.Sprint("P", k), m))})[0].Changed([3]float64{0, 0, off}, openSD)
			require.NoError(t, err)
			require.Equal(t, openSD, c.OpenSD)
			all = append(all, c)
		}
		c, err := calibrate.Fit(context.Background(), s.Codes, all, calibrate.Options{Layer: calibrate.KubelkaMunk})
		require.NoError(t, err)
		return c
	}
	bias := func(c *calibrate.Calibration) (sum float64) {
		for _, m := range mixtures {
			p, err := c.Predict(m.sample, color.D65Ten())
			require.NoError(t, err)
			sum += (p.Colors[0].Lab.B - m.truth.B) / float64(len(mixtures))
		}
		return sum
	}
	alone, believed, open := fit(0, 0), fit(6, 0), fit(6, 8)
	t.Logf("b* off by %.2f without them, %.2f where they are believed, %.2f where they are open", bias(alone), bias(believed), bias(open))
	assert.Less(t, bias(believed), off/2)
	assert.Less(t, math.Abs(bias(open)-bias(alone)), math.Abs(bias(believed)-bias(alone))/3)
	assert.Empty(t, open.Suspects)
	for _, rep := range open.Chips[len(chips):] {
		assert.True(t, rep.Inside, rep.Chip)
	}
}

// TestChangedSpectrum: of a chip read as a spectrum its colours remain, as far changed as
// is said.
func TestChangedSpectrum(t *testing.T) {
	grey := color.Constant(0.4)
	c, err := calibrate.Chip{Name: "P1", Thickness: 3, Spectrum: &grey}.Changed([3]float64{1, 0, -2}, 0.3)
	require.NoError(t, err)
	require.NoError(t, c.Check())
	require.Nil(t, c.Spectrum)
	require.Len(t, c.Labs, 3)
	for _, lab := range c.Labs {
		// L* of Y 40 is 69.47 (CIE 15:2018, eq. 8.3)
		assert.InDelta(t, 70.47, lab.L, 0.01, lab.Under)
		assert.InDelta(t, -2, lab.B, 0.02, lab.Under)
	}
}
