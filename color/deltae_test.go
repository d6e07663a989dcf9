package color

import (
	"math"
	"testing"

	"github.com/lucasb-eyer/go-colorful"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Sharma, Wu, Dalal 2005, Table 1: four decimals printed.
func TestDelta00ReproducesThePublishedPairs(t *testing.T) {
	rows := readFigures(t, "sharma2005/pairs.csv")
	require.Len(t, rows, 34)
	for _, row := range rows {
		x, y := row.triple(t, "L1", "a1", "b1"), row.triple(t, "L2", "a2", "b2")
		want := row.num(t, "dE00")
		assert.InDelta(t, want, Delta00(x, y), 5e-5, "pair %s", row["pair"])
		assert.InDelta(t, want, Delta00(y, x), 5e-5, "pair %s swapped", row["pair"])
	}
}

// difference-formulas: five decimals kept, so half of the last is the most the
// digits allow.
func TestDifferenceFormulasReproduceTheFigures(t *testing.T) {
	const digits = 5.000001e-6
	for _, row := range readFigures(t, "difference-formulas/pairs.csv") {
		x, y := row.triple(t, "L1", "a1", "b1"), row.triple(t, "L2", "a2", "b2")
		for column, f := range map[string]Formula{
			"dE76": CIE76, "dE94_graphic": CIE94, "dE94_textile": CIE94Textile,
			"cmc_2_1": CMC21, "cmc_1_1": CMC11, "dE00": CIEDE2000,
		} {
			got, err := f.Between(x, y)
			require.NoError(t, err)
			assert.InDelta(t, row.num(t, column), got, digits, "pair %s, %s", row["pair"], f)
		}
	}
}

// ISO 105-J03: S_L is 0.511 below a standard of L* = 16 and 0.040975 L* / (1 +
// 0.01765 L*) from there up. Of two greys a lightness apart nothing else is left,
// so the difference is 1 / (l S_L); worked by hand on both sides of the knee.
func TestCMCLightnessTurnsAtSixteen(t *testing.T) {
	for l1, sl := range map[float64]float64{
		2: 0.511, 10: 0.511, 15: 0.511, 15.99: 0.511,
		16: 0.6556 / 1.2824, 17: 0.696575 / 1.30005, 20: 0.8195 / 1.353, 50: 2.04875 / 1.8825,
	} {
		std, sample := [3]float64{l1, 0, 0}, [3]float64{l1 + 1, 0, 0}
		assert.InDelta(t, 1/sl, DeltaCMC(std, sample, 1, 1), 1e-9, "L* %g", l1)
		assert.InDelta(t, 1/(2*sl), DeltaCMC(std, sample, 2, 1), 1e-9, "L* %g", l1)
	}
}

// go-colorful computes CIEDE2000 on its own from Lab in 0 to 1. It takes the
// other branch by rounding where hues are half a turn apart, so those are left
// out. Its Lab makes a detour through RGB, which costs some digits.
func TestDelta00AgreesWithGoColorful(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y := drawLab(t, "std"), drawLab(t, "sample")
		dh := math.Abs(hueDegrees(x[1], x[2]) - hueDegrees(y[1], y[2]))
		if math.Abs(dh-180) < 1e-3 || math.Hypot(x[1], x[2]) < 0.01 || math.Hypot(y[1], y[2]) < 0.01 {
			return
		}
		other := 100 * theirs(x).DistanceCIEDE2000(theirs(y))
		if got := Delta00(x, y); !(math.Abs(got-other) <= 1e-4) {
			t.Fatalf("%v %v: %.9f, go-colorful %.9f", x, y, got, other)
		}
	})
}

func theirs(v [3]float64) colorful.Color {
	return colorful.Lab(v[0]/100, v[1]/100, v[2]/100)
}

func TestDifferencesAreNilOnThemselvesAndNeverNegative(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y := drawLab(t, "std"), drawLab(t, "sample")
		for _, f := range Formulas() {
			same, err := f.Between(x, x)
			if err != nil || !(same <= 1e-12) {
				t.Fatalf("%s of %v with itself: %g %v", f, x, same, err)
			}
			if d, _ := f.Between(x, y); !(d >= 0) || math.IsInf(d, 0) {
				t.Fatalf("%s of %v and %v: %g", f, x, y, d)
			}
		}
		for _, f := range []Formula{CIEDE2000, CIE76} {
			there, _ := f.Between(x, y)
			back, _ := f.Between(y, x)
			if !(math.Abs(there-back) <= 1e-9) {
				t.Fatalf("%s of %v and %v: %.12f one way, %.12f the other", f, x, y, there, back)
			}
		}
	})
}

// The signed parts of (7) must rebuild dE76 of (7).
func TestPartsAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y := drawLab(t, "std"), drawLab(t, "sample")
		dl, dc, dh := parts(x, y)
		total, want := math.Sqrt(dl*dl+dc*dc+dh*dh), Delta76(x, y)
		if !(math.Abs(total-want) <= 1e-6) {
			t.Fatalf("%v %v: parts %g, dE76 %g", x, y, total, want)
		}
	})
}

func TestNeutralsAndHalfTurns(t *testing.T) {
	negativeZero := math.Copysign(0, -1)
	for _, c := range []struct{ x, y [3]float64 }{
		{[3]float64{50, 0, 0}, [3]float64{50, 10, 0}},
		{[3]float64{50, negativeZero, 0}, [3]float64{50, 10, negativeZero}},
		{[3]float64{50, 10, 0}, [3]float64{50, -10, 0}},
		{[3]float64{50, 0, -30}, [3]float64{50, 0, 30}},
	} {
		for _, f := range Formulas() {
			d, err := f.Between(c.x, c.y)
			require.NoError(t, err)
			assert.Greater(t, d, 1.0, "%s %v %v", f, c.x, c.y)
		}
		assert.Equal(t, Delta00(c.x, c.y), Delta00(c.y, c.x))
	}
	assert.Zero(t, Delta00([3]float64{0, 0, 0}, [3]float64{0, negativeZero, negativeZero}))
}

// drawLab draws a colour over the range of real surfaces and past it.
func drawLab(t *rapid.T, name string) [3]float64 {
	return [3]float64{
		rapid.Float64Range(0, 100).Draw(t, name+" L"),
		rapid.Float64Range(-110, 110).Draw(t, name+" a"),
		rapid.Float64Range(-110, 110).Draw(t, name+" b"),
	}
}

var sink float64

func BenchmarkDelta00(b *testing.B) {
	x, y := [3]float64{50, 2.6772, -79.7751}, [3]float64{50, 0, -82.7485}
	b.ReportAllocs()
	for b.Loop() {
		sink = Delta00(x, y)
	}
}
