package calibrate

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// randomLanding is a target, a colour some way off it and a covariance of any
// shape, from a hundredth of a unit to several.
func randomLanding(rng *rand.Rand) (target, mean [3]float64, cov [3][3]float64) {
	target = [3]float64{10 + 85*rng.Float64(), 120 * (rng.Float64() - 0.5), 120 * (rng.Float64() - 0.5)}
	size, off := math.Pow(10, 2.5*rng.Float64()-2), math.Pow(10, 3*rng.Float64()-2.5)
	var f [3][3]float64
	for i := range f {
		mean[i] = target[i] + off*rng.NormFloat64()
		for j := range f {
			f[i][j] = size * rng.NormFloat64()
		}
	}
	for i := range f {
		for j := range f {
			for k := range f {
				cov[i][j] += f[i][k] * f[j][k]
			}
		}
	}
	return target, mean, cov
}

// The few points against Land's 512, whose own error
// TestLandAgainstMonteCarlo bounds.
func TestExpectedAgainstLand(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 4))
	sum, worst := 0.0, 0.0
	const n = 2000
	for range n {
		target, mean, cov := randomLanding(rng)
		want := Land(target, mean, cov, 1).Expected
		off := ExpectedDE00(target, mean, cov)/want - 1
		require.LessOrEqual(t, math.Abs(off), 0.05)
		sum += off * off
		worst = math.Max(worst, math.Abs(off))
	}
	rms := math.Sqrt(sum / n)
	t.Logf("root mean square %.2f %%, worst %.2f %%", 100*rms, 100*worst)
	require.LessOrEqual(t, rms, 0.01)
}

func TestExpectedWithoutDoubt(t *testing.T) {
	target, mean := [3]float64{50, 2.6772, -79.7751}, [3]float64{50, 0, -82.7485}
	require.InDelta(t, 2.0425, ExpectedDE00(target, mean, [3][3]float64{}), 5e-5) // Sharma, Wu, Dalal 2005, pair 1
}

func BenchmarkExpectedDE00(b *testing.B) {
	target, mean, cov := randomLanding(rand.New(rand.NewPCG(1, 1)))
	b.ReportAllocs()
	for b.Loop() {
		ExpectedDE00(target, mean, cov)
	}
}

func BenchmarkLand(b *testing.B) {
	target, mean, cov := randomLanding(rand.New(rand.NewPCG(1, 1)))
	b.ReportAllocs()
	for b.Loop() {
		Land(target, mean, cov, 1)
	}
}
