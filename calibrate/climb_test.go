package calibrate

import (
	"context"
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"masstone/calibrate/layer"
)

// A climb on -2 ln likelihoods whose least is known by their equations: log cosh, which
// bends less the further off, and Gauss's bell.
func TestClimb(t *testing.T) {
	least := []float64{1.5, -0.7}
	asked := 0
	cost := func(v []float64) (float64, error) {
		asked++
		sum := 0.0
		for i := range v {
			sum += 20 * math.Log(math.Cosh(v[i]-least[i]))
		}
		return sum, nil
	}
	slopes := func(v []float64) ([]float64, *mat.SymDense, error) {
		slope, bend := make([]float64, len(v)), mat.NewSymDense(len(v), nil)
		for i := range v {
			th := math.Tanh(v[i] - least[i])
			slope[i] = 20 * th
			bend.SetSym(i, i, 20*(1-th*th))
		}
		return slope, bend, nil
	}
	c := climb{cost: cost, slopes: slopes, gain: 0.01, still: 1e-3, reach: 1}
	risen, err := c.from([]float64{-1, 1})
	require.NoError(t, err)
	require.True(t, risen)
	require.InDeltaSlice(t, least, c.at, 0.03)
	require.Less(t, asked, 12)

	// where slopes lead the wrong way, the simplex goes by the cost alone
	c.slopes = func(v []float64) ([]float64, *mat.SymDense, error) {
		slope, bend, err := slopes(v)
		for i := range slope {
			slope[i] = -slope[i]
		}
		return slope, bend, err
	}
	risen, err = c.from([]float64{0.8, -1.4})
	require.NoError(t, err)
	require.False(t, risen)
	before := c.best
	require.NoError(t, c.about(octave))
	require.Less(t, c.best, before-1)

	failed := errors.New("no fit")
	c.cost = func([]float64) (float64, error) { return 0, failed }
	_, err = c.from([]float64{0, 0})
	require.ErrorIs(t, err, failed)
}

// The peak of one number is where the readings' own curve has it: here a parabola.
func TestMaximiseLikelihoodOfAPrior(t *testing.T) {
	shop := readRealPigments(t)
	p, err := newProblem(shop.pigments, evidenceOf(designOf(shop.chips, 26), "one"), layer.NewKubelkaMunk(), defaultSurface, usualNoise)
	require.NoError(t, err)
	x := p.flat()
	p.setHyper(straight, x)
	require.NoError(t, p.anneal(context.Background(), x))
	found, err := p.maximiseLikelihood(context.Background(), x, p.system(), 0, 0.5, func(v float64) float64 { return 40 * (v - 1.83) * (v - 1.83) })
	require.NoError(t, err)
	require.InDelta(t, 1.83, found.at, 0.02)
	require.InDelta(t, 80, found.bend, 4)
	require.InDelta(t, math.Sqrt(2.0/80), found.sd(1), 0.01)
}
