package castplan_test

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

// small is a shop of six pigments, calibrated once from its starting plan.
var small = sync.OnceValues(func() (*world, map[virtualshop.Evidence]*calibrate.Calibration) {
	w := newWorld(virtualshop.Painted(1, 6), 1, calibrate.KubelkaMunk)
	start, err := castplan.Start(castplan.Shelf{Pigments: w.Codes, Whites: []string{virtualshop.White}, PerColour: 2, Level: w.Level}, w.bench)
	if err != nil {
		panic(err)
	}
	chips := w.cast(rand.New(rand.NewPCG(1, 's')), start)
	all := map[virtualshop.Evidence]*calibrate.Calibration{}
	for _, e := range virtualshop.Evidences() {
		if all[e], err = calibrate.Fit(context.Background(), w.Codes, e.Of(chips), calibrate.Options{Layer: w.layer}); err != nil {
			panic(err)
		}
	}
	return w, all
})

// What is expected never rises by casting, and falls the most by the chip
// rated first.
func TestExpectationNeverRises(t *testing.T) {
	w, all := small()
	for _, e := range virtualshop.Evidences() {
		c := all[e]
		full := w.request(t, c, 0)
		chip := rapid.SampledFrom(full.Candidates)
		mixture := rapid.SampledFrom(full.Interest)
		rapid.Check(t, func(t *rapid.T) {
			r := castplan.Request{Reading: full.Reading, Count: 4,
				Candidates: rapid.SliceOfN(chip, 1, 6).Draw(t, "candidates"),
				Interest:   rapid.SliceOfN(mixture, 1, 5).Draw(t, "mixtures")}
			plan, err := castplan.Next(context.Background(), c, r)
			require.NoError(t, err)
			require.Len(t, plan.Steps, min(4, len(r.Candidates)))
			rated, err := castplan.Rate(context.Background(), c, r)
			require.NoError(t, err)
			require.InDelta(t, rated[0].After, plan.Steps[0].After, 1e-9)
			was := plan.Before
			for _, s := range plan.Steps {
				require.LessOrEqual(t, s.After, was+1e-9)
				require.LessOrEqual(t, s.HelpsAfter, s.HelpsBefore+1e-9)
				require.Greater(t, s.After, 0.0)
				was = s.After
			}
			for _, one := range rated {
				require.LessOrEqual(t, one.After, plan.Before+1e-9)
				require.GreaterOrEqual(t, one.After, rated[0].After)
			}
		})
	}
}

// A chip of the very mixture of interest is among the best tenth of all chips to
// cast for it, where it can be weighed: every loading twenty steps and more.
func TestVeryMixtureRanksHigh(t *testing.T) {
	if underRace {
		t.Skip("a study of figures; run without -race")
	}
	w, all := small()
	for _, e := range virtualshop.Evidences() {
		c, tried := all[e], 0
		for i, m := range w.Mixtures(rand.New(rand.NewPCG(1, 'm')), 60) {
			r := w.request(t, c, 0)
			r.Interest = []castplan.Interest{{Loadings: m, Setting: w.Setting}}
			own, err := castplan.ChipsOf(w.bench, r.Interest)
			require.NoError(t, err)
			require.Len(t, own, 1)
			least := calibrate.Grams(math.Inf(1))
			for _, grams := range own[0].Grams {
				least = min(least, grams)
			}
			if least < 20*w.ScaleGrams {
				continue
			}
			tried++
			r.Candidates = append(r.Candidates, own[0])
			rated, err := castplan.Rate(context.Background(), c, r)
			require.NoError(t, err)
			place := slices.IndexFunc(rated, func(o castplan.Rated) bool { return o.Name == own[0].Name })
			require.Less(t, place, len(rated)/10, "%s, mixture %d: %v", e, i, m)
		}
		require.Greater(t, tried, 10)
	}
}

// What a plan starts from is what the calibration says of the same mixtures:
// the mean length of (3) against the mean over the whole distribution.
func TestClaimAgreesWithPredict(t *testing.T) {
	w, all := small()
	c := all[virtualshop.Spectra]
	r := w.request(t, c, 0)
	want := 0.0
	for _, m := range r.Interest {
		p, err := c.Predict(calibrate.Sample{Loadings: m.Loadings, Setting: m.Setting})
		require.NoError(t, err)
		want += p.Colors[0].Expected / float64(len(r.Interest))
	}
	got, err := castplan.Claim(c, r.Interest)
	require.NoError(t, err)
	require.InEpsilon(t, want, got, 0.02)
}

// The promise is kept: after the chips of a plan are read and fitted, the
// calibration's own claim has fallen to within a third of the figure promised.
func TestPromiseIsKept(t *testing.T) {
	if underRace {
		t.Skip("a study of figures; run without -race")
	}
	w, all := small()
	for _, e := range virtualshop.Evidences() {
		r := w.request(t, all[e], 5)
		plan, err := castplan.Next(context.Background(), all[e], r)
		require.NoError(t, err)
		rng := rand.New(rand.NewPCG(1, 's')) // the chips that small was made from
		chips := w.cast(rng, w.start(t, 2))
		for _, s := range plan.Steps {
			chips = append(chips, w.Cast(rng, s.Evidence()))
		}
		after, err := castplan.Claim(w.fit(t, e, chips), r.Interest)
		require.NoError(t, err)
		promised := plan.Steps[4].After
		t.Logf("%s: %.3f, promised %.3f, kept %.3f", e, plan.Before, promised, after)
		require.Less(t, after, plan.Before)
		require.Less(t, after, promised*4/3)
	}
}

// Less noise, a finer scale and a better instrument never teach less.
func TestBetterReadingTeachesMore(t *testing.T) {
	w, all := small()
	c := all[virtualshop.ThreeLights]
	r := w.request(t, c, 0)
	byName := func(r castplan.Request) map[string]float64 {
		rated, err := castplan.Rate(context.Background(), c, r)
		require.NoError(t, err)
		out := map[string]float64{}
		for _, o := range rated {
			out[o.Name] = o.After
		}
		return out
	}
	usual := byName(r)
	one := r
	one.Reading.Lights = one.Reading.Lights[:1]
	fine, exact := r, *w.bench
	exact.ScaleGrams /= 1000
	fine.Candidates = slices.Clone(r.Candidates)
	for i := range fine.Candidates {
		fine.Candidates[i].Bench = &exact
	}
	oneLight, fineScale := byName(one), byName(fine)
	gain := 0.0
	for name, v := range usual {
		require.LessOrEqual(t, v, oneLight[name]+1e-4, name)
		require.LessOrEqual(t, fineScale[name], v+1e-4, name)
		gain = max(gain, v-fineScale[name])
	}
	require.Greater(t, gain, 1e-3, "the scale counts")
}

// A chip once cast under the name the plan gives it is not proposed again.
func TestCastChipsAreNotProposed(t *testing.T) {
	w, all := small()
	r := w.request(t, all[virtualshop.Spectra], 0)
	for _, chip := range w.start(t, 2) {
		require.False(t, slices.ContainsFunc(r.Candidates, func(o castplan.Chip) bool { return o.Name == chip.Name }), chip.Name)
	}
	names := map[string]bool{}
	for _, chip := range r.Candidates {
		require.False(t, names[chip.Name], "%s twice", chip.Name)
		names[chip.Name] = true
		evidence := chip.Evidence()
		evidence.Labs = []color.Lab{{L: 50, Under: color.D65Ten()}}
		require.NoError(t, evidence.Check())
	}
}

func TestPlanErrors(t *testing.T) {
	w, all := small()
	c := all[virtualshop.ThreeLights]
	good := w.request(t, c, 2)
	strange := map[string]calibrate.PHR{"XX": 1}
	for name, k := range map[string]struct {
		change func(*castplan.Request)
		want   string
	}{
		"no interest":     {func(r *castplan.Request) { r.Interest = nil }, "nothing to plan for"},
		"no reading":      {func(r *castplan.Request) { r.Reading = castplan.Reading{} }, "no way to read a chip"},
		"light":           {func(r *castplan.Request) { r.Reading.Lights = []color.Condition{{Illuminant: "X", Observer: 10}} }, "X"},
		"strange mixture": {func(r *castplan.Request) { r.Interest = []castplan.Interest{{Loadings: strange, Setting: w.Setting}} }, "mixture of interest 1: pigment XX"},
		"strange setting": {func(r *castplan.Request) { r.Interest = []castplan.Interest{{}} }, "mixture of interest 1: thickness"},
		"strange chip": {func(r *castplan.Request) {
			chip := r.Candidates[0]
			chip.Loadings, chip.Name = strange, "odd"
			r.Candidates = []castplan.Chip{chip}
		}, "chip odd: pigment XX"},
		"infinite mixture": {func(r *castplan.Request) {
			r.Interest = []castplan.Interest{{Loadings: map[string]calibrate.PHR{"WH": calibrate.PHR(math.NaN())}, Setting: w.Setting}}
		}, "mixture of interest 1"},
	} {
		r := good
		k.change(&r)
		_, err := castplan.Next(context.Background(), c, r)
		require.ErrorContains(t, err, k.want, name)
		_, err = castplan.Rate(context.Background(), c, r)
		require.ErrorContains(t, err, k.want, name)
	}
	stopped, stop := context.WithCancel(context.Background())
	stop()
	_, err := castplan.Next(stopped, c, good)
	require.ErrorIs(t, err, context.Canceled)
	none := good
	none.Count = 0
	plan, err := castplan.Next(context.Background(), c, none)
	require.NoError(t, err)
	require.Empty(t, plan.Steps)
	require.Greater(t, plan.Before, 0.0)
}
