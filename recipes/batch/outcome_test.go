package batch_test

import (
	"math"

	"masstone/recipes/batch"
)

// slopes are invented: how far L*, a* and b* move, in CIEDE2000, when a
// loading doubles its share e-fold.
var slopes = map[string][3]float64{
	"WH": {9, -6, -3}, "RD": {-4, 14, 3}, "YE": {1, -2, 16}, "BL": {-7, -3, -15}, "BK": {-16, 1, 2},
}

// target is an invented, smooth expected difference: quadratic in the relative
// error of each loading, with what weighing adds and a floor for everything
// the recipe cannot help.
func target(best map[string]batch.PHR, floor float64) batch.Outcome {
	return func(m batch.Mixture) (float64, error) {
		var d [3]float64
		scatter := 0.0
		for code, aim := range best {
			off, sd := float64(m.Loadings[code]/aim)-1, float64(m.Weighing[code]/aim)
			for k, s := range slopes[code] {
				d[k] += s * off
				scatter += s * s * sd * sd
			}
		}
		return math.Sqrt(floor*floor + d[0]*d[0] + d[1]*d[1] + d[2]*d[2] + scatter), nil
	}
}

// exactly is target blind to weighing scatter.
func exactly(best map[string]batch.PHR, floor float64) batch.Outcome {
	see := target(best, floor)
	return func(m batch.Mixture) (float64, error) {
		return see(batch.Mixture{Loadings: m.Loadings})
	}
}

var five = map[string]batch.PHR{"WH": 1.20, "RD": 0.213, "YE": 0.347, "BL": 0.124, "BK": 0.0531}
