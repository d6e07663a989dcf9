package recipes_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/calibrate/virtualshop"
	"masstone/color"
	"masstone/recipes"
)

// A way is how a caster comes from a shelf of pastes to a part in tolerance.
type way string

const (
	longWay  way = "long"  // every paste calibrated first
	shortWay way = "short" // the pastes of the target, then what pays
)

// mostPours is how many pours a target is given up after.
const mostPours = 5

// A caster is an invented shop with its bench, and one kind of reading.
type caster struct {
	*virtualshop.Shop
	bench    *castplan.Bench
	evidence virtualshop.Evidence
	pastes   []castplan.Paste
	whole    *calibrate.Calibration // of the long way
	cups     int                    // that it took
}

func newCaster(t testing.TB, s *virtualshop.Shop, e virtualshop.Evidence) *caster {
	t.Helper()
	w := &caster{Shop: s, evidence: e, bench: &castplan.Bench{ChipGrams: s.ChipGrams, ScaleGrams: s.ScaleGrams, Thickness: s.Setting.Thickness,
		Measurement: color.Measurement{Geometry: color.Sphere, Specular: s.Setting.Specular},
		Backings:    []castplan.Backing{{Name: "white", Reflectance: s.Setting.Backing}, {Name: "black", Reflectance: s.Dark}}}}
	w.pastes = append(w.pastes, castplan.Paste{Code: virtualshop.White, Kind: castplan.WhitePaste})
	for _, code := range s.Codes[1:] {
		mix := map[string]calibrate.PHR{virtualshop.White: s.Level, code: s.Level / 4}
		w.pastes = append(w.pastes, castplan.PasteOfTint(code, s.Color(mix, s.Setting, color.D65Ten())))
	}
	return w
}

// reading is how chips are read.
func (w *caster) reading() castplan.Reading {
	switch w.evidence {
	case virtualshop.Spectra:
		return castplan.Reading{Spectrum: true}
	case virtualshop.ThreeLights:
		return castplan.Reading{Lights: virtualshop.Lights()}
	}
	return castplan.Reading{Lights: virtualshop.Lights()[:1]}
}

// start casts the first chips of some pastes and counts their cups.
func (w *caster) start(t testing.TB, rng *rand.Rand, codes []string, perColour int) (chips []calibrate.Chip, cups int) {
	t.Helper()
	first, err := castplan.Start(castplan.Shelf{Pigments: codes, Whites: []string{virtualshop.White}, PerColour: perColour, Reading: w.reading(), Level: w.Level}, w.bench)
	require.NoError(t, err)
	for _, c := range first {
		chips = append(chips, w.Cast(rng, c.Evidence()))
	}
	castings := map[string]bool{}
	for _, c := range chips {
		castings[fmt.Sprint(c.Loadings)] = true
	}
	return chips, len(castings)
}

func (w *caster) fit(t testing.TB, codes []string, chips []calibrate.Chip) *calibrate.Calibration {
	t.Helper()
	c, err := calibrate.Fit(context.Background(), codes, w.evidence.Of(chips), calibrate.Options{Layer: calibrate.KubelkaMunk})
	require.NoError(t, err)
	return c
}

// wanted is a part of a mixture as a client's, read three times.
func (w *caster) wanted(rng *rand.Rand, mix map[string]calibrate.PHR) recipes.Target {
	part := w.evidence.Of([]calibrate.Chip{w.Read(rng, w.Chip("part", mix), w.Reflectance(mix, w.Setting))})[0]
	return recipes.Target{Name: "part", Labs: part.Labs, Spectrum: part.Spectrum, Readings: 3, Setting: w.Setting}
}

// A course is what one target took.
type wayTaken struct {
	chips, cups int
	pours       int       // until the first within 1.0, mostPours + 1 if none
	claimed     float64   // chance of the first pour
	missed      []float64 // CIEDE2000 of every pour
}

func (k wayTaken) castings() int { return k.cups + k.pours }

var wayLimits = recipes.Limits{BatchGrams: 100, ScaleGrams: 0.01, Recipes: mostWatched}

const mostWatched = 5

// go casts until a part lands within 1.0 of the target.
func (w *caster) take(t testing.TB, rng *rand.Rand, by way, target recipes.Target) wayTaken {
	t.Helper()
	ctx := context.Background()
	var k wayTaken
	var cal *calibrate.Calibration
	var answer recipes.Answer
	var err error
	limits := wayLimits
	switch by {
	case longWay:
		if w.whole == nil {
			var chips []calibrate.Chip
			chips, w.cups = w.start(t, rng, w.Codes, 0)
			w.whole = w.fit(t, w.Codes, chips)
		}
		cal, k.cups = w.whole, w.cups
		limits.StrengthScatter = cal.Scatter
		answer, err = recipes.Match(ctx, cal, target, limits)
		require.NoError(t, err)
	case shortWay:
		main := mainOf(t, target.Labs, target.Spectrum)
		codes := castplan.Likely(main, w.pastes, nil)
		var chips []calibrate.Chip
		chips, k.cups = w.start(t, rng, codes, 1)
		for {
			cal = w.fit(t, codes, chips)
			limits.StrengthScatter = cal.Scatter
			answer, err = recipes.Match(ctx, cal, target, limits)
			require.NoError(t, err)
			if next, pays := w.next(t, cal, target, answer, chips); pays {
				chips = append(chips, w.Cast(rng, next.Evidence()))
				k.cups++
				continue
			}
			more := castplan.Likely(main, w.pastes, codes)
			if answer.Recipes[0].Chance >= 0.5 || len(more) == 0 {
				break
			}
			codes = append(codes, more...)
			all, _ := w.start(t, rng, append([]string{virtualshop.White}, more...), 1)
			for _, c := range all {
				if slices.ContainsFunc(more, func(code string) bool { return c.Loadings[code] > 0 }) {
					chips = append(chips, c)
					k.cups++
				}
			}
		}
		k.chips = len(chips)
	}
	k.claimed = answer.Recipes[0].Chance
	mix := answer.Recipes[0].Loadings
	var pours []recipes.Pour
	for k.pours = 1; ; k.pours++ {
		cup := w.Chip("part", mix)
		cup.ChipGrams = calibrate.Grams(100)
		read := w.evidence.Of([]calibrate.Chip{w.Cast(rng, cup)})[0]
		p := recipes.Pour{Loadings: mix, Labs: read.Labs, Spectrum: read.Spectrum, Readings: 3, BatchGrams: 100, ScaleGrams: 0.01}
		pours = append(pours, p)
		miss := color.Delta00(mainOf(t, target.Labs, target.Spectrum).Values(), mainOf(t, p.Labs, p.Spectrum).Values())
		k.missed = append(k.missed, miss)
		if miss <= 1 || k.pours > mostPours {
			return k
		}
		x, err := recipes.Correct(ctx, cal, target, pours, recipes.CorrectOptions{Limits: recipes.Limits{BatchGrams: 100, ScaleGrams: 0.01, StrengthScatter: cal.Scatter}, Lots: sameLots(cal)})
		require.NoError(t, err)
		mix = x.Next.Loadings
	}
}

// sameLots are those calibrated.
func sameLots(cal *calibrate.Calibration) map[string]calibrate.Strength {
	out := map[string]calibrate.Strength{}
	for _, code := range cal.Codes() {
		out[code] = calibrate.Strength{}
	}
	return out
}

func weightsOf(t testing.TB, under color.Condition) *color.Weights {
	w, err := color.WeightsFor(under)
	require.NoError(t, err)
	return w
}

func mainOf(t testing.TB, labs []color.Lab, spectrum *color.Reflectance) color.Lab {
	if spectrum != nil {
		return weightsOf(t, color.D65Ten()).Lab(spectrum)
	}
	return labs[0]
}

// next is the chip that teaches most of a target's recipes, and whether it pays.
func (w *caster) next(t testing.TB, cal *calibrate.Calibration, target recipes.Target, answer recipes.Answer, cast []calibrate.Chip) (castplan.Chip, bool) {
	t.Helper()
	var interest []castplan.Interest
	for _, r := range answer.Recipes {
		interest = append(interest, castplan.Interest{Loadings: r.Loadings, Setting: target.Setting})
	}
	candidates, err := castplan.Candidates(cal, w.bench, []string{virtualshop.White})
	require.NoError(t, err)
	own, err := castplan.ChipsOf(w.bench, interest)
	require.NoError(t, err)
	for _, c := range own {
		if !slices.ContainsFunc(candidates, func(o castplan.Chip) bool { return o.Name == c.Name }) {
			candidates = append(candidates, c)
		}
	}
	plan, err := castplan.Next(context.Background(), cal, castplan.Request{Reading: w.reading(), Candidates: castplan.Uncast(candidates, cast), Interest: interest, Watch: interest, Count: 3})
	require.NoError(t, err)
	judge, err := recipes.NewJudge(cal, target)
	require.NoError(t, err)
	now, err := recipes.ChanceThen(judge, answer.Recipes, plan.Now, plan.Now)
	require.NoError(t, err)
	var then []float64
	for _, s := range plan.Steps {
		chance, err := recipes.ChanceThen(judge, answer.Recipes, plan.Now, s.Then)
		require.NoError(t, err)
		then = append(then, chance)
	}
	return plan.Steps[0].Chip, recipes.ChipsThatPay(now, then) > 0
}

// draw lists targets of 3 or 4 pastes as a client may want them.
func (w *caster) draw(rng *rand.Rand, n int) []map[string]calibrate.PHR {
	var out []map[string]calibrate.PHR
	for len(out) < n {
		for _, mix := range w.Mixtures(rng, n) {
			if len(mix) >= 3 && len(out) < n {
				out = append(out, mix)
			}
		}
	}
	return out
}

// A wayTable sums up many targets.
type wayTable struct {
	cups, pours, claimed, first, p90 float64
	n                                int
}

func tally(all []wayTaken) wayTable {
	v := wayTable{n: len(all)}
	var castings []int
	for _, k := range all {
		v.cups += float64(k.cups) / float64(len(all))
		v.pours += float64(k.pours) / float64(len(all))
		v.claimed += k.claimed / float64(len(all))
		if k.pours == 1 {
			v.first += 1 / float64(len(all))
		}
		castings = append(castings, k.castings())
	}
	slices.Sort(castings)
	v.p90 = float64(castings[(9*len(castings)+9)/10-1])
	return v
}

func (v wayTable) String() string {
	return fmt.Sprintf("%5.1f cups, %4.2f pours, first within 1.0: %3.0f %% (claimed %3.0f %%), castings for 90 %% of targets: %2.0f (%d targets)", v.cups, v.pours, 100*v.first, 100*v.claimed, v.p90, v.n)
}

// TestShortWay is the study of the short way (TestStudyShortWay) for a few targets:
// it comes to a part within 1.0 in less castings than the chips of the long way.
func TestShortWay(t *testing.T) {
	if testing.Short() || recipes.UnderRace {
		t.Skip("casts, fits and matches, one after the other")
	}
	w := newCaster(t, virtualshop.Painted(2, 8), virtualshop.ThreeLights)
	rng := rand.New(rand.NewPCG(2, 's'))
	_, whole := w.start(t, rng, w.Codes, 0)
	var all []wayTaken
	for _, mix := range w.draw(rng, 4) {
		all = append(all, w.take(t, rng, shortWay, w.wanted(rng, mix)))
	}
	sum := tally(all)
	t.Log(sum)
	require.Less(t, sum.p90, float64(whole))
	require.Less(t, sum.cups+sum.pours, 0.75*float64(whole))
}
