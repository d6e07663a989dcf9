package calibrate

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"masstone/color"
)

// sigma is the normal number as rare as the squared miss; chi-square points of
// three degrees of freedom and normal points from the NIST/SEMATECH e-Handbook of
// Statistical Methods, 1.3.6.7.1 and 1.3.6.7.4.
func TestSigma(t *testing.T) {
	for _, c := range []struct{ z2, want float64 }{
		{0, 0},
		{6.251, 1.645},  // 90 %
		{7.815, 1.960},  // 95 %
		{11.345, 2.576}, // 99 %
		{16.266, 3.291}, // 99.9 %
	} {
		require.InDelta(t, c.want, sigma(c.z2), 1e-3)
	}
	chi, normal := distuv.ChiSquared{K: 3}, distuv.UnitNormal
	for z2 := 0.01; z2 < 60; z2 *= 1.3 {
		require.InDelta(t, chi.Survival(z2), 2*normal.Survival(sigma(z2)), 1e-12, "z2 %g", z2)
	}
}

// A grossly wrong chip has a large, finite size that still grows with the miss.
func TestSigmaFarOut(t *testing.T) {
	last := 0.0
	for z := 1.0; z < 1e5; z *= 1.02 {
		s := sigma(z * z)
		require.False(t, math.IsInf(s, 0) || math.IsNaN(s), "z %g", z)
		require.LessOrEqual(t, s, z)
		require.Greater(t, s, last-1e-6, "z %g", z)
		last = s
	}
}

// A floor of one unit is one CIEDE2000 in every direction, and Widen multiplies
// standard deviations.
func TestWiden(t *testing.T) {
	lab := [3]float64{50, 30, -40}
	cov := ModelError{Widen: 1, Floor: 0.5}.widen([3][3]float64{}, lab)
	m := color.Metric00(lab)
	trace := 0.0
	for i := range 3 {
		for j := range 3 {
			trace += cov[i][j] * m[j][i]
		}
	}
	require.InDelta(t, 3*0.25, trace, 1e-9)
	twice := ModelError{Widen: 2}.widen([3][3]float64{{1, 0.2}, {0.2, 2}, {0, 0, 3}}, lab)
	require.Equal(t, [3][3]float64{{4, 0.8}, {0.8, 8}, {0, 0, 12}}, twice)
}

// Misses drawn wider than claimed call for wider bars, misses as claimed do not,
// and one gross miss among many does not move them.
func TestFitModelError(t *testing.T) {
	draw := func(scale float64, gross bool) []colourMiss {
		var out []colourMiss
		for i, z := range normalPoints() {
			if i >= 60 {
				break
			}
			m := colourMiss{measured: [3]float64{50, 20, 20}}
			for a := range 3 {
				m.claimed[a][a], m.reading[a][a] = 0.25, 0.0064
				m.miss[a] = scale * z[a] * math.Sqrt(0.25)
			}
			out = append(out, m)
		}
		if gross {
			out[7].miss = [3]float64{25, -10, 8}
		}
		return out
	}
	asClaimed := fitModelError(draw(1, false))
	require.LessOrEqual(t, asClaimed.Widen, 1.2)
	require.LessOrEqual(t, asClaimed.Floor, 0.1)
	wide := fitModelError(draw(3, false))
	require.Greater(t, wide.Widen, 2.0)
	require.Equal(t, asClaimed, fitModelError(draw(1, true)))
}
