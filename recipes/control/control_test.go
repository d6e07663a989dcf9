package control_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"masstone/recipes/control"
)

// near is InDelta that NaN fails.
func near(t testing.TB, want, got, delta float64, what ...any) {
	t.Helper()
	require.True(t, math.Abs(got-want) <= delta, "%g, want %g %s", got, want, fmt.Sprint(what...))
}

// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, "Individuals
// Control Limits for an Observation": flow rates of ten batches. Typed from
// memory; mean moving range and limits follow from the data to all digits.
func TestIndividuals(t *testing.T) {
	x := []float64{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}
	c := control.IndividualsOf(x, 0)
	near(t, 50.81, c.Mean, 5e-3)
	near(t, 1.8778, c.Sigma*1.128, 5e-5)
	near(t, 55.8041, c.Upper, 5e-5)
	near(t, 45.8159, c.Lower, 5e-5)
	require.Empty(t, c.Outside)

	x[4] = 40
	require.Equal(t, []int{4}, control.IndividualsOf(x, 0).Outside[:1])
	near(t, 2, control.IndividualsOf([]float64{1, 1, 1}, 2).Sigma, 0)
	near(t, 2, control.IndividualsOf([]float64{1}, 2).Sigma, 0)
}

// The same handbook, 6.3.2.3, "CUSUM Control Charts": twenty groups, level 325,
// k 0.3175, h 4.1959, and the columns of both sums as printed. Typed from
// memory; the printed sums follow from the data but for what two decimals round.
func TestCusum(t *testing.T) {
	x := []float64{324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
		324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350}
	high := []float64{0, 0, 0, 0, 0.03, 0, 0, 0, 0, 0, 0, 0, 3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04}
	low := []float64{0, 0.01, 0, 0.33, 0, 0, 0.56, 0.72, 0.17, 0.25, 0.31, 0, 0, 0, 0, 0, 0, 0, 0, 0}
	c := control.CusumOf(x, 325, 0.3175, 4.1959)
	for i := range x {
		near(t, high[i], c.High[i], 0.011, "high ", i)
		near(t, low[i], c.Low[i], 0.011, "low ", i)
	}
	require.Equal(t, []control.Signal{{At: 13, From: 12, Up: true}}, c.Signals, "the fourteenth group, first above h")
	require.Equal(t, &c.Signals[0], c.Standing())
}

// Montgomery, Introduction to Statistical Quality Control, table 9.2: thirty
// values, level 10, K 0.5, H 5. "The CUSUM calculations show that the upper-side
// CUSUM at period 29 is C+ = 5.28 ... N+ = 7 at period 29, the process was last
// in control at period 29 - 7 = 22." From memory.
func TestCusumOnset(t *testing.T) {
	x := []float64{9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.20, 10.34, 9.03, 11.47, 10.51, 9.40, 10.08,
		9.37, 10.62, 10.31, 8.52, 10.84, 10.90, 9.33, 12.29, 11.50, 10.60, 11.08, 10.38, 11.62, 11.31, 10.52}
	c := control.CusumOf(x, 10, 0.5, 5)
	near(t, 5.28, c.High[28], 5e-3)
	require.Equal(t, []control.Signal{{At: 28, From: 22, Up: true}}, c.Signals)
}

// The mean number of values until a signal, e-Handbook 6.3.2.3, table of
// "ARL's for CUSUM" with k 0.5: 465 without a shift for h 5, 168 for h 4; 10.4
// and 8.38 for a shift by one sigma. From memory. 4000 runs know the mean to
// 1.6 %; four such are allowed.
func TestCusumRunLength(t *testing.T) {
	for _, c := range []struct{ h, shift, want float64 }{{5, 0, 465}, {4, 0, 168}, {5, 1, 10.4}, {4, 1, 8.38}} {
		draw := rand.New(rand.NewPCG(1, 2))
		const runs = 4000
		sum := 0.0
		x := make([]float64, 0, 8000)
		for range runs {
			x = x[:0]
			for len(x) < cap(x) {
				for range min(cap(x)-len(x), max(16, len(x))) {
					x = append(x, c.shift+draw.NormFloat64())
				}
				if s := control.CusumOf(x, 0, control.UsualK, c.h).Signals; len(s) > 0 {
					sum += float64(s[0].At + 1)
					break
				}
			}
		}
		near(t, c.want, sum/runs, 0.064*c.want, c.h, " ", c.shift)
	}
}

// A shift of three sigma after quiet values is seen within three values, and dated
// to the one it began with.
func TestCusumFindsShift(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at, up := rapid.IntRange(3, 15).Draw(t, "at"), rapid.Bool().Draw(t, "up")
		x := make([]float64, at+8)
		for i := range x {
			x[i] = rapid.Float64Range(-0.4, 0.4).Draw(t, "noise")
			if i >= at {
				x[i] += map[bool]float64{true: 3, false: -3}[up]
			}
		}
		s := control.CusumOf(x, 0, control.UsualK, control.UsualH).Standing()
		require.NotNil(t, s)
		require.Equal(t, at, s.From)
		require.Equal(t, up, s.Up)
		require.LessOrEqual(t, s.At, at+2)
	})
}

// Where the difference is the distance of three independent normal values from
// their mean, its square is chi-squared with three degrees of freedom
// (gonum/stat/distuv). 512 points stand for the distribution.
func TestUpperDifference(t *testing.T) {
	distance := func(a, b [3]float64) float64 {
		return math.Sqrt((a[0]-b[0])*(a[0]-b[0]) + (a[1]-b[1])*(a[1]-b[1]) + (a[2]-b[2])*(a[2]-b[2]))
	}
	unit := [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	want := math.Sqrt(distuv.ChiSquared{K: 3}.Quantile(0.9973))
	c := control.DifferencesOf([]float64{1, 9, 2}, distance, [3]float64{50, 1, 2}, [3]float64{50, 1, 2}, unit)
	near(t, want, c.Upper, 0.08*want)
	near(t, 4, c.Mean, 1e-12)
	require.Equal(t, []int{1}, c.Outside)
}

// Independent values have their own covariance in successive differences, and a
// steady climb hardly adds to it.
func TestScatter(t *testing.T) {
	draw := rand.New(rand.NewPCG(3, 4))
	x := make([][3]float64, 20000)
	for i := range x {
		a, b := draw.NormFloat64(), draw.NormFloat64()
		x[i] = [3]float64{float64(i) / 100, a, 0.6*a + 0.8*b}
	}
	s := control.Scatter(x, 0.1)
	near(t, 0.01, s[0][0], 1e-9)
	near(t, 1, s[1][1], 0.05)
	near(t, 1, s[2][2], 0.05)
	near(t, 0.6, s[1][2], 0.05)
}

// Newcombe, Stat. Med. 17, 857 (1998), table I, method 5 (Clopper and Pearson),
// 95 %. From memory.
func TestShare(t *testing.T) {
	for _, c := range []struct {
		passed, of int
		low, high  float64
	}{{81, 263, 0.2527, 0.3676}, {15, 148, 0.0578, 0.1617}, {0, 20, 0, 0.1684}, {1, 29, 0.0009, 0.1776}} {
		s := control.ShareOf(c.passed, c.of, 0.95)
		near(t, c.low, s.Low, 5e-5, c)
		near(t, c.high, s.High, 5e-5, c)
		turned := control.ShareOf(c.of-c.passed, c.of, 0.95)
		near(t, 1-c.high, turned.Low, 5e-5)
	}
	require.Equal(t, 1.0, control.ShareOf(5, 5, 0.95).High)
	require.Equal(t, control.Share{Of: 0, High: 1}, control.ShareOf(0, 0, 0.95))
}

// JCGM 106:2012, 7.2.2.2, example 1 (a breakdown voltage read as -5.47 V, u 0.05
// V, at most -5.40 V: conformance probability 0.92), and table 1 (probability
// 0.80, 0.90, 0.95, 0.99, 0.999 at 0.84, 1.28, 1.64, 2.33, 3.09 u from the
// limit). From memory.
func TestGuardBand(t *testing.T) {
	for chance, z := range map[float64]float64{0.80: 0.84, 0.90: 1.28, 0.95: 1.64, 0.99: 2.33, 0.999: 3.09} {
		near(t, z, control.GuardBand(1, 1-chance), 6e-3, chance)
	}
	require.Less(t, control.GuardBand(0.05, 1-0.915), 0.07)
	require.Greater(t, control.GuardBand(0.05, 1-0.925), 0.07)

	for chance, want := range map[float64]control.Decision{1: control.Within, 0.95: control.Within, 0.949: control.Undecided, 0.05: control.Outside, 0.051: control.Undecided, 0: control.Outside} {
		assert.Equal(t, want, control.Decide(chance, 0.05), chance)
	}
}

func ExampleCusumOf() {
	x := []float64{0.1, -0.1, 0, 0.2, 0.9, 1.1, 0.8, 1.0}
	c := control.CusumOf(x, 0, 0.15, 1.5)
	fmt.Printf("seen at part %d, since part %d\n", c.Signals[0].At+1, c.Signals[0].From+1)
	// Output: seen at part 6, since part 4
}
