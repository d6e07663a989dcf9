package calibrate

import (
	"sync"

	"masstone/color"
)

// expectedPoints is how many points stand for an error distribution where only
// the mean is asked for.
const expectedPoints = 64

// fewFrom is where in the lattice of normalPoints they begin: of all places, the one
// whose mean differences come nearest those of the whole lattice.
const fewFrom = 8

// few is a run of normalPoints, in pairs of opposite sign, made to have unit
// covariance exactly.
var few = sync.OnceValue(func() (out [expectedPoints][3]float64) {
	all := normalPoints()
	copy(out[:], all[fewFrom:])
	var cov [3][3]float64
	for _, z := range out {
		for i := range 3 {
			for j := range 3 {
				cov[i][j] += z[i] * z[j] / expectedPoints
			}
		}
	}
	l := factor3(cov)
	for p := range out {
		z := &out[p] // L z = z in place
		z[0] /= l[0][0]
		z[1] = (z[1] - l[1][0]*z[0]) / l[1][1]
		z[2] = (z[2] - l[2][0]*z[0] - l[2][1]*z[1]) / l[2][2]
	}
	return out
})

// ExpectedDE00 returns the mean CIEDE2000 between target and a colour whose L*,
// a*, b* are normal about mean with covariance cov: Landing's Expected to about
// 1 %, for an eighth of the cost. Searches that weigh thousands of batches ask
// for it.
func ExpectedDE00(target, mean [3]float64, cov [3][3]float64) float64 {
	l := factor3(cov)
	sum := 0.0
	for _, z := range few() {
		sum += color.Delta00(target, [3]float64{
			mean[0] + l[0][0]*z[0],
			mean[1] + l[1][0]*z[0] + l[1][1]*z[1],
			mean[2] + l[2][0]*z[0] + l[2][1]*z[1] + l[2][2]*z[2],
		})
	}
	return sum / expectedPoints
}
