package batch_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/recipes/batch"
)

// By hand: one pigment of 1 phr, an outcome of 10 times the relative sd of its
// weighing, tolerance 0.1: the sd may be 1 % of the line. At step 0.01 g the
// sd is 0.0040825 g, so the line must be 0.40825 g, 41 steps. This outcome
// likes paste, so the grid takes all it may, two steps above the whole number
// below the aim: an aim of 39 steps will do, a batch of 0.39 x 101 = 39.39 g.
// Tared, 0.28868 g, 29 steps, an aim of 27 and 27.27 g.
func TestSmallestByHand(t *testing.T) {
	r := request(500, map[string]batch.PHR{"WH": 1})
	r.Tolerance = 0.1
	r.Outcome = func(m batch.Mixture) (float64, error) {
		return 10 * float64(m.Weighing["WH"]/m.Loadings["WH"]), nil
	}
	s, err := batch.Smallest(r)
	require.NoError(t, err)
	require.True(t, s.Neat.Found)
	require.InEpsilon(t, 39.39, s.Neat.Total.Grams(), 0.005)
	require.LessOrEqual(t, s.Neat.Expected, 0.1)

	r.Scale.Tared = true
	s, err = batch.Smallest(r)
	require.NoError(t, err)
	require.InEpsilon(t, 27.27, s.Neat.Total.Grams(), 0.005)

	r.Order.Total = batch.Grams(5) // from below, the same answer
	s, err = batch.Smallest(r)
	require.NoError(t, err)
	require.InEpsilon(t, 27.27, s.Neat.Total.Grams(), 0.005)
}

// A finer scale and a pre-dilution both allow a smaller batch, and a plan at
// the size found keeps the tolerance.
func TestSmallest(t *testing.T) {
	recipe := map[string]batch.PHR{"WH": 1.2, "RD": 0.213, "BK": 0.0231}
	r := request(250, recipe)
	r.Outcome, r.Tolerance = target(recipe, 0.3), 0.8
	coarse, err := batch.Smallest(r)
	require.NoError(t, err)
	require.True(t, coarse.Neat.Found)
	require.True(t, coarse.Diluted.Found)
	require.Less(t, coarse.Diluted.Total.Grams(), coarse.Neat.Total.Grams()/3)
	for _, x := range []struct {
		size     batch.Size
		dilution batch.Dilution
	}{{coarse.Neat, batch.DiluteNever}, {coarse.Diluted, batch.DiluteWhenNeeded}} {
		at := r
		at.Order, at.Dilution = batch.Order{Total: x.size.Total}, x.dilution
		sheet, err := batch.Plan(at)
		require.NoError(t, err)
		require.LessOrEqual(t, sheet.Expected.Sheet, r.Tolerance)
		require.LessOrEqual(t, sheet.Expected.Sheet, x.size.Expected+1e-9)
	}
	// the least neat line is ten steps
	require.GreaterOrEqual(t, coarse.Neat.Total.Grams()*0.0231/101.4361, 0.0999)

	r.Scale.Step = batch.Grams(0.001)
	fine, err := batch.Smallest(r)
	require.NoError(t, err)
	require.InEpsilon(t, coarse.Neat.Total.Grams()/10, fine.Neat.Total.Grams(), 0.3, "a tenth of the step, a tenth of the batch")
}

func TestSmallestThereIsNone(t *testing.T) {
	recipe := map[string]batch.PHR{"WH": 1}
	r := request(100, recipe)
	r.Outcome, r.Tolerance = target(recipe, 0.9), 0.8
	s, err := batch.Smallest(r)
	require.NoError(t, err)
	require.False(t, s.Neat.Found)
	require.Equal(t, "the recipe itself is expected at 0.90, whatever the batch", s.Diluted.Why)

	r.Outcome, r.Tolerance = func(m batch.Mixture) (float64, error) {
		return min(1, 1e6*float64(m.Weighing["WH"])), nil // the slightest scatter spoils it
	}, 0.5
	s, err = batch.Smallest(r)
	require.NoError(t, err)
	require.False(t, s.Neat.Found)
	require.Equal(t, "no batch up to 100000 g keeps 0.50", s.Neat.Why)
	require.Equal(t, 1.0, s.Neat.Expected)
}

func TestSmallestRefuses(t *testing.T) {
	r := request(100, five)
	_, err := batch.Smallest(r)
	require.ErrorContains(t, err, "needs an expected difference and a tolerance")
	r.Outcome = target(five, 0.2)
	r.Tolerance = math.NaN()
	_, err = batch.Smallest(r)
	require.ErrorContains(t, err, "tolerance above 0")
	r.Tolerance, r.Order = 1, batch.Order{}
	_, err = batch.Smallest(r)
	require.ErrorContains(t, err, "empty order")
}
