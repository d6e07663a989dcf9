package ageing_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/recipes/ageing"
)

const noise = 0.08

// A resin that changes as the law says.
type resin struct {
	tau, sigma float64
	total      [3]float64
}

// part is a new part of the resin: where it ends, and what it reads as at an age.
func (r resin) part(draw *rand.Rand, sd float64) func(hours float64) [3]float64 {
	var d, s [3]float64
	for i := range 3 {
		d[i], s[i] = r.total[i]+r.sigma*draw.NormFloat64(), 100*draw.Float64()
	}
	return func(hours float64) (y [3]float64) {
		for i := range 3 {
			y[i] = s[i] - d[i]*math.Exp(-hours/r.tau) + sd*draw.NormFloat64()
		}
		return y
	}
}

func read(at func(float64) [3]float64, hours ...float64) []ageing.Reading {
	var out []ageing.Reading
	for _, h := range hours {
		out = append(out, ageing.Reading{Hours: h, Lab: at(h)})
	}
	return out
}

// TestNothingAssumed: without parts read at two ages no change is expected, and the
// bars are those of the prior: 0.5 (exp(-t/tau) - exp(-T/tau)) and what sigma adds,
// with tau between its 95 % ends.
func TestNothingAssumed(t *testing.T) {
	for name, parts := range map[string][][]ageing.Reading{
		"none":    nil,
		"one age": {{{Hours: 24, Lab: [3]float64{50, 1, 2}}, {Hours: 24, Lab: [3]float64{52, 1, 2}}}},
	} {
		d := ageing.Learn(parts, noise)
		require.Zero(t, d.Parts, name)
		change, cov := d.From(24)
		require.Equal(t, [3]float64{}, change, name)
		for i := range 3 {
			sd := math.Sqrt(cov[i][i])
			require.True(t, sd > 0.5*(math.Exp(-24/21.0)-math.Exp(-168/21.0)) && sd < 0.6, "%s: %g", name, sd)
			require.Zero(t, cov[i][(i+1)%3], name)
		}
		median, low, high := d.Tau()
		require.InDelta(t, 56, median, 3, name)
		require.InDelta(t, 56*math.Exp(-0.98), low, 4, name)
		require.InDelta(t, 56*math.Exp(0.98), high, 12, name)
	}
	change, cov := ageing.Learn(nil, noise).From(ageing.SettledHours)
	require.Equal(t, [3]float64{}, change)
	require.Equal(t, [3][3]float64{}, cov)
}

// TestLearnt: the law (1) without noise gives back what is left at each age, (2).
func TestLearnt(t *testing.T) {
	draw := rand.New(rand.NewPCG(5, 6))
	for name, r := range map[string]resin{
		"yellows": {tau: 40, total: [3]float64{-0.3, 0.1, 1.2}},
		"fades":   {tau: 80, total: [3]float64{0.8, -0.6, -0.5}},
		"still":   {tau: 56},
	} {
		var parts [][]ageing.Reading
		for range 6 {
			parts = append(parts, read(r.part(draw, 0), 4, 24, 72, 168, 400))
		}
		d := ageing.Learn(parts, 0.01)
		require.Equal(t, 6, d.Parts, name)
		for _, hours := range []float64{6, 24, 48, 120} {
			change, cov := d.From(hours)
			for i := range 3 {
				want := r.total[i] * (math.Exp(-hours/r.tau) - math.Exp(-168/r.tau))
				require.InDelta(t, want, change[i], 0.03, "%s at %g h", name, hours)
				require.True(t, math.Sqrt(cov[i][i]) < 0.06, "%s at %g h: %g", name, hours, math.Sqrt(cov[i][i]))
			}
		}
	}
}

// TestBarsHold: of parts that change in a known way, what a new one changes by until
// it is settled lies within 95 % bars 90 to 99 % of the time: where resins are as
// the priors have them however few parts taught it, and for one resin as it is
// once a dozen have. From few parts of one resin the bars may hold more.
func TestBarsHold(t *testing.T) {
	one := func(r resin) func(*rand.Rand) resin { return func(*rand.Rand) resin { return r } }
	for i, c := range []struct {
		name  string
		parts int
		resin func(*rand.Rand) resin
		most  float64
	}{
		{"as the priors, no part", 0, usual, 0.99},
		{"as the priors, 2 parts", 2, usual, 0.99},
		{"as the priors, 10 parts", 10, usual, 0.99},
		{"yellows, 3 parts", 3, one(resin{40, 0.1, [3]float64{-0.3, 0.1, 0.9}}), 1},
		{"yellows, 12 parts", 12, one(resin{40, 0.1, [3]float64{-0.3, 0.1, 0.9}}), 0.99},
		{"slow, 12 parts", 12, one(resin{100, 0.05, [3]float64{0.2, -0.4, 0.7}}), 0.99},
		{"parts differ, 6 parts", 6, one(resin{60, 0.3, [3]float64{0, 0, 0.5}}), 1},
		{"parts differ, 12 parts", 12, one(resin{60, 0.3, [3]float64{0, 0, 0.5}}), 0.99},
	} {
		draw := rand.New(rand.NewPCG(7, uint64(i)))
		held, of := 0, 0
		for range 300 {
			r := c.resin(draw)
			var parts [][]ageing.Reading
			for range c.parts {
				parts = append(parts, read(r.part(draw, noise), 24, []float64{72, 168, 240}[draw.IntN(3)]))
			}
			change, cov := ageing.Learn(parts, noise).From(24)
			part := r.part(draw, 0)
			now, then := part(24), part(ageing.SettledHours)
			for i := range 3 {
				of++
				if math.Abs(then[i]-now[i]-change[i]) <= 1.96*math.Sqrt(cov[i][i]) {
					held++
				}
			}
		}
		share := float64(held) / float64(of)
		t.Logf("%s: %.1f %% of %d", c.name, 100*share, of)
		assert.True(t, share >= 0.90 && share <= c.most, "%s: %.1f %%", c.name, 100*share)
	}
}

// usual draws a resin as the priors have them, but for the far end of sigma.
func usual(draw *rand.Rand) resin {
	r := resin{tau: 56 * math.Exp(0.5*draw.NormFloat64()), sigma: math.Abs(0.15 * draw.NormFloat64())}
	for i := range 3 {
		r.total[i] = 0.5 * draw.NormFloat64()
	}
	return r
}

// TestEvidence: parts in any order, and readings of a part in any order, tell the
// same; more parts leave less open; nothing leaves the range of numbers.
func TestEvidence(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var parts [][]ageing.Reading
		for range rapid.IntRange(1, 5).Draw(t, "parts") {
			var p []ageing.Reading
			for range rapid.IntRange(1, 4).Draw(t, "readings") {
				p = append(p, ageing.Reading{Hours: rapid.Float64Range(0.01, 1e6).Draw(t, "h"), Count: rapid.IntRange(0, 9).Draw(t, "n"),
					Lab: [3]float64{rapid.Float64Range(0, 100).Draw(t, "L"), rapid.Float64Range(-120, 120).Draw(t, "a"), rapid.Float64Range(-120, 120).Draw(t, "b")}})
			}
			parts = append(parts, p)
		}
		d := ageing.Learn(parts, noise)
		var turned [][]ageing.Reading
		for i := range parts {
			p := parts[len(parts)-1-i]
			var q []ageing.Reading
			for k := range p {
				q = append(q, p[len(p)-1-k])
			}
			turned = append(turned, q)
		}
		hours := rapid.Float64Range(0, 200).Draw(t, "age")
		change, cov := d.From(hours)
		again, covAgain := ageing.Learn(turned, noise).From(hours)
		for i := range 3 {
			require.True(t, math.Abs(change[i]-again[i]) <= 1e-6*(1+math.Abs(change[i])), "%v %v", change, again)
			require.True(t, math.Abs(cov[i][i]-covAgain[i][i]) <= 1e-6*(1+cov[i][i]))
			require.True(t, cov[i][i] >= 0)
		}
	})
}

// TestCountedReadings: the mean of four readings tells as much as the four.
func TestCountedReadings(t *testing.T) {
	var mean, single []ageing.Reading
	for i, hours := range []float64{24, 72, 168} {
		lab := [3]float64{60, 2, 5 + 0.3*float64(i)}
		mean = append(mean, ageing.Reading{Hours: hours, Lab: lab, Count: 4})
		for range 4 {
			single = append(single, ageing.Reading{Hours: hours, Lab: lab})
		}
	}
	change, cov := ageing.Learn([][]ageing.Reading{mean}, noise).From(24)
	want, wantCov := ageing.Learn([][]ageing.Reading{single}, noise).From(24)
	for i := range 3 {
		require.InDelta(t, want[i], change[i], 1e-9)
		require.InDelta(t, wantCov[i][i], cov[i][i], 1e-9)
	}
}

func ExampleLearn() {
	part := func(settled float64) []ageing.Reading { // yellows by 0.5 from a day on
		return []ageing.Reading{{Hours: 24, Lab: [3]float64{60, 2, settled - 0.5}}, {Hours: 168, Lab: [3]float64{60, 2, settled}}}
	}
	d := ageing.Learn([][]ageing.Reading{part(5), part(5.2), part(4.9), part(5.1)}, 0.02)
	change, cov := d.From(24)
	fmt.Printf("b* %+.2f until 7 d, %.2f either way (95 %%)\n", change[2], 1.96*math.Sqrt(cov[2][2]))
	// Output: b* +0.50 until 7 d, 0.04 either way (95 %)
}
