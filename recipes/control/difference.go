package control

import (
	"math"

	"masstone/calibrate"
)

// normalShare is how much of a normal distribution lies within three sigma of
// its mean.
const normalShare = 0.9973

// Scatter is the covariance of values such as L*, a*, b* from one to the next,
// which a drift hardly moves; floor is the least standard deviation of each.
func Scatter(x [][3]float64, floor float64) (s [3][3]float64) {
	for n := 1; n < len(x); n++ {
		for i := range 3 {
			for j := range 3 {
				s[i][j] += (x[n][i] - x[n-1][i]) * (x[n][j] - x[n-1][j]) / float64(2*(len(x)-1)) // (5)
			}
		}
	}
	for i := range 3 {
		s[i][i] = math.Max(s[i][i], floor*floor)
	}
	return s
}

// DifferenceChart is a chart of differences from a target, one-sided.
type DifferenceChart struct {
	Mean, Upper float64
	Outside     []int
}

// DifferencesOf charts differences, each between a target and a colour; the
// colours scatter about mean with covariance cov.
func DifferencesOf(d []float64, between func(std, sample [3]float64) float64, target, mean [3]float64, cov [3][3]float64) DifferenceChart {
	all := calibrate.Differences(between, target, mean, cov)
	rank := normalShare*float64(len(all)) - 0.5
	lo := min(int(rank), len(all)-2)
	c := DifferenceChart{Upper: all[lo] + (rank-float64(lo))*(all[lo+1]-all[lo])}
	for i, v := range d {
		c.Mean += v / float64(len(d))
		if v > c.Upper {
			c.Outside = append(c.Outside, i)
		}
	}
	return c
}
