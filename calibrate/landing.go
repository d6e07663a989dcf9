package calibrate

import (
	"math"
	"slices"
	"sync"

	"masstone/color"
)

// landingPoints is how many points stand for an error distribution.
const landingPoints = 512

// normalPoints returns a fixed set of points that fill a standard normal
// distribution in three dimensions evenly: a rank-one lattice of the plastic
// number (Roberts 2018) through the normal quantile, in pairs of opposite sign
// so that their mean is exactly 0.
var normalPoints = sync.OnceValue(func() [landingPoints][3]float64 {
	const g = 1.22074408460575947536 // root of x^4 = x + 1
	var out [landingPoints][3]float64
	for i := 0; i < landingPoints; i += 2 {
		for k, a := range [3]float64{1 / g, 1 / (g * g), 1 / (g * g * g)} {
			_, u := math.Modf(0.5 + a*float64(i/2+1))
			z := math.Sqrt2 * math.Erfinv(2*u-1)
			out[i][k], out[i+1][k] = z, -z
		}
	}
	// the lattice is finite: take out what its axes share and give each unit
	// variance
	for k := range 3 {
		for j := range k {
			sum := 0.0
			for i := range out {
				sum += out[i][k] * out[i][j] / landingPoints
			}
			for i := range out {
				out[i][k] -= sum * out[i][j]
			}
		}
		sum := 0.0
		for i := range out {
			sum += out[i][k] * out[i][k]
		}
		f := math.Sqrt(landingPoints / sum)
		for i := range out {
			out[i][k] *= f
		}
	}
	return out
})

// Landing is where a pour lands: the CIEDE2000 between a target and a colour
// that is only known up to a normal error.
type Landing struct {
	Expected float64 // mean CIEDE2000
	Upper95  float64 // 95 % of pours land at or below
	Chance   float64 // share of pours within the tolerance
}

// Land returns the distribution of the CIEDE2000 between target and a colour
// whose L*, a*, b* are normal about mean with covariance cov.
func Land(target, mean [3]float64, cov [3][3]float64, tolerance float64) Landing {
	var all [landingPoints]float64
	land(color.Delta00, target, mean, cov, &all)
	var out Landing
	for _, d := range all {
		out.Expected += d / landingPoints
		if d <= tolerance {
			out.Chance += 1.0 / landingPoints
		}
	}
	slices.Sort(all[:])
	rank := 0.95*landingPoints - 0.5
	lo := int(math.Floor(rank))
	out.Upper95 = all[lo] + (rank-float64(lo))*(all[lo+1]-all[lo])
	return out
}

// Differences returns evenly likely differences, smallest first, between target
// and a colour whose L*, a*, b* are normal about mean with covariance cov.
func Differences(between func(std, sample [3]float64) float64, target, mean [3]float64, cov [3][3]float64) []float64 {
	var all [landingPoints]float64
	land(between, target, mean, cov, &all)
	slices.Sort(all[:])
	return all[:]
}

func land(between func(std, sample [3]float64) float64, target, mean [3]float64, cov [3][3]float64, all *[landingPoints]float64) {
	l := factor3(cov)
	for i, z := range normalPoints() {
		all[i] = between(target, [3]float64{
			mean[0] + l[0][0]*z[0],
			mean[1] + l[1][0]*z[0] + l[1][1]*z[1],
			mean[2] + l[2][0]*z[0] + l[2][1]*z[1] + l[2][2]*z[2],
		})
	}
}

// factor3 returns the lower Cholesky factor of a covariance; directions
// without variance stay without.
func factor3(c [3][3]float64) (l [3][3]float64) {
	for i := range 3 {
		for j := 0; j <= i; j++ {
			v := c[i][j]
			for k := range j {
				v -= l[i][k] * l[j][k]
			}
			switch {
			case i == j:
				l[i][i] = math.Sqrt(math.Max(v, 0))
			case l[j][j] > 0:
				// a pivot that is all rounding must not make more of the
				// diagonal than is left of it
				left := c[i][i]
				for k := range j {
					left -= l[i][k] * l[i][k]
				}
				most := math.Sqrt(math.Max(left, 0))
				l[i][j] = math.Min(math.Max(v/l[j][j], -most), most)
			}
		}
	}
	return l
}
