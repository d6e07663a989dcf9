package calibrate_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
)

// Two chips per pigment under three lights leave the layer model open, and the
// bars say so; four do not. Chips of testdata/real_pigments.
func TestDoubtOfTheLayerIsInTheBars(t *testing.T) {
	if underRace {
		t.Skip("many fits; run without -race")
	}
	t.Parallel()
	for _, c := range []struct {
		chips       int
		least, most float64
	}{{26, 0.1, 1}, {48, 0, 0.01}} {
		cal := realFit{c.chips, virtualshop.ThreeLights}.fit(t)
		m := cal.ModelError
		require.GreaterOrEqual(t, m.Layer, c.least, "%d chips", c.chips)
		require.LessOrEqual(t, m.Layer, c.most, "%d chips", c.chips)
		require.GreaterOrEqual(t, m.Floor, m.Layer, "%d chips", c.chips)
		sum := 0.0
		for _, o := range cal.Others {
			sum += o.Weight
		}
		require.InDelta(t, 1, sum, 1e-9, "%d chips", c.chips)
	}
	pigments, chips, _ := calibrate.RealPigments(t, 26)
	cal, err := calibrate.Fit(context.Background(), pigments, virtualshop.ThreeLights.Of(chips), calibrate.Options{Layer: calibrate.KubelkaMunk})
	require.NoError(t, err)
	require.Zero(t, cal.ModelError.Layer, "told which layer, nothing is open")
}
