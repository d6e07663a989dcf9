package batch_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/recipes/batch"
)

// By hand, 100 g of WH 1 and BK 0.02 phr from a jar in which 0.31 g of BK were
// stirred into 15.02 g of B, x = 0.31/15.33 = 0.0202218:
//
//	R  = 100 / 1.0102          = 98.9903
//	BK = 0.02 x R / 100        = 0.019798, of the jar 0.019798/x = 0.97904 -> 0.98
//	WH = R / 100               = 0.9899 -> 0.99
//	carried 0.98 (1 - x)       = 0.96018
//	resin 100 - 0.99 - 0.98 + 0.96018 = 98.99018, A = 52.1001 -> 52.10, B = 45.93
//	BK as weighed 0.0198174/98.99018  = 0.0200195 phr
func TestJarByHand(t *testing.T) {
	r := request(100, map[string]batch.PHR{"WH": 1, "BK": 0.02})
	r.Jars = []batch.Jar{{Name: "D1", Pigment: "BK", Side: batch.SideB, Paste: batch.Grams(0.31), Resin: batch.Grams(15.02), Left: batch.Grams(14), On: "2026-03-31"}}
	s, err := batch.Plan(r)
	require.NoError(t, err)
	items, lines, _ := grams(s)
	require.Equal(t, []string{"B", "BK D1", "WH", "A"}, items)
	require.Equal(t, []string{"45.93", "0.98", "0.99", "52.10"}, lines)
	require.InDelta(t, 0.0200195, float64(s.Weighed["BK"]), 1e-7)
	require.Len(t, s.Predilutions, 1)
	p := s.Predilutions[0]
	require.Equal(t, "D1", p.Jar)
	require.Equal(t, 48, p.Ratio, "15.02/0.31 is 48.5; the ratio is only near")
	require.Equal(t, "13.02 g", p.LeftOver.String())
	require.Equal(t, "Take BK from jar D1 of 2026-03-31, let down 1:48.45 in side B: stir it, weigh 0.98 g of it, 13.02 g stays in the jar.", p.Words(s.Step))
}

// A jar that is nearly empty, of the other side, of another pigment, or so strong
// that its dose is hard to weigh is left alone, and one is stirred; of several
// the one that is used up least is taken.
func TestJarThatDoesNotDo(t *testing.T) {
	good := batch.Jar{Name: "D1", Pigment: "BK", Side: batch.SideB, Paste: batch.Grams(0.3), Resin: batch.Grams(15), Left: batch.Grams(14)}
	for name, c := range map[string]struct {
		spoil func(*batch.Jar)
		jar   string
	}{
		"does":            {func(k *batch.Jar) {}, "D1"},
		"nearly empty":    {func(k *batch.Jar) { k.Left = batch.Grams(0.99) }, ""},
		"the other side":  {func(k *batch.Jar) { k.Side = batch.SideA }, ""},
		"another pigment": {func(k *batch.Jar) { k.Pigment = "RD" }, ""},
		"too strong":      {func(k *batch.Jar) { k.Paste = batch.Grams(3) }, ""},
		"more than half":  {func(k *batch.Jar) { k.Paste, k.Resin, k.Left = batch.Grams(0.1), batch.Grams(300), batch.Grams(200) }, ""},
		// 0.0198 g of paste at 1:2170 are 43 g, more than 0.8 of the 46.9 g of side B
		"no room to hit":   {func(k *batch.Jar) { k.Paste, k.Resin, k.Left = batch.Grams(0.1), batch.Grams(217), batch.Grams(200) }, ""},
		"weaker, but does": {func(k *batch.Jar) { k.Resin = batch.Grams(30) }, "D1"},
	} {
		k := good
		c.spoil(&k)
		r := request(100, map[string]batch.PHR{"WH": 1, "BK": 0.02})
		r.Jars = []batch.Jar{k}
		s, err := batch.Plan(r)
		require.NoError(t, err, name)
		require.Len(t, s.Predilutions, 1, name)
		require.Equal(t, c.jar, s.Predilutions[0].Jar, name)
	}
	r := request(100, map[string]batch.PHR{"BK": 0.02})
	weak := good
	weak.Name, weak.Resin = "D2", batch.Grams(20)
	r.Jars = []batch.Jar{weak, good}
	s, err := batch.Plan(r)
	require.NoError(t, err)
	require.Equal(t, "D1", s.Predilutions[0].Jar)

	for what, k := range map[string]batch.Jar{
		"count it again": {Name: "D1", Pigment: "BK", Side: batch.SideB, Paste: batch.Grams(1), Resin: batch.Grams(1), Left: batch.Grams(3)},
		"as they were":   {Name: "D1", Pigment: "BK", Side: batch.SideB, Resin: batch.Grams(1)},
		"both names":     {Pigment: "BK"},
	} {
		r.Jars = []batch.Jar{k}
		_, err := batch.Plan(r)
		require.ErrorContains(t, err, what)
	}
}

// anyJars draws a jar or two of every pigment, of any strength and side.
func anyJars(t *rapid.T, r batch.Request) []batch.Jar {
	var jars []batch.Jar
	for i, code := range slices.Sorted(keysOf(r.Recipe)) {
		for range rapid.IntRange(0, 2).Draw(t, "jars of "+code) {
			k := batch.Jar{Name: string(rune('a'+i)) + string(rune('0'+len(jars)%10)), Pigment: code, Side: rapid.SampledFrom([]batch.Side{r.Resin.PigmentSide, r.Resin.PigmentSide, batch.SideA, batch.SideB}).Draw(t, "side"),
				Paste: batch.Grams(math.Round(rapid.Float64Range(0.1, 5).Draw(t, "paste")*100) / 100), Resin: batch.Grams(math.Round(rapid.Float64Range(1, 100).Draw(t, "resin")*100) / 100)}
			k.Left = batch.Grams(k.Paste.Plus(k.Resin).Grams() * rapid.Float64Range(0, 1).Draw(t, "left"))
			jars = append(jars, k)
		}
	}
	return jars
}

func keysOf(m map[string]batch.PHR) func(func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

// TestJarsConserve: whatever jars are taken, every gram of paste and resin in the
// cup is accounted for, from what was stirred into the jars, and the loadings are
// those of the recipe up to the steps of the scale.
func TestJarsConserve(t *testing.T) {
	used := 0
	rapid.Check(t, func(t *rapid.T) {
		r := anyRequest(t)
		r.Dilution, r.Outcome = batch.DiluteWhenNeeded, nil
		r.Jars = anyJars(t, r)
		s, err := batch.Plan(r)
		if err != nil {
			require.Contains(t, err.Error(), "too little for this recipe")
			t.Skip("batch too small for its lines")
		}
		step, side := r.Scale.Step.Grams(), string(r.Resin.PigmentSide)
		shares := map[string]float64{} // by item, from what was stirred
		for _, p := range s.Predilutions {
			shares[p.Item] = p.Paste.Grams() / p.Made.Grams()
			if p.Jar == "" {
				continue
			}
			used++
			at := slices.IndexFunc(r.Jars, func(k batch.Jar) bool { return k.Name == p.Jar })
			k := r.Jars[at]
			require.Equal(t, k.Pigment, p.Pigment)
			require.Equal(t, r.Resin.PigmentSide, k.Side)
			require.Equal(t, k.Left, p.Use.Plus(p.LeftOver))
			require.GreaterOrEqual(t, p.LeftOver.Grams(), 0.0, "no more is taken than there is")
		}
		paste, first, other, sum := map[string]float64{}, 0.0, 0.0, batch.Mass{}
		for _, l := range s.Lines {
			sum = sum.Plus(l.Grams)
			g := l.Grams.Grams()
			x, diluted := shares[l.Item]
			switch {
			case l.Item == side:
				first += g
			case l.Kind == batch.ResinLine:
				other += g
			case diluted:
				paste[l.Pigment] += g * x
				first += g * (1 - x)
			default:
				paste[l.Pigment] += g
			}
		}
		require.Equal(t, s.Total, sum)
		ratioHolds(t, r, first, other, 1.5, "mix ratio")
		resin := first + other
		amounts, err := s.Amounts(nil)
		require.NoError(t, err)
		h := batch.ContentsOf(amounts, r.Resin.PigmentSide, s.Predilutions)
		require.InDelta(t, first, h.Side, 1e-6)
		require.InDelta(t, other, h.Other, 1e-6)
		share := func(code string) float64 {
			for _, p := range s.Predilutions {
				if p.Pigment == code {
					return shares[p.Item]
				}
			}
			return 1
		}
		lines := 0.0
		for code := range r.Recipe {
			lines += math.Max(step, r.Colorants[code].Drop.Grams())
		}
		for code, want := range r.Recipe {
			require.InDelta(t, paste[code], h.Paste[code], 1e-7, code)
			require.InDelta(t, 100*paste[code]/resin, float64(s.Weighed[code]), 1e-4/resin+1e-9, code)
			unit := step * share(code)
			if d := r.Colorants[code].Drop; d.Positive() && share(code) == 1 {
				unit = math.Max(unit, d.Grams())
			}
			// half a unit of its own line, and its share of what the rounding of
			// all lines, of the two sides and of the order takes from the resin
			off := math.Abs(paste[code] - float64(want)*resin/100)
			require.LessOrEqual(t, off, unit/2+float64(want)/100*(lines/2+2*step)+1e-5, "%s realises %g phr", code, float64(want))
		}
	})
	t.Logf("%d jars were taken", used)
}

// By hand, 50 g of tinted B of WH 1 and BK 0.02 phr: R = 50/(90/190 + 0.0102) =
// 103.32854 g, BK 0.0206657 g, two steps of the scale; of a jar with 0.31 g in
// 15.02 g (x = 0.0202218) 1.02195 g -> 1.02; WH 1.03.
func TestTintFromAJar(t *testing.T) {
	recipe, scale := map[string]batch.PHR{"WH": 1, "BK": 0.02}, batch.Scale{Step: batch.Grams(0.01)}
	_, _, err := batch.Tint(recipe, clearResin(), scale, batch.Grams(50))
	require.ErrorContains(t, err, "BK of 0.021 g cannot be weighed in steps of 0.01 g")
	require.ErrorContains(t, err, "stir a pre-dilution of it first")
	k := batch.Jar{Name: "D1", Pigment: "BK", Side: batch.SideB, Paste: batch.Grams(0.31), Resin: batch.Grams(15.02), Left: batch.Grams(14)}
	lines, used, err := batch.Tint(recipe, clearResin(), scale, batch.Grams(50), k)
	require.NoError(t, err)
	require.Equal(t, []batch.Amount{{"B", batch.Grams(47.95)}, {"BK D1", batch.Grams(1.02)}, {"WH", batch.Grams(1.03)}}, lines)
	require.Equal(t, "12.98 g", used[0].LeftOver.String())
	phr, err := batch.ContentsOf(lines, batch.SideB, used).Complete(batch.SideB, clearResin().Mix).Loadings()
	require.NoError(t, err)
	require.InDelta(t, 0.02, float64(phr["BK"]), 0.02*0.005, "a step of the dose is 1 %")
	require.InDelta(t, 1, float64(phr["WH"]), 0.005)

	// 0.021 g of paste at 1:1300 carry 27 g of the 50 g of side B: one jar of it has
	// room, two have not
	weak := func(name, code string) batch.Jar {
		return batch.Jar{Name: name, Pigment: code, Side: batch.SideB, Paste: batch.Grams(0.1), Resin: batch.Grams(130), Left: batch.Grams(100)}
	}
	one := map[string]batch.PHR{"BK": 0.02}
	_, used, err = batch.Tint(one, clearResin(), scale, batch.Grams(50), weak("D1", "BK"))
	require.NoError(t, err)
	require.Len(t, used, 1)
	one["RD"] = 0.02
	_, _, err = batch.Tint(one, clearResin(), scale, batch.Grams(50), weak("D1", "BK"), weak("D2", "RD"))
	require.ErrorContains(t, err, "cannot be weighed")
}

// TestTintConserves: a pail weighs what was ordered, and holds the recipe up to
// half a step of every line, whatever jars are taken.
func TestTintConserves(t *testing.T) {
	used := 0
	rapid.Check(t, func(t *rapid.T) {
		r := anyRequest(t)
		total := batch.Grams(rapid.Float64Range(20, 300).Draw(t, "pail"))
		jars := anyJars(t, r)
		lines, made, err := batch.Tint(r.Recipe, r.Resin, r.Scale, total, jars...)
		if err != nil {
			require.Contains(t, err.Error(), "cannot be weighed")
			t.Skip("too small")
		}
		used += len(made)
		var sum batch.Mass
		units := 0.0
		for _, l := range lines {
			sum = sum.Plus(l.Grams)
			require.GreaterOrEqual(t, l.Grams.Grams(), 0.0)
			units += r.Scale.Step.Grams()
		}
		require.Equal(t, total, sum)
		h := batch.ContentsOf(lines, r.Resin.PigmentSide, made)
		require.InDelta(t, total.Grams(), h.Tinted(), 1e-6)
		resin := h.Side / r.Resin.Mix.Share(r.Resin.PigmentSide)
		for code, want := range r.Recipe {
			x := 1.0
			for _, p := range made {
				if p.Pigment == code {
					x = p.Strength
					require.GreaterOrEqual(t, p.LeftOver.Grams(), 0.0)
				}
			}
			off := math.Abs(h.Paste[code] - float64(want)*resin/100)
			require.LessOrEqual(t, off, x*r.Scale.Step.Grams()/2+float64(want)/100*(units/2)/r.Resin.Mix.Share(r.Resin.PigmentSide)+1e-5, code)
		}
	})
	t.Logf("%d jars were taken", used)
}

// TestJarServesAgain: what was stirred for a batch is taken for the same batch, as
// long as it lasts, however small the batch.
func TestJarServesAgain(t *testing.T) {
	for _, g := range []float64{14, 40, 100, 300} {
		r := request(g, map[string]batch.PHR{"WH": 1, "BK": 0.02})
		s, err := batch.Plan(r)
		require.NoError(t, err)
		require.Len(t, s.Predilutions, 1)
		p := s.Predilutions[0]
		times := 0
		for left := p.LeftOver; left.Compare(p.Use.Plus(batch.Grams(0.03))) > 0; times++ {
			r.Jars = []batch.Jar{{Name: "D1", Pigment: "BK", Side: p.Side, Paste: p.Paste, Resin: p.Resin, Left: left}}
			again, err := batch.Plan(r)
			require.NoError(t, err)
			require.Equal(t, "D1", again.Predilutions[0].Jar, "%g g with %v left", g, left)
			require.Equal(t, p.Use, again.Predilutions[0].Use)
			left = again.Predilutions[0].LeftOver
		}
		require.GreaterOrEqual(t, times, 1)
	}
}

// By hand, the batch of TestJarByHand from a jar of which 1.2 g are left: WH came
// out at one and a half times its line, so all grows by that, and of the jar 1.47 g
// would be needed.
func TestJarRunsOutInARescue(t *testing.T) {
	r := request(100, map[string]batch.PHR{"WH": 1, "BK": 0.02})
	r.Jars = []batch.Jar{{Name: "D1", Pigment: "BK", Side: batch.SideB, Paste: batch.Grams(0.31), Resin: batch.Grams(15.02), Left: batch.Grams(1.2)}}
	s, err := batch.Plan(r)
	require.NoError(t, err)
	require.Equal(t, "D1", s.Predilutions[0].Jar)
	out, err := batch.Overshoot(r, s, batch.Poured{"WH": batch.Grams(1.485)})
	require.NoError(t, err)
	require.Contains(t, strings.Join(remedy(t, out, batch.InProportion).Notes, "\n"), "more than the 1.2 g in jar D1: stir another of the same strength, 1:48.45")
}
