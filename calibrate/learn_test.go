package calibrate_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

// cast casts mixtures of a shop as chips.
func cast(s *virtualshop.Shop, rng *rand.Rand, mixtures []map[string]calibrate.PHR) []calibrate.Chip {
	var out []calibrate.Chip
	for i, mix := range mixtures {
		out = append(out, s.Cast(rng, s.Chip(fmt.Sprint("N", i+1), mix)))
	}
	return out
}

func TestLearnOfNothingChangesNothing(t *testing.T) {
	b := lots()
	for e, c := range b.cals {
		same, learned, err := c.Learn(nil, calibrate.LearnOptions{Bias: 0.3})
		require.NoError(t, err)
		assert.Equal(t, marshal(t, c), marshal(t, same), "%s", e)
		assert.Empty(t, learned.Chips)
	}
}

// The strength of a lot that is 15 % off is found again from a dozen chips,
// within what is claimed, in every kind of evidence.
func TestLearnFindsTheStrengthOfALot(t *testing.T) {
	b := lots()
	for _, e := range virtualshop.Evidences() {
		prior, err := b.cals[e].NewLot(b.drift(0.1))
		require.NoError(t, err)
		before := marshal(t, prior)
		var z2, n, sum float64
		for i, code := range b.shop.Codes {
			for j, strength := range []float64{0.85, 1.15} {
				rng := rand.New(rand.NewPCG(uint64(i), uint64(j)))
				mixtures := b.shop.Mixtures(rng, 12)
				for _, m := range mixtures {
					m[code] = b.shop.Level / 2
				}
				_, learned, err := prior.Learn(e.Of(cast(b.shop.WithLot(code, strength), rng, mixtures)), calibrate.LearnOptions{})
				require.NoError(t, err)
				got := learned.Strengths[code]
				z := (got.Ln - math.Log(strength)) / got.SD
				assert.Less(t, math.Abs(z), 3.0, "%s: %s of ln %.3f is learnt as %.3f +- %.3f", e, code, math.Log(strength), got.Ln, got.SD)
				assert.Less(t, got.SD, 0.06, "%s: %s", e, code)
				assert.Greater(t, got.Ln*math.Log(strength), 0.0)
				for other, s := range learned.Strengths {
					truth := 0.0
					if other == code {
						truth = math.Log(strength)
					}
					d := (s.Ln - truth) / s.SD
					z2 += d * d
					n++
				}
				assert.Less(t, learned.Surprise, 5.0, "%s: %s", e, code)
				sum += learned.Misfit / (2 * float64(len(b.shop.Codes)))
			}
		}
		t.Logf("%-12s mean squared strength error %.2f of the claimed, misfit %.2f", e, z2/n, sum)
		assert.Less(t, z2/n, 1.5, "%s: claims must be honest", e)
		assert.Less(t, sum, 1.5, "%s", e)
		assert.Equal(t, before, marshal(t, prior), "the receiver stays")
	}
}

// One chip of a new lot brings its mixtures home.
func TestLearnFromOneChip(t *testing.T) {
	b := lots()
	rng := rand.New(rand.NewPCG(5, 1))
	for _, e := range virtualshop.Evidences() {
		var old, updated, n float64
		for _, code := range b.shop.Codes[1:] {
			lot := b.shop.WithLot(code, 0.85)
			prior, err := b.cals[e].NewLot(map[string]float64{code: 0.1})
			require.NoError(t, err)
			chip := cast(lot, rng, []map[string]calibrate.PHR{{virtualshop.White: b.shop.Level, code: b.shop.Level / 2}})
			after, _, err := prior.Learn(e.Of(chip), calibrate.LearnOptions{})
			require.NoError(t, err)
			for _, share := range []calibrate.PHR{1. / 3, 1. / 6} {
				mix := map[string]calibrate.PHR{virtualshop.White: b.shop.Level * 0.7, code: b.shop.Level * share}
				old += off(t, b.cals[e], lot, mix)
				updated += off(t, after, lot, mix)
				n++
			}
		}
		t.Logf("%-12s dE00 of a lot 15 %% off: %.2f before, %.2f after one chip", e, old/n, updated/n)
		assert.Less(t, updated, 0.4*old, "%s", e)
	}
}

// off is the true CIEDE2000 of a prediction.
func off(t testing.TB, c *calibrate.Calibration, s *virtualshop.Shop, mix map[string]calibrate.PHR) float64 {
	t.Helper()
	p, err := c.Predict(calibrate.Sample{Loadings: mix, Setting: s.Setting}, color.D65Ten())
	require.NoError(t, err)
	d, err := p.Colors[0].Lab.DeltaE00(s.Color(mix, s.Setting, color.D65Ten()))
	require.NoError(t, err)
	return d
}

// unknowns is the covariance of a calibration's z.
func unknowns(t require.TestingT, c *calibrate.Calibration) *mat.SymDense {
	e, err := c.Evaluator(calibrate.Setting{Thickness: 3, Specular: color.SpecularIncluded})
	require.NoError(t, err)
	return e.Unknowns()
}

// Whatever is read, the covariance stays positive and grows in no direction.
func TestLearnNeverDoubtsMore(t *testing.T) {
	b := lots()
	rapid.Check(t, func(t *rapid.T) {
		e := rapid.SampledFrom(virtualshop.Evidences()).Draw(t, "evidence")
		prior, err := b.cals[e].NewLot(b.drift(rapid.Float64Range(0.02, 0.2).Draw(t, "drift")))
		require.NoError(t, err)
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		chips := e.Of(cast(b.shop, rng, b.shop.Mixtures(rng, rapid.IntRange(1, 4).Draw(t, "chips"))))
		o := calibrate.LearnOptions{Bias: rapid.SampledFrom([]float64{0, 0.2}).Draw(t, "bias"), Scatter: rapid.SampledFrom([]float64{0, 0.05}).Draw(t, "scatter")}
		after, _, err := prior.Learn(chips, o)
		require.NoError(t, err)
		p, q := unknowns(t, prior), unknowns(t, after)
		n := p.SymmetricDim()
		less := mat.NewSymDense(n, nil)
		for i := range n {
			for k := i; k < n; k++ {
				less.SetSym(i, k, p.At(i, k)-q.At(i, k))
			}
		}
		if v := smallest(q); !(v > -1e-12) {
			t.Fatalf("the covariance has an eigenvalue of %g", v)
		}
		if v := smallest(less); !(v > -1e-6) {
			t.Fatalf("the covariance grew by %g", -v)
		}
	})
}

func smallest(s *mat.SymDense) float64 {
	var eig mat.EigenSym
	if !eig.Factorize(s, false) {
		return math.NaN()
	}
	return slices.Min(eig.Values(nil))
}

// Chips may come in any order, and all at once or in turn.
func TestLearnInAnyOrder(t *testing.T) {
	b := lots()
	rng := rand.New(rand.NewPCG(9, 9))
	for _, e := range virtualshop.Evidences() {
		prior, err := b.cals[e].NewLot(b.drift(0.1))
		require.NoError(t, err)
		chips := e.Of(cast(b.shop.WithLot("RD", 0.9), rng, b.shop.Mixtures(rng, 4)))
		once, _, err := prior.Learn(chips, calibrate.LearnOptions{})
		require.NoError(t, err)
		slices.Reverse(chips)
		back, _, err := prior.Learn(chips, calibrate.LearnOptions{})
		require.NoError(t, err)
		turns := prior
		for i := range chips {
			turns, _, err = turns.Learn(chips[i:i+1], calibrate.LearnOptions{})
			require.NoError(t, err)
		}
		for _, mix := range b.shop.Mixtures(rng, 10) {
			sample := calibrate.Sample{Loadings: mix, Setting: b.shop.Setting}
			want, err := once.Predict(sample)
			require.NoError(t, err)
			for name, c := range map[string]*calibrate.Calibration{"reversed": back, "in turn": turns} {
				got, err := c.Predict(sample)
				require.NoError(t, err)
				d, err := got.Colors[0].Lab.DeltaE00(want.Colors[0].Lab)
				require.NoError(t, err)
				// in turn, the earlier chips are not linearised again
				assert.Less(t, d, map[string]float64{"reversed": 0.03, "in turn": 0.25}[name], "%s: %s", e, name)
			}
		}
	}
}

// Learning chips agrees with fitting them along with the others.
func TestLearnAsARefit(t *testing.T) {
	if underRace {
		t.Skip("many fits; run without -race")
	}
	b := lots()
	rng := rand.New(rand.NewPCG(2, 2))
	chips := cast(b.shop, rng, b.shop.Mixtures(rng, 8))
	unseen := b.shop.Mixtures(rng, 40)
	for _, e := range virtualshop.Evidences() {
		if e == virtualshop.ThreeLights && !whole {
			continue
		}
		c := b.cals[e]
		refit, err := calibrate.Fit(context.Background(), b.shop.Codes, e.Of(append(slices.Clone(b.chips), chips...)), calibrate.Options{Layer: calibrate.KubelkaMunk})
		require.NoError(t, err)
		learnt, _, err := c.Learn(e.Of(chips), calibrate.LearnOptions{})
		require.NoError(t, err)
		var before, after, fitted, apart, moved float64
		for _, mix := range unseen {
			n := float64(len(unseen))
			before += off(t, c, b.shop, mix) / n
			after += off(t, learnt, b.shop, mix) / n
			fitted += off(t, refit, b.shop, mix) / n
			p, err := learnt.Predict(calibrate.Sample{Loadings: mix, Setting: b.shop.Setting})
			require.NoError(t, err)
			q, err := refit.Predict(calibrate.Sample{Loadings: mix, Setting: b.shop.Setting})
			require.NoError(t, err)
			r, err := c.Predict(calibrate.Sample{Loadings: mix, Setting: b.shop.Setting})
			require.NoError(t, err)
			d, err := p.Colors[0].Lab.DeltaE00(q.Colors[0].Lab)
			require.NoError(t, err)
			apart += d / n
			d, err = r.Colors[0].Lab.DeltaE00(q.Colors[0].Lab)
			require.NoError(t, err)
			moved += d / n
		}
		t.Logf("%-12s mean dE00 %.3f before, %.3f learnt, %.3f fitted again; learnt and fitted %.3f apart of %.3f", e, before, after, fitted, apart, moved)
		assert.Less(t, apart, 0.75*moved, "%s", e)
		assert.Less(t, after, before+0.02, "%s", e)
	}
}

// Parts of one target deviate alike: what the first shows counts for the next of
// nearly the same loadings.
func TestLearnTheBiasOfATarget(t *testing.T) {
	b := lots()
	c := b.cals[virtualshop.Spectra]
	mix := map[string]calibrate.PHR{virtualshop.White: 1, "RD": 0.2}
	truth := b.shop.Reflectance(mix, b.shop.Setting)
	for i := range truth {
		truth[i] *= 1.04 // the part's finish
	}
	rng := rand.New(rand.NewPCG(1, 1))
	part := b.shop.Read(rng, b.shop.Chip("part", mix), truth)
	belief, learned, err := c.Learn([]calibrate.Chip{part}, calibrate.LearnOptions{Bias: 0.5})
	require.NoError(t, err)
	want := color.Delta00(learned.Chips[0].Before.Values(), learned.Chips[0].Measured.Values())
	got := color.Delta00(learned.Chips[0].After.Values(), learned.Chips[0].Measured.Values())
	assert.Greater(t, want, 0.5)
	assert.Less(t, got, 0.15)
	near := map[string]calibrate.PHR{virtualshop.White: 1, "RD": 0.21}
	assert.Less(t, math.Sqrt(covariance(t, belief, near, b.shop.Setting)[0][0]), 0.15, "of a bias of 0.5")
	w, err := color.WeightsFor(c.Main)
	require.NoError(t, err)
	p, err := belief.Predict(calibrate.Sample{Loadings: mix, Setting: b.shop.Setting})
	require.NoError(t, err)
	d, err := p.Colors[0].Lab.DeltaE00(w.Lab(&truth))
	require.NoError(t, err)
	assert.Less(t, d, 0.2)

	_, _, err = belief.Learn([]calibrate.Chip{part}, calibrate.LearnOptions{})
	assert.ErrorContains(t, err, "about one target already")
}

func TestLearnErrors(t *testing.T) {
	b := lots()
	c := b.cals[virtualshop.Spectra]
	good := b.chips[0]
	for _, tt := range []struct {
		name   string
		change func(*calibrate.Chip, *calibrate.LearnOptions)
		says   string
	}{
		{"unknown pigment", func(c *calibrate.Chip, _ *calibrate.LearnOptions) { c.Loadings = map[string]calibrate.PHR{"ZZ": 1} }, "ZZ"},
		{"no reading", func(c *calibrate.Chip, _ *calibrate.LearnOptions) { c.Spectrum, c.Labs = nil, nil }, "no reading"},
		{"bias", func(_ *calibrate.Chip, o *calibrate.LearnOptions) { o.Bias = math.NaN() }, "bias NaN"},
		{"scatter", func(_ *calibrate.Chip, o *calibrate.LearnOptions) { o.Scatter = 2 }, "scatter 2"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			chip, o := good, calibrate.LearnOptions{}
			tt.change(&chip, &o)
			_, _, err := c.Learn([]calibrate.Chip{chip}, o)
			assert.ErrorContains(t, err, tt.says)
		})
	}
}

// A loading slip is a surprise, a lot within its drift is none.
func TestLearnIsSurprised(t *testing.T) {
	b := lots()
	rng := rand.New(rand.NewPCG(8, 8))
	for _, e := range virtualshop.Evidences() {
		c, err := b.cals[e].NewLot(b.drift(0.1))
		require.NoError(t, err)
		mix := map[string]calibrate.PHR{virtualshop.White: b.shop.Level, "RD": b.shop.Level / 3}
		surprise := func(s *virtualshop.Shop, factor calibrate.PHR) float64 {
			chip := e.Of(cast(s, rng, []map[string]calibrate.PHR{mix}))
			chip[0].Loadings["RD"] *= factor
			_, learned, err := c.Learn(chip, calibrate.LearnOptions{})
			require.NoError(t, err)
			return learned.Surprise
		}
		assert.Less(t, surprise(b.shop, 1), 3.0, "%s", e)
		assert.Less(t, surprise(b.shop.WithLot("RD", 0.9), 1), 3.0, "%s", e)
		assert.Greater(t, surprise(b.shop, 2), 4.0, "%s", e)
		assert.Greater(t, surprise(b.shop, 0.1), 6.0, "%s", e)
	}
}

// More readings of a part weigh more; a scattering strength weighs less.
func TestLearnWeighsReadings(t *testing.T) {
	b := lots()
	c, err := b.cals[virtualshop.OneLight].NewLot(b.drift(0.1))
	require.NoError(t, err)
	rng := rand.New(rand.NewPCG(3, 3))
	chip := virtualshop.OneLight.Of(cast(b.shop, rng, []map[string]calibrate.PHR{{virtualshop.White: b.shop.Level, "RD": b.shop.Level / 3}}))
	sd := func(o calibrate.LearnOptions) float64 {
		_, learned, err := c.Learn(chip, o)
		require.NoError(t, err)
		return learned.Strengths["RD"].SD
	}
	one := sd(calibrate.LearnOptions{})
	assert.Less(t, sd(calibrate.LearnOptions{Readings: map[string]int{"N1": 9}}), one)
	assert.Greater(t, sd(calibrate.LearnOptions{Scatter: 0.1}), one)
}

// Searches in an updated calibration allocate no more than in a calibration: nothing.
func TestUpdatedEvaluatesWithoutAllocating(t *testing.T) {
	b := lots()
	c, err := b.cals[virtualshop.Spectra].NewLot(b.drift(0.1))
	require.NoError(t, err)
	updated, _, err := c.Learn(b.chips[5:6], calibrate.LearnOptions{Bias: 0.2})
	require.NoError(t, err)
	e, err := updated.Evaluator(b.shop.Setting)
	require.NoError(t, err)
	pigments, phr, grad := []int{1, 3}, []float64{1, 0.2}, make([][3]float64, 2)
	allocs := testing.AllocsPerRun(100, func() {
		e.Set(pigments, phr)
		e.LabGradient(0, grad)
		e.Covariance()
	})
	assert.Zero(t, allocs)
}

// A chip of a new lot tells how strong the lot is.
func ExampleCalibration_Learn() {
	b := lots()
	newLot, err := b.cals[virtualshop.Spectra].NewLot(map[string]float64{"RD": 0.1})
	if err != nil {
		fmt.Println(err)
		return
	}
	chip := b.shop.WithLot("RD", 0.85).Cast(rand.New(rand.NewPCG(1, 2)), b.shop.Chip("RD new lot", map[string]calibrate.PHR{"WH": 1, "RD": 0.5}))
	_, learned, err := newLot.Learn([]calibrate.Chip{chip}, calibrate.LearnOptions{})
	fmt.Printf("ln strength %.1f, known to 0.05: %t, error %v\n", learned.Strengths["RD"].Ln, learned.Strengths["RD"].SD < 0.05, err)
	// Output: ln strength -0.2, known to 0.05: true, error <nil>
}

func BenchmarkLearn(b *testing.B) {
	l := lots()
	for _, e := range virtualshop.Evidences() {
		b.Run(string(e), func(b *testing.B) {
			prior, err := l.cals[e].NewLot(l.drift(0.1))
			require.NoError(b, err)
			chip := e.Of(l.chips[5:6])
			b.ReportAllocs()
			for b.Loop() {
				if _, _, err := prior.Learn(chip, calibrate.LearnOptions{Bias: 0.2}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
