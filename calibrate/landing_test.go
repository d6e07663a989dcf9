package calibrate

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"

	"masstone/color"
)

// Land against a Monte Carlo of the same normal error.
func TestLandAgainstMonteCarlo(t *testing.T) {
	const draws = 200000
	diag := func(a, b, c float64) [3][3]float64 { return [3][3]float64{{a * a}, {0, b * b}, {0, 0, c * c}} }
	for _, c := range []struct {
		name         string
		target, mean [3]float64
		cov          [3][3]float64
		tolerance    float64
	}{
		{"on target, small bars", [3]float64{60, 20, -30}, [3]float64{60, 20, -30}, diag(0.1, 0.1, 0.1), 0.2},
		{"on target, wide bars", [3]float64{60, 20, -30}, [3]float64{60, 20, -30}, diag(1, 2, 3), 1},
		{"off target", [3]float64{40, -30, 15}, [3]float64{40.5, -29, 14}, diag(0.3, 0.4, 0.2), 1},
		{"along one line", [3]float64{70, 5, 60}, [3]float64{70.2, 5, 60.5}, [3][3]float64{{0.25, 0.2, -0.5}, {0.2, 0.16, -0.4}, {-0.5, -0.4, 1}}, 0.5},
		{"tied channels", [3]float64{30, 40, 20}, [3]float64{30, 40.3, 20}, [3][3]float64{{0.2, 0.1, -0.15}, {0.1, 0.5, 0.3}, {-0.15, 0.3, 0.6}}, 0.6},
		{"near neutral", [3]float64{50, 0, 0}, [3]float64{50, 0.1, -0.1}, diag(0.5, 0.5, 0.5), 0.5},
		{"blue, where the hue term turns", [3]float64{35, 20, -60}, [3]float64{35, 21, -59}, diag(0.5, 1.5, 1.5), 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(3, 9))
			l := factor3(c.cov)
			all := make([]float64, draws)
			within := 0.0
			for i := range all {
				p := c.mean
				z := [3]float64{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}
				for a := range 3 {
					for b := 0; b <= a; b++ {
						p[a] += l[a][b] * z[b]
					}
				}
				all[i] = color.Delta00(c.target, p)
				if all[i] <= c.tolerance {
					within += 1.0 / draws
				}
			}
			slices.Sort(all)
			got := Land(c.target, c.mean, c.cov, c.tolerance)
			mean, upper := stat.Mean(all, nil), stat.Quantile(0.95, stat.Empirical, all, nil)
			require.InEpsilon(t, mean, got.Expected, 0.01)
			require.InEpsilon(t, upper, got.Upper95, 0.04)
			require.InDelta(t, within, got.Chance, 0.03)
		})
	}
}

// Without error a pour lands where it is predicted.
func TestLandWithoutError(t *testing.T) {
	a, b := [3]float64{60, 20, -30}, [3]float64{61, 20, -30}
	d := color.Delta00(a, b)
	got := Land(a, b, [3][3]float64{}, d+1e-9)
	require.InDelta(t, d, got.Expected, 1e-12)
	require.InDelta(t, d, got.Upper95, 1e-12)
	require.InDelta(t, 1, got.Chance, 1e-12)
	require.Zero(t, Land(a, b, [3][3]float64{}, d-1e-9).Chance)
}

// Wider bars never bring a prediction on target nearer.
func TestLandGrowsWithTheBars(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lab := [3]float64{rapid.Float64Range(15, 95).Draw(t, "L"), rapid.Float64Range(-60, 60).Draw(t, "a"), rapid.Float64Range(-60, 60).Draw(t, "b")}
		var cov, wider [3][3]float64
		for i := range 3 {
			sd := rapid.Float64Range(0.01, 0.5).Draw(t, "sd")
			cov[i][i], wider[i][i] = sd*sd, 1.44*sd*sd
		}
		a, b := Land(lab, lab, cov, 0.3), Land(lab, lab, wider, 0.3)
		require.Greater(t, b.Expected, a.Expected)
		require.Greater(t, b.Upper95, a.Upper95)
		require.LessOrEqual(t, b.Chance, a.Chance+1e-12)
		require.Greater(t, a.Upper95, a.Expected)
	})
}

// The fixed points are as good as a normal distribution in what Land uses: mean,
// covariance, and the share within a distance.
func TestNormalPoints(t *testing.T) {
	points := normalPoints()
	var radius2 []float64
	for a := range 3 {
		for b := range 3 {
			sum := 0.0
			for _, z := range points {
				sum += z[a] * z[b] / landingPoints
			}
			want := 0.0
			if a == b {
				want = 1
			}
			require.InDelta(t, want, sum, 0.03, "%d %d", a, b)
		}
		mean := 0.0
		for _, z := range points {
			mean += z[a]
		}
		require.InDelta(t, 0, mean, 1e-9)
	}
	for _, z := range points {
		radius2 = append(radius2, z[0]*z[0]+z[1]*z[1]+z[2]*z[2])
	}
	slices.Sort(radius2)
	// chi-square with three degrees of freedom (NIST/SEMATECH e-Handbook of
	// Statistical Methods, 1.3.6.7.4)
	for _, c := range []struct{ share, point float64 }{{0.90, 6.251}, {0.95, 7.815}} {
		require.InEpsilon(t, c.point, stat.Quantile(c.share, stat.Empirical, radius2, nil), 0.08)
	}
}

func TestFactor3(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var g, c [3][3]float64
		rank := rapid.IntRange(0, 3).Draw(t, "rank")
		for i := range 3 {
			for k := range rank {
				g[i][k] = rapid.Float64Range(-2, 2).Draw(t, "g")
			}
		}
		for i := range 3 {
			for j := range 3 {
				for k := range 3 {
					c[i][j] += g[i][k] * g[j][k]
				}
			}
		}
		l := factor3(c)
		for i := range 3 {
			for j := range 3 {
				sum := 0.0
				for k := range 3 {
					sum += l[i][k] * l[j][k]
				}
				require.False(t, math.IsNaN(sum))
				require.InDelta(t, c[i][j], sum, 1e-6)
			}
		}
	})
}
