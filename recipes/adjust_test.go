package recipes

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
)

// adjusted finds a recipe for a target and adjusts it under another posterior.
func adjusted(t *testing.T, cal *calibrate.Calibration, s matchShop, target Target) (from, to Recipe) {
	t.Helper()
	l := Limits{BatchGrams: 100, ScaleGrams: 0.01}
	a, err := Match(context.Background(), s.cal, target, l)
	require.NoError(t, err)
	from = a.Recipes[0]
	to, err = Adjust(cal, target, from.Loadings, l)
	require.NoError(t, err)
	return from, to
}

// A recipe that is the best already stays as it is, though other totals of the
// same pigments would do as well.
func TestAdjustLeavesTheBestAlone(t *testing.T) {
	s := shop6()
	for _, target := range s.targets[:6] {
		from, to := adjusted(t, s.cal, s, target)
		assert.LessOrEqual(t, to.Expected, from.Expected+2*nearEnough)
		assert.GreaterOrEqual(t, to.Opacity, from.Opacity-2*opacityGiven)
		for code, c := range from.Loadings {
			assert.InEpsilon(t, float64(c), float64(to.Loadings[code]), 0.26, code)
		}
	}
}

// Where a lot is stronger by a fifth, the adjustment takes that much less of it
// and leaves the rest about as it is.
func TestAdjustFollowsALot(t *testing.T) {
	s := shop6()
	for _, target := range s.targets[:6] {
		a, err := Match(context.Background(), s.cal, target, Limits{BatchGrams: 100, ScaleGrams: 0.01})
		require.NoError(t, err)
		var code string // the pigment that matters most
		for c, slip := range a.Recipes[0].Slip {
			if code == "" || slip > a.Recipes[0].Slip[code] {
				code = c
			}
		}
		cal, err := s.cal.WithLots(map[string]calibrate.Strength{code: {Ln: math.Log(1.2)}})
		require.NoError(t, err)
		from, to := adjusted(t, cal, s, target)
		j, err := NewJudge(cal, target)
		require.NoError(t, err)
		_, as, err := j.Land(from.Loadings, from.LoadingSD)
		require.NoError(t, err)
		assert.Less(t, to.Expected, as.Expected+1e-9)
		assert.LessOrEqual(t, to.Expected, from.Expected+0.1)
		// colour is in the ratio of the pigment to the rest
		share := func(r Recipe) float64 { return float64(r.Loadings[code] / (r.TotalPHR - r.Loadings[code])) }
		if len(from.Loadings) > 1 {
			assert.InEpsilon(t, 1/1.2, share(to)/share(from), 0.1, "%s in %v, then %v", code, from.Loadings, to.Loadings)
		}
		total := from.TotalPHR
		assert.InEpsilon(t, float64(total), float64(to.TotalPHR), 0.25)
	}
}

func TestAdjustRefuses(t *testing.T) {
	s := shop6()
	_, err := Adjust(s.cal, s.targets[0], nil, Limits{})
	require.ErrorContains(t, err, "0 pigments")
	_, err = Adjust(s.cal, s.targets[0], map[string]calibrate.PHR{"NONE": 1}, Limits{})
	require.ErrorContains(t, err, "NONE")
	assert.True(t, WorthChanging(0.5, 0.39))
	assert.False(t, WorthChanging(0.5, 0.45))
	assert.False(t, WorthChanging(math.NaN(), 0.45))
}

func TestChange(t *testing.T) {
	got := Change(map[string]calibrate.PHR{"WH": 1, "RD": 0.2}, map[string]calibrate.PHR{"WH": 1.1, "BK": 0.05})
	assert.InDeltaMapValues(t, map[string]float64{"WH": 0.1, "RD": -0.2, "BK": 0.05}, got, 1e-12)
}
