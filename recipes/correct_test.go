package recipes

import (
	"context"
	"encoding/json"
	"maps"
	"math"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

// What corrections must reach: per cent of targets within CIEDE2000 1.0 after
// one and after two of them.
var mustReach = map[virtualshop.Evidence][2]float64{
	virtualshop.Spectra:     {96, 98},
	virtualshop.ThreeLights: {92, 96},
	virtualshop.OneLight:    {90, 94},
}

// Twenty targets whose recipes hold a pigment 15 % off, by the readings that tell
// least: the long version is TestStudyCorrect.
func TestCorrectReaches(t *testing.T) {
	if underRace {
		t.Skip("a study of figures; run without -race")
	}
	const targets = 20
	t.Log(slipHead(2))
	shop := realShop(t)
	kinds := []virtualshop.Evidence{virtualshop.OneLight}
	if whole {
		kinds = append(kinds, virtualshop.Spectra)
	}
	for _, e := range kinds {
		b := newSlipBench(t, shop, e, 1, calibrate.Options{Layer: calibrate.KubelkaMunk})
		var courses []course
		for _, s := range b.targets(t, targets, Limits{BatchGrams: 100, ScaleGrams: 0.01}) {
			courses = append(courses, s.batches(t, 2))
		}
		table := tabulate(e, courses)
		t.Log(table)
		one := 100.0 / targets // one target is 5 % of so few
		for i, must := range mustReach[e] {
			assert.GreaterOrEqual(t, table.within1[i+1], must-one, "%s, correction %d", e, i+1)
		}
		assert.Less(t, table.within1[0], table.within1[1], "%s: a slip of 15 %% must be seen", e)
		assert.LessOrEqual(t, table.worse, 1)
		assert.LessOrEqual(t, table.came, 1.5*table.expected)
		assert.LessOrEqual(t, table.alarms, 1)
	}
}

// The same by additions alone.
func TestCorrectPotReaches(t *testing.T) {
	if underRace {
		t.Skip("a study of figures; run without -race")
	}
	shop := virtualshop.Painted(5, 8)
	b := newSlipBench(t, shop, virtualshop.Spectra, 2, calibrate.Options{Layer: calibrate.KubelkaMunk})
	var courses []course
	for _, s := range b.targets(t, 15, Limits{BatchGrams: 300, ScaleGrams: 0.01}) {
		courses = append(courses, s.pots(t, 1))
	}
	table := tabulate(b.evidence, courses)
	t.Log(slipHead(1))
	t.Log(table)
	assert.GreaterOrEqual(t, table.within1[1], 90.0)
	assert.Greater(t, table.within05[1], table.within05[0])
	assert.LessOrEqual(t, table.worse, 1)
}

// small is a bench of six pigments, and its slipped targets.
var small = sync.OnceValue(func() []slipped {
	t := &testing.B{}
	b := newSlipBench(t, virtualshop.Painted(6, 6), virtualshop.ThreeLights, 3, calibrate.Options{Layer: calibrate.KubelkaMunk})
	return b.targets(t, 6, Limits{BatchGrams: 100, ScaleGrams: 0.01})
})

// potOf is a pot of the mixed resin that a pour was taken from.
func potOf(p Pour, grams calibrate.Grams) *Pot {
	pot := &Pot{Resin: grams, Pigments: map[string]calibrate.Grams{}, ScaleGrams: 0.01}
	for code, phr := range p.Loadings {
		pot.Pigments[code] = grams * calibrate.Grams(phr) / 100
	}
	return pot
}

func TestCorrectOnlyAddsToThePot(t *testing.T) {
	for _, s := range small() {
		p, _ := s.pour(s.recipe.Loadings)
		pot := potOf(p, 250)
		pot.Share = 0.5
		x, err := Correct(context.Background(), s.cal, s.target, []Pour{p}, CorrectOptions{Pot: pot})
		require.NoError(t, err)
		for _, r := range []*PotRoute{x.Add, x.Grow} {
			if r == nil {
				continue
			}
			assert.GreaterOrEqual(t, r.Growth, 1.0)
			assert.LessOrEqual(t, r.Growth, 2.0)
			assert.InDelta(t, 250*(r.Growth-1), float64(r.Resin), 1e-9)
			for code, g := range r.Add {
				steps := float64(g) / 0.01
				assert.InDelta(t, math.Round(steps), steps, 1e-3, "%s is %g g, no whole number of steps", code, float64(g))
				assert.GreaterOrEqual(t, float64(g), 0.0099)
			}
			for code, phr := range r.Loadings {
				holds := float64(pot.Pigments[code]+r.Add[code]) / (500 * r.Growth) * 100
				assert.InDelta(t, holds, float64(phr), 1e-5, "%s", code)
			}
		}
		assert.Zero(t, float64(x.Add.Resin))
	}
}

// Where no more paste may be added, only more resin makes room for it.
func TestCorrectGrowsThePot(t *testing.T) {
	s := small()[0]
	strong := maps.Clone(s.recipe.Loadings)
	strong[s.codes()[1]] *= 1.5
	p, off := s.pour(strong)
	require.Greater(t, off, 1.0)
	total := calibrate.PHR(0)
	for _, phr := range p.Loadings {
		total += phr
	}
	o := CorrectOptions{Limits: Limits{TotalPHR: total}, Pot: potOf(p, 100)}
	x, err := Correct(context.Background(), s.cal, s.target, []Pour{p}, o)
	require.NoError(t, err)
	assert.Empty(t, x.Add.Add)
	assert.False(t, x.Add.Recommended)
	require.NotNil(t, x.Grow)
	assert.Less(t, x.Grow.Expected, x.Add.Expected-0.5)
	assert.NotEmpty(t, x.Grow.Add)
	assert.Greater(t, float64(x.Grow.Resin), 1.0)
	assert.LessOrEqual(t, float64(x.Grow.TotalPHR), float64(total)+0.01)
	assert.Len(t, x.Notes, 1)

	o.Pot.MaxGrowth = 1
	x, err = Correct(context.Background(), s.cal, s.target, []Pour{p}, o)
	require.NoError(t, err)
	assert.Nil(t, x.Grow)
	assert.Empty(t, x.Notes)
}

// A pot that lacks a pigment is told which.
func TestCorrectNamesThePigmentThatIsMissing(t *testing.T) {
	s := small()[0]
	white, has, lacks := s.shop.Codes[0], s.shop.Codes[2], s.shop.Codes[4]
	target := s.target
	target.Labs = []color.Lab{s.shop.Color(map[string]calibrate.PHR{white: s.shop.Level, has: s.shop.Level / 10, lacks: s.shop.Level / 5}, s.shop.Setting, s.cal.Main)}
	p, _ := s.pour(map[string]calibrate.PHR{white: s.shop.Level, has: s.shop.Level / 10})
	x, err := Correct(context.Background(), s.cal, target, []Pour{p}, CorrectOptions{Pot: potOf(p, 100), AnyPigment: true})
	require.NoError(t, err)
	require.NotNil(t, x.Widen)
	assert.Contains(t, x.Widen.Add, lacks)
	assert.Less(t, x.Widen.Expected, 1.0)
	assert.Greater(t, x.Add.Expected, 3.0)
	assert.Less(t, x.Other.Expected, 1.0)
	assert.Greater(t, x.Next.Expected, 3.0)
	assert.Contains(t, []Way{WidenPot, OtherPigments}, x.Best)
}

// A part that reads exactly as the target is left alone.
func TestCorrectLeavesAGoodPartAlone(t *testing.T) {
	for _, s := range small() {
		p, _ := s.pour(s.recipe.Loadings)
		p.Labs = s.target.Labs
		x, err := Correct(context.Background(), s.cal, s.target, []Pour{p}, CorrectOptions{Limits: Limits{BatchGrams: 100, ScaleGrams: 0.01}, Pot: potOf(p, 100), AnyPigment: true})
		require.NoError(t, err)
		assert.Equal(t, LiveWithIt, x.Best)
		assert.False(t, x.Next.Recommended)
		assert.InDelta(t, 0, x.Live.DE00, 1e-9)
		assert.Greater(t, x.Live.Chance, 0.99)
		assert.Equal(t, "alike", x.Live.Words)
		assert.NotNil(t, x.Other)
	}
}

func TestCorrectTellsWhatIsWrong(t *testing.T) {
	s := small()[0]
	lab := s.target.Labs[0]
	p, _ := s.pour(s.recipe.Loadings)
	p.Labs = []color.Lab{{L: lab.L - 3, A: lab.A, B: lab.B, Under: lab.Under}}
	target := s.target
	target.Tolerance, target.Formula = 2, color.CMC21
	x, err := Correct(context.Background(), s.cal, target, []Pour{p}, CorrectOptions{})
	require.NoError(t, err)
	assert.InDelta(t, -3, x.Live.Difference.DL, 1e-9)
	assert.Equal(t, color.CMC21, x.Live.Difference.Formula)
	assert.Contains(t, x.Live.Words, "darker")
	assert.Equal(t, NextBatch, x.Best)
	assert.InDelta(t, x.Live.Expected-x.Next.Expected, x.Next.Gain, 1e-9)
	for code := range x.Next.Loadings {
		assert.Contains(t, s.codes(), code, "only what is in the cup")
	}
}

// A pour that was not weighed as written down is asked about.
func TestCorrectAsksAboutAMistake(t *testing.T) {
	for _, s := range small() {
		p, _ := s.pour(s.recipe.Loadings)
		x, err := Correct(context.Background(), s.cal, s.target, []Pour{p}, CorrectOptions{})
		require.NoError(t, err)
		assert.Empty(t, x.Notes)
		p.Loadings = maps.Clone(p.Loadings)
		p.Loadings[s.codes()[1]] *= 10
		x, err = Correct(context.Background(), s.cal, s.target, []Pour{p}, CorrectOptions{})
		require.NoError(t, err)
		require.Len(t, x.Notes, 1)
		assert.Contains(t, x.Notes[0], "check what was weighed")
	}
}

// More readings of the same part make its verdict surer.
func TestVerdictChance(t *testing.T) {
	s := small()[0]
	lab := s.target.Labs[0]
	p, _ := s.pour(s.recipe.Loadings)
	p.Labs = []color.Lab{{L: lab.L + 1.15, A: lab.A, B: lab.B, Under: lab.Under}}
	target := s.target
	target.Readings = 9
	chance := func(tolerance float64, readings int) float64 {
		target.Tolerance, p.Readings = tolerance, readings
		x, err := Correct(context.Background(), s.cal, target, []Pour{p}, CorrectOptions{})
		require.NoError(t, err)
		return x.Live.Chance
	}
	de := color.Delta00(lab.Values(), p.Labs[0].Values())
	assert.InDelta(t, 0.5, chance(de, 1), 0.1)
	assert.Greater(t, chance(de+0.1, 9), chance(de+0.1, 1))
	assert.Less(t, chance(de-0.1, 9), chance(de-0.1, 1))
}

func TestCorrectLeavesTheCalibrationAlone(t *testing.T) {
	s := small()[1]
	before, err := json.Marshal(s.cal)
	require.NoError(t, err)
	p, _ := s.pour(s.recipe.Loadings)
	_, err = Correct(context.Background(), s.cal, s.target, []Pour{p, p}, CorrectOptions{Pot: potOf(p, 100)})
	require.NoError(t, err)
	after, err := json.Marshal(s.cal)
	require.NoError(t, err)
	assert.Equal(t, before, after)
}

// A part of which nobody knows how it changes yet teaches less of the lots in it.
func TestCorrectTrustsAnOpenPartLess(t *testing.T) {
	s := small()[0]
	p, _ := s.pour(s.recipe.Loadings)
	sds := func(change float64) map[string]calibrate.Strength {
		for i := range p.ChangeCov {
			p.ChangeCov[i][i] = change * change
		}
		x, err := Correct(context.Background(), s.cal, s.target, []Pour{p}, CorrectOptions{})
		require.NoError(t, err)
		return x.Strengths
	}
	little, much := sds(0.01), sds(2)
	for _, code := range s.codes() {
		assert.Greater(t, much[code].SD, little[code].SD, code)
		assert.LessOrEqual(t, math.Abs(much[code].Ln), math.Abs(little[code].Ln)+0.01, code)
	}
}

// Parts that will all change alike tell of their lots no more than one of them, parts
// that change each by itself do.
func TestCorrectCountsOnceWhatPartsShare(t *testing.T) {
	s := small()[0]
	sd := func(parts int, alike float64) (sum float64) {
		var pours []Pour
		for range parts {
			p, _ := s.pour(s.recipe.Loadings)
			for i := range 3 {
				p.ChangeCov[i][i], p.ChangeAlike[i][i] = 0.5, 0.5*alike
			}
			pours = append(pours, p)
		}
		x, err := Correct(context.Background(), s.cal, s.target, pours, CorrectOptions{})
		require.NoError(t, err)
		for _, code := range s.codes() {
			sum += x.Strengths[code].SD
		}
		return sum
	}
	one := sd(1, 1)
	assert.InDelta(t, one, sd(4, 1), 0.02*one)
	assert.Less(t, sd(4, 0), 0.95*one)
}

// What is known of a lot leaves less to correct.
func TestCorrectKnowsTheLot(t *testing.T) {
	s := small()[2]
	p, _ := s.pour(s.recipe.Loadings)
	known := map[string]calibrate.Strength{}
	for _, code := range s.codes() {
		known[code] = calibrate.Strength{Ln: 0.05, SD: 0.001}
	}
	x, err := Correct(context.Background(), s.cal, s.target, []Pour{p}, CorrectOptions{Lots: known})
	require.NoError(t, err)
	for _, code := range s.codes() {
		assert.InDelta(t, 0.05, x.Strengths[code].Ln, 0.004, code)
		assert.LessOrEqual(t, x.Strengths[code].SD, 0.00101, code)
	}
	x, err = Correct(context.Background(), s.cal, s.target, []Pour{p}, CorrectOptions{})
	require.NoError(t, err)
	for _, code := range s.codes() {
		assert.LessOrEqual(t, x.Strengths[code].SD, 0.1+1e-9, code)
		assert.Greater(t, x.Strengths[code].SD, 0.01, code)
	}
}

func TestCorrectErrors(t *testing.T) {
	s := small()[0]
	good, _ := s.pour(s.recipe.Loadings)
	change := func(f func(*Pour)) []Pour {
		p := good
		f(&p)
		return []Pour{p}
	}
	tests := []struct {
		name  string
		pours []Pour
		o     CorrectOptions
		says  string
	}{
		{"no pour", nil, CorrectOptions{}, "no pour"},
		{"no reading", change(func(p *Pour) { p.Labs = nil }), CorrectOptions{}, "pour 1: no reading"},
		{"other light", change(func(p *Pour) { p.Labs = []color.Lab{{L: 50, Under: color.Under(color.D50, color.TwoDegree)}} }), CorrectOptions{}, "not read under D65/10"},
		{"readings", change(func(p *Pour) { p.Readings = -1 }), CorrectOptions{}, "-1 readings"},
		{"nothing in it", change(func(p *Pour) { p.Loadings = nil }), CorrectOptions{}, "0 pigments"},
		{"unknown pigment", change(func(p *Pour) { p.Loadings = map[string]calibrate.PHR{"ZZ": 1} }), CorrectOptions{}, "ZZ"},
		{"not a number", change(func(p *Pour) { p.Loadings = map[string]calibrate.PHR{"WH": calibrate.PHR(math.NaN())} }), CorrectOptions{}, "NaN"},
		{"bias", []Pour{good}, CorrectOptions{Bias: -1}, "bias -1"},
		{"unknown lot", []Pour{good}, CorrectOptions{Lots: map[string]calibrate.Strength{"ZZ": {}}}, "ZZ"},
		{"wild lot", []Pour{good}, CorrectOptions{Lots: map[string]calibrate.Strength{"WH": {SD: -1}}}, "WH"},
		{"empty pot", []Pour{good}, CorrectOptions{Pot: &Pot{}}, "0 g of resin"},
		{"clear pot", []Pour{good}, CorrectOptions{Pot: &Pot{Resin: 100}}, "0 pigments"},
		{"pot of another", []Pour{good}, CorrectOptions{Pot: &Pot{Resin: 100, Pigments: map[string]calibrate.Grams{"ZZ": 1}}}, "ZZ"},
		{"pot share", []Pour{good}, CorrectOptions{Pot: &Pot{Resin: 100, Share: 2, Pigments: map[string]calibrate.Grams{"WH": 1}}}, "share"},
		{"pot growth", []Pour{good}, CorrectOptions{Pot: &Pot{Resin: 100, MaxGrowth: 0.5, Pigments: map[string]calibrate.Grams{"WH": 1}}}, "grow"},
		{"more paste than resin", []Pour{good}, CorrectOptions{Pot: &Pot{Resin: 1, Pigments: map[string]calibrate.Grams{"WH": 2}}}, "2 g of WH"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := Correct(context.Background(), s.cal, s.target, tt.pours, tt.o)
			require.ErrorContains(t, err, tt.says)
			assert.NotContains(t, err.Error(), "\n")
		})
	}
}

func TestExceeds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := rapid.SliceOfN(rapid.Float64Range(0, 10), 1, 20)
		a, b := draw.Draw(t, "a"), draw.Draw(t, "b")
		want := 0.0
		for _, x := range a {
			for _, y := range b {
				if x > y {
					want++
				}
			}
		}
		slices.Sort(a)
		slices.Sort(b)
		if got := exceeds(a, b); !(math.Abs(got-want/float64(len(a)*len(b))) < 1e-12) {
			t.Fatalf("%v, want %v", got, want)
		}
	})
}

func BenchmarkCorrect(b *testing.B) {
	s := small()[0]
	p, _ := s.pour(s.recipe.Loadings)
	o := CorrectOptions{Limits: Limits{BatchGrams: 100, ScaleGrams: 0.01}, Pot: potOf(p, 100)}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Correct(context.Background(), s.cal, s.target, []Pour{p}, o); err != nil {
			b.Fatal(err)
		}
	}
}
