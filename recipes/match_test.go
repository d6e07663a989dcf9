package recipes

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sort"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

// The search's answer is at least as good as gonum's general-purpose simplex
// run on every subset by itself.
func TestMatchBeatsThePlainWay(t *testing.T) {
	s := shop6()
	for i, target := range s.targets[:6] {
		limits := Limits{MaxPigments: 3, BatchGrams: 100, ScaleGrams: 0.01}
		if i%2 == 0 { // often out of reach
			limits.Forbidden = s.shop.Codes[2:3]
		}
		m, err := newMatch(s.cal, target, limits)
		require.NoError(t, err)
		list, a, err := m.search(context.Background())
		require.NoError(t, err)
		plain := plainMatch(m)
		t.Logf("target %d: F %.5f, plain %.5f, %d solved, %d excluded", i, list[0].value, plain, a.Solved, a.Excluded)
		assert.LessOrEqual(t, list[0].value, plain*1.0001, "target %d", i)
	}
}

// A pale colour over a light backing can be matched by a nearly clear film as
// well as by an opaque mixture. The search finds the opaque way too, whatever
// the order of the codes.
func TestMatchFindsTheOpaqueWay(t *testing.T) {
	s := shop6()
	for _, mix := range []map[string]calibrate.PHR{
		{"WH": 1.1 * s.shop.Level, s.shop.Codes[2]: 0.1 * s.shop.Level, s.shop.Codes[4]: 0.05 * s.shop.Level, s.shop.Codes[1]: 0.02 * s.shop.Level},
		{"WH": 0.8 * s.shop.Level, s.shop.Codes[3]: 0.3 * s.shop.Level, s.shop.Codes[5]: 0.2 * s.shop.Level, s.shop.Codes[1]: 0.05 * s.shop.Level},
	} {
		target := s.targets[0]
		target.Labs = []color.Lab{s.shop.Color(mix, s.shop.Setting, s.cal.Main)}
		var codes []string
		for code := range mix {
			codes = append(codes, code)
		}
		a, err := Match(context.Background(), s.cal, target, Limits{Allowed: codes, BatchGrams: 100, ScaleGrams: 0.01})
		require.NoError(t, err)
		assert.Less(t, a.Recipes[0].Expected, 0.5, "%v", a.Recipes[0].Loadings)
	}
}

func TestMatchCoversEverySubset(t *testing.T) {
	s := shop6()
	a, err := Match(context.Background(), s.cal, s.targets[0], Limits{MaxPigments: 4})
	require.NoError(t, err)
	// C(6,1) + C(6,2) + C(6,3) + C(6,4)
	assert.Equal(t, 6+15+20+15, a.Subsets)
	assert.Equal(t, a.Subsets, a.Solved+a.Excluded)
	a, err = Match(context.Background(), s.cal, s.targets[0], Limits{MaxPigments: 3, Required: []string{s.shop.Codes[0]}})
	require.NoError(t, err)
	assert.Equal(t, 1+5+10, a.Subsets)
	for _, r := range a.Recipes {
		assert.Contains(t, r.Loadings, s.shop.Codes[0])
	}
}

func TestMatchKeepsLimits(t *testing.T) {
	s := shop6()
	codes := s.shop.Codes
	for name, l := range map[string]Limits{
		"forbidden":   {Forbidden: []string{codes[2]}},
		"allowed":     {Allowed: codes[:4]},
		"per pigment": {MaxPHR: map[string]calibrate.PHR{codes[0]: 0.7}},
		"total":       {TotalPHR: 1.1},
		"weighable":   {BatchGrams: 40, ScaleGrams: 0.01, MinWeigh: 0.1},
		"stock":       {BatchGrams: 500, StockGrams: map[string]calibrate.Grams{codes[0]: 4}},
	} {
		t.Run(name, func(t *testing.T) {
			for i, target := range s.targets[:6] {
				a, err := Match(context.Background(), s.cal, target, l)
				if i == 0 && name == "forbidden" { // a bright yellow, without the yellow
					require.ErrorContains(t, err, "without pigment is nearer")
					continue
				}
				require.NoError(t, err)
				require.NotEmpty(t, a.Recipes)
				for _, r := range a.Recipes {
					total := calibrate.PHR(0)
					for code, phr := range r.Loadings {
						total += phr
						assert.NotContains(t, l.Forbidden, code)
						if len(l.Allowed) > 0 {
							assert.Contains(t, l.Allowed, code)
						}
						if m := l.MaxPHR[code]; m > 0 {
							assert.LessOrEqual(t, float64(phr), float64(m)+1e-9)
						}
						if l.MinWeigh > 0 {
							assert.GreaterOrEqual(t, float64(phr)*float64(l.BatchGrams)/100, float64(l.MinWeigh)-1e-9, "%s in %v", code, r.Loadings)
						}
						if g, ok := l.StockGrams[code]; ok {
							assert.LessOrEqual(t, float64(phr)*float64(l.BatchGrams)/100, float64(g)+1e-9)
						}
					}
					if l.TotalPHR > 0 {
						assert.LessOrEqual(t, float64(total), float64(l.TotalPHR)+1e-9)
					}
				}
			}
		})
	}
}

func TestMatchOpacityAndCost(t *testing.T) {
	s := shop6()
	target := s.targets[1]
	target.Setting.Thickness = 1
	free, err := Match(context.Background(), s.cal, target, Limits{})
	require.NoError(t, err)
	want := math.Min(0.999, free.Recipes[0].Opacity+0.5*(1-free.Recipes[0].Opacity))
	a, err := Match(context.Background(), s.cal, target, Limits{MinOpacity: want})
	require.NoError(t, err)
	if a.Recipes[0].Opacity < want-2e-3 {
		assert.NotEmpty(t, a.Notes, "what is not met is said")
	}
	assert.GreaterOrEqual(t, a.Recipes[0].Opacity, free.Recipes[0].Opacity-1e-6)

	prices := map[string]float64{}
	for i, c := range s.shop.Codes {
		prices[c] = 20 + 40*float64(i)
	}
	dear, err := Match(context.Background(), s.cal, s.targets[0], Limits{PricePerKg: prices, ResinPricePerKg: 15})
	require.NoError(t, err)
	ceiling := 15 + (dear.Recipes[0].CostPerKg-15)*0.9
	cheap, err := Match(context.Background(), s.cal, s.targets[0], Limits{PricePerKg: prices, ResinPricePerKg: 15, MaxCostPerKg: ceiling})
	require.NoError(t, err)
	if cheap.Recipes[0].CostPerKg > ceiling*1.001 {
		assert.NotEmpty(t, cheap.Notes)
	}
	assert.Less(t, cheap.Recipes[0].CostPerKg, dear.Recipes[0].CostPerKg)
}

func TestMatchSaysWhatIsOutOfReach(t *testing.T) {
	s := shop6()
	target := s.targets[0]
	target.Labs = []color.Lab{color.LabFrom([3]float64{60, 95, 80}, s.cal.Main)}
	a, err := Match(context.Background(), s.cal, target, Limits{})
	require.NoError(t, err)
	assert.False(t, a.InGamut)
	assert.Equal(t, NoMixture, a.Reach)
	assert.Contains(t, a.Missing, "chroma")
	require.NotEmpty(t, a.Recipes, "the nearest reachable colour is still given")

	target = s.targets[0]
	tight, err := Match(context.Background(), s.cal, target, Limits{MaxPigments: 1})
	require.NoError(t, err)
	require.NotEmpty(t, tight.Binding, "one pigment does not reach a mixture")
	assert.Contains(t, tight.Binding[0], "at most 1 pigment")
	assert.Equal(t, Forbidden, tight.Reach)
	assert.False(t, tight.InGamut)
}

// What is said of the reach holds against the least predicted differences found by
// themselves, for calibrations of few chips, on whose word little can be counted.
func TestReachIsProved(t *testing.T) {
	if underRace {
		t.Skip("a count of figures; run without -race")
	}
	shop := virtualshop.Painted(4, 6)
	rng := rand.New(rand.NewPCG(4, 'r'))
	chips := virtualshop.OneLight.Of(shop.CastAll(rng, shop.Study(virtualshop.Tint)[:10]))
	cal, err := calibrate.Fit(context.Background(), shop.Codes, chips, calibrate.Options{Layer: calibrate.KubelkaMunk})
	require.NoError(t, err)
	seen := map[Reach]int{}
	for _, mix := range append(shop.Mixtures(rng, 14), map[string]calibrate.PHR{"BK": 4}, map[string]calibrate.PHR{"WH": 0.02}) {
		target := Target{Name: "part", Labs: []color.Lab{shop.Color(mix, shop.Setting, color.D65Ten())}, Setting: shop.Setting, Readings: 3}
		for _, limits := range []Limits{{}, {MaxPigments: 2}} {
			a, err := Match(context.Background(), cal, target, limits)
			require.NoError(t, err)
			limits.Predicted = true
			p, err := Match(context.Background(), cal, target, limits)
			require.NoError(t, err)
			least := math.Inf(1)
			for _, r := range p.Recipes {
				least = math.Min(least, r.DE00)
			}
			seen[a.Reach]++
			switch a.Reach {
			case Reached, Unsure:
				assert.True(t, a.InGamut)
				assert.LessOrEqual(t, least, outside*1.001, "%v: %s, %s", mix, a.Reach, a.Missing)
			default:
				assert.False(t, a.InGamut)
				assert.Greater(t, least, outside*0.999, "%v: %s, %s", mix, a.Reach, a.Missing)
			}
			assert.Equal(t, a.Reach == Reached, a.Missing == "")
		}
	}
	t.Log(seen)
	assert.Positive(t, seen[Reached])
	assert.GreaterOrEqual(t, len(seen), 3)
}

// Where pigment only leads away from the target there is no recipe, and no
// recipe of nothing.
func TestMatchWithNothingThatHelps(t *testing.T) {
	s := shop6()
	black := s.targets[0]
	black.Labs = []color.Lab{color.LabFrom([3]float64{25, 0, 0}, s.cal.Main)}
	clear := s.targets[0]
	clear.Labs = []color.Lab{color.LabFrom([3]float64{99, 0, 0}, s.cal.Main)}
	for name, try := range map[string]struct {
		target Target
		limits Limits
	}{
		"black with white only": {black, Limits{Allowed: s.shop.Codes[:1]}},
		"bright with black":     {clear, Limits{Allowed: s.shop.Codes[1:2]}},
	} {
		a, err := Match(context.Background(), s.cal, try.target, try.limits)
		require.Error(t, err, "%s: %+v", name, a.Recipes)
		assert.Contains(t, err.Error(), "without pigment is nearer", name)
		assert.NotContains(t, err.Error(), "\n", name)
	}
	// the same pigments where they do help
	a, err := Match(context.Background(), s.cal, black, Limits{Allowed: s.shop.Codes[1:2]})
	require.NoError(t, err)
	require.NotEmpty(t, a.Recipes)
	for _, r := range a.Recipes {
		assert.NotEmpty(t, r.Loadings)
	}
}

// The same match gives the same recipes on any number of cores.
func TestMatchSameOnAnyCores(t *testing.T) {
	s := shop6()
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	for i, target := range s.targets[:4] {
		var want Answer
		for cores := 1; cores <= 3; cores++ {
			runtime.GOMAXPROCS(cores)
			a, err := Match(context.Background(), s.cal, target, Limits{BatchGrams: 100, ScaleGrams: 0.01})
			require.NoError(t, err)
			if cores == 1 {
				want = a
			}
			require.Equal(t, want, a, "target %d on %d cores", i, cores)
		}
	}
}

// What the search rests on: from the best of a four's threes the way leads down
// to the least f of the four. Each four is minimised anew from many starts.
func TestWhatFoursReachIsFoundFromThrees(t *testing.T) {
	s := shop6()
	fours, missed := 0, 0
	for i, target := range s.targets {
		m, err := newMatch(s.cal, target, Limits{MaxPigments: 3})
		require.NoError(t, err)
		known := m.newSearch()
		_, err = known.run(context.Background(), shortlisted)
		require.NoError(t, err)
		d := &descent{search: known, main: m.colourOnly()}
		w := m.colourOnly()
		rng := rand.New(rand.NewPCG(3, uint64(i)))
		for a := range 6 {
			for b := range a {
				at := slices.DeleteFunc([]int{0, 1, 2, 3, 4, 5}, func(k int) bool { return k == a || k == b })
				w.take(at)
				w.opaque()
				f := w.solve(math.Inf(1))
				for range 8 {
					for k := range at {
						w.c[k] = math.Exp(rng.NormFloat64()*1.5 - 1)
					}
					f = math.Min(f, w.solve(math.Inf(1)))
				}
				if f > 0.01 {
					continue
				}
				fours++
				copy(d.at[:], at)
				l := known.reach.lowest(at, known.reach.lowest(at[:3], low{f: math.Inf(1)}))
				if l.f > 0.01 && d.beyond(4, &l, 0.01) {
					missed++
				}
			}
		}
	}
	t.Logf("%d fours reach a target, %d of them are not found to", fours, missed)
	require.Greater(t, fours, 20)
	assert.LessOrEqual(t, float64(missed), 0.02*float64(fours))
}

func TestMatchErrors(t *testing.T) {
	s := shop6()
	ok := s.targets[0]
	for name, try := range map[string]struct {
		target Target
		limits Limits
	}{
		"no reading":         {Target{Name: "x", Setting: ok.Setting}, Limits{}},
		"not a colour":       {Target{Name: "x", Setting: ok.Setting, Labs: []color.Lab{color.LabFrom([3]float64{math.NaN(), 0, 0}, s.cal.Main)}}, Limits{}},
		"thickness":          {Target{Name: "x", Labs: ok.Labs}, Limits{}},
		"unknown pigment":    {ok, Limits{Allowed: []string{"??"}}},
		"required forbidden": {ok, Limits{Required: s.shop.Codes[:1], Forbidden: s.shop.Codes[:1]}},
		"too many":           {ok, Limits{MaxPigments: 99}},
		"weigh without mass": {ok, Limits{MinWeigh: 0.1}},
		"negative":           {ok, Limits{TotalPHR: -1}},
	} {
		_, err := Match(context.Background(), s.cal, try.target, try.limits)
		assert.Error(t, err, name)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := Match(ctx, s.cal, ok, Limits{})
	assert.ErrorIs(t, err, context.Canceled)
}

// The slope by which the search leaves pigments out is the derivative of f.
func TestSlopesAreDerivatives(t *testing.T) {
	s := shop6()
	m, err := newMatch(s.cal, s.targets[2], Limits{})
	require.NoError(t, err)
	w := m.work(m.eval.Clone())
	w.take([]int{0, 2})
	c := [MaxPerRecipe]float64{0.8, 0.3}
	w.residuals(&c)
	var slope [maxPigments]float64
	w.slopes(&slope)
	for p := range m.bench.pigments {
		if p == 0 || p == 2 {
			continue
		}
		const h = 1e-5
		w.take([]int{0, 2, p})
		c[2] = 0
		f0 := w.residuals(&c)
		c[2] = h
		f1 := w.residuals(&c)
		assert.InDelta(t, (f1-f0)/h, slope[p], 1e-2*math.Abs(slope[p])+1e-2, "pigment %d", p)
	}
}

// What the search leaves out of the error misleads it little: errors of curves
// cancel in part, so that too few directions overstate F.
func TestSearchFollowsEnoughOfTheError(t *testing.T) {
	if underRace {
		t.Skip("a study of figures; run without -race")
	}
	s := shop12()
	for _, target := range s.targets[:10] {
		m, err := newMatch(s.cal, target, Limits{BatchGrams: 100, ScaleGrams: 0.01})
		require.NoError(t, err)
		list, err := m.newSearch().run(context.Background(), shortlisted)
		require.NoError(t, err)
		w := m.work(m.eval.Clone())
		for _, f := range list {
			w.take(f.at[:f.n])
			assert.InEpsilon(t, f.value, w.expected(&f.c), 0.2, "%v", f.at[:f.n])
		}
	}
}

func TestSubsetSolveAllocatesNothing(t *testing.T) {
	s := shop6()
	m, err := newMatch(s.cal, s.targets[0], Limits{BatchGrams: 100, ScaleGrams: 0.01})
	require.NoError(t, err)
	w := m.work(m.eval.Coarse(searchDirections))
	at := []int{0, 1, 2, 3}
	assert.Zero(t, testing.AllocsPerRun(20, func() {
		w.take(at)
		w.c = [MaxPerRecipe]float64{0.3, 0.3, 0.3, 0.3}
		w.solve(math.Inf(1))
		w.nullSpaceWalk(math.Inf(1))
		w.polish()
	}))
}

// firstPours matches targets, pours each recipe with weighing error and
// returns the share within 1.0 and 0.5, and for the recipes chosen by expected
// difference the claimed chance against what landed.
func firstPours(t *testing.T, s matchShop, predicted bool) (within1, within05 float64, claims [][2]float64) {
	rng := rand.New(rand.NewPCG(5, 5))
	for _, target := range s.targets {
		a, err := Match(context.Background(), s.cal, target, Limits{BatchGrams: 100, ScaleGrams: 0.01, Predicted: predicted, Recipes: 1})
		require.NoError(t, err)
		r := a.Recipes[0]
		chip := s.shop.Chip("pour", r.Loadings)
		chip.ChipGrams, chip.ScaleGrams = 100, 0.01
		cup := s.shop.Pour(rng, chip)
		d, err := s.shop.Color(cup, s.shop.Setting, s.cal.Main).DeltaE00(target.Labs[0])
		require.NoError(t, err)
		n := float64(len(s.targets))
		landed := 0.0
		if d <= 1 {
			within1 += 1 / n
			landed = 1
		}
		if d <= 0.5 {
			within05 += 1 / n
		}
		claims = append(claims, [2]float64{r.Chance, landed})
	}
	return within1, within05, claims
}

// First pours: how many land, choosing by predicted and by expected
// difference, and whether the printed chance is one.
func TestFirstPours(t *testing.T) {
	if underRace {
		t.Skip("a study of figures; run without -race")
	}
	for _, evidence := range virtualshop.Evidences() {
		targets := 100
		if !whole {
			if targets = 40; evidence != virtualshop.OneLight { // the others land nearly all
				continue
			}
		}
		s := newMatchShop(t, 12, targets, evidence)
		p1, p05, _ := firstPours(t, s, true)
		e1, e05, claims := firstPours(t, s, false)
		t.Logf("%-12s chosen by predicted: %3.0f %% within 1.0, %3.0f %% within 0.5; by expected: %3.0f %%, %3.0f %%; claimed %s",
			evidence, 100*p1, 100*p05, 100*e1, 100*e05, reliability(claims))
		assert.GreaterOrEqual(t, e1, p1-0.05, "%s: choosing by expected difference lands at least as often", evidence)
		claimed := 0.0
		for _, c := range claims {
			claimed += c[0] / float64(len(claims))
		}
		assert.InDelta(t, claimed, e1, 0.15, "%s: as many land as are claimed to", evidence)
	}
}

// reliability sets the claimed chance against the share that landed, in three
// groups of equal size.
func reliability(claims [][2]float64) string {
	sort.Slice(claims, func(i, j int) bool { return claims[i][0] < claims[j][0] })
	out := ""
	for g := range 3 {
		part := claims[g*len(claims)/3 : (g+1)*len(claims)/3]
		c, l := 0.0, 0.0
		for _, p := range part {
			c += p[0] / float64(len(part))
			l += p[1] / float64(len(part))
		}
		out += fmt.Sprintf(" %.0f %% (%.0f landed)", 100*c, 100*l)
	}
	return out
}
