package batch_test

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/recipes/batch"
)

// anyRequest draws a request a person could make: any ratio and side, coarse
// and fine scales, up to six pigments from a trace to masstone, some in drops.
func anyRequest(t *rapid.T) batch.Request {
	pigments := rapid.SampledFrom([][]string{{}, {"WH"}, {"WH", "BK"}, {"WH", "RD", "YE"}, {"WH", "RD", "YE", "BL", "BK"}, {"WH", "RD", "YE", "BL", "BK", "GN"}}).Draw(t, "pigments")
	r := batch.Request{
		Recipe: map[string]batch.PHR{}, Colorants: map[string]batch.Colorant{},
		Resin: batch.Resin{
			Mix:      batch.Ratio{A: 100, B: rapid.Float64Range(10, 1000).Draw(t, "B")},
			DensityA: batch.GramsPerML(rapid.Float64Range(0.9, 1.3).Draw(t, "rho A")), DensityB: batch.GramsPerML(1),
			PotLife:     time.Duration(rapid.IntRange(0, 40).Draw(t, "pot life")) * time.Minute,
			PigmentSide: rapid.SampledFrom([]batch.Side{batch.SideA, batch.SideB}).Draw(t, "side"),
		},
		Scale: batch.Scale{
			Step:  rapid.SampledFrom([]batch.Mass{batch.Grams(0.001), batch.Grams(0.01), batch.Grams(0.05), batch.Grams(0.1)}).Draw(t, "step"),
			Tared: rapid.Bool().Draw(t, "tared"),
		},
		Handling:  batch.UsualHandling(),
		Dilution:  rapid.SampledFrom([]batch.Dilution{batch.DiluteWhenNeeded, batch.DiluteNever}).Draw(t, "dilution"),
		Tolerance: rapid.Float64Range(0, 2).Draw(t, "tolerance"),
	}
	for _, code := range pigments {
		r.Recipe[code] = batch.PHR(math.Exp(rapid.Float64Range(math.Log(0.005), math.Log(4)).Draw(t, code)))
		if rapid.IntRange(0, 5).Draw(t, "by drops") == 0 {
			r.Colorants[code] = batch.Colorant{Drop: batch.Grams(0.0317), Scatter: 0.08, Density: batch.GramsPerML(1.6)}
		}
	}
	if rapid.Bool().Draw(t, "by mass") {
		r.Order.Total = batch.Grams(rapid.Float64Range(1, 3000).Draw(t, "grams"))
	} else {
		r.Order = batch.Order{Cavity: batch.Millilitres(rapid.Float64Range(1, 60).Draw(t, "cavity")),
			Shots: rapid.IntRange(1, 40).Draw(t, "shots"), Waste: rapid.Float64Range(0, 0.3).Draw(t, "waste")}
	}
	r.Order.Grow = rapid.SampledFrom([]float64{0, 0, 0.03}).Draw(t, "grow")
	if rapid.Bool().Draw(t, "small cups") {
		r.Handling.MaxCup = batch.Grams(rapid.Float64Range(20, 800).Draw(t, "cup"))
	}
	if rapid.IntRange(0, 3).Draw(t, "judged") > 0 {
		r.Outcome = target(r.Recipe, 0.25)
	}
	return r
}

// plan draws a request and its sheet; too small a batch is the only excuse.
func plan(t *rapid.T) (batch.Request, batch.Sheet) {
	r := anyRequest(t)
	s, err := batch.Plan(r)
	if err != nil {
		require.Contains(t, err.Error(), "too little for this recipe")
		t.Skip("batch too small for its lines")
	}
	return r, s
}

// sides adds up the resin of a sheet, with what pre-dilutions carry.
func sides(lines []batch.Line) (first, last float64) {
	for i, l := range lines {
		switch {
		case i == 0:
			first += l.Grams.Grams()
		case i == len(lines)-1:
			last = l.Grams.Grams()
		default:
			first += l.Grams.Grams() - l.Paste.Grams()
		}
	}
	return first, last
}

// ratioHolds: neither side is further than so many steps from what the other
// asks for, told on the smaller side.
func ratioHolds(t require.TestingT, r batch.Request, first, last, steps float64, what string) {
	share := r.Resin.Mix.Share(r.Resin.PigmentSide)
	per := (1 - share) / share
	off := math.Min(math.Abs(last-first*per), math.Abs(first-last/per))
	require.LessOrEqual(t, off, steps*r.Scale.Step.Grams()+1e-5, what)
}

func TestSheetConserves(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, s := plan(t)
		step := r.Scale.Step.Grams()

		var sum batch.Mass
		paste := map[string]float64{}
		drops := false
		for _, l := range s.Lines {
			require.GreaterOrEqual(t, l.Grams.Grams(), 0.0)
			before := sum
			sum = sum.Plus(l.Grams)
			require.Equal(t, sum, l.Cumulative)
			require.GreaterOrEqual(t, l.Cumulative.Compare(before), 0, "the running sum never falls")
			if l.Kind != batch.ResinLine {
				paste[l.Pigment] += l.Paste.Grams()
			}
			if l.Drops > 0 {
				drops = true
				require.InDelta(t, float64(l.Drops)*0.0317, l.Grams.Grams(), 1e-9)
			} else {
				require.InDelta(t, 0, math.Remainder(l.Grams.Grams(), step), 1e-9, "%s is weighable", l.Item)
			}
		}
		require.Equal(t, sum, s.Total)

		slack, ratioSteps := 1e-9, 1.0
		if drops {
			slack, ratioSteps = step/2+1e-9, 1.5
		}
		require.GreaterOrEqual(t, s.Total.Grams(), s.Ordered.Grams()-slack)
		require.LessOrEqual(t, s.Total.Grams(), s.Ordered.Grams()*(1+r.Order.Grow)+slack)

		first, last := sides(s.Lines)
		ratioHolds(t, r, first, last, ratioSteps, "mix ratio")
		require.InDelta(t, first+last, s.MixedResin.Grams(), 1e-5)
		for code, grams := range paste {
			require.InDelta(t, float64(s.Weighed[code]), 100*grams/(first+last), 1e-4/(first+last)+1e-9)
		}
		if e := s.Expected; e != nil {
			require.LessOrEqual(t, e.Sheet, e.Rounded+1e-12, "never worse than rounding")
			require.InDelta(t, e.Rounded-e.Sheet, e.Gain, 1e-12)
			require.InDelta(t, e.Sheet-e.Ideal, e.Cost, 1e-12)
		}
		for _, p := range s.Predilutions {
			require.InDelta(t, float64(p.Ratio), p.Resin.Grams()/p.Paste.Grams(), 1e-9)
			require.Equal(t, p.Made, p.Use.Plus(p.LeftOver))
			require.GreaterOrEqual(t, p.LeftOver.Grams(), 0.0, "enough is made")
		}
	})
}

func TestCupsConserve(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, s := plan(t)
		step := r.Scale.Step.Grams()
		other := s.Lines[len(s.Lines)-1].Grams
		pot := s.Total.Minus(other)
		var sum, sumPot, sumOther batch.Mass
		shots := 0
		for i, c := range s.Cups {
			require.Equal(t, i+1, c.Number)
			require.Equal(t, c.Total, c.Pigmented.Plus(c.Other))
			sum, sumPot, sumOther = sum.Plus(c.Total), sumPot.Plus(c.Pigmented), sumOther.Plus(c.Other)
			shots += c.Shots
			require.GreaterOrEqual(t, c.Pigmented.Grams(), 0.0)
			require.GreaterOrEqual(t, c.Other.Grams(), 0.0)
			if m := r.Handling.MaxCup.Grams(); m > 0 {
				require.LessOrEqual(t, c.Total.Grams(), m+1e-9)
			}
			if limit := s.Clock.Usable; limit > 3.6 && c.Late { // time to pour at all
				require.Positive(t, r.Order.Shots, "only what is injected may come too late: %v", c)
				require.LessOrEqual(t, c.Shots, 1, "only a single shot or a piece of one: %v", c)
				require.Less(t, limit-3.5, 2*s.Clock.Shot, "loading takes most of the time: %v", c)
				require.Less(t, limit, 3.5+c.Total.Grams()/300+s.Clock.Shot)
			}
			if i > 0 {
				before := s.Cups[i-1]
				require.InDelta(t, before.Starts+before.Minutes, c.Starts, 1e-5, "one pair of hands")
			}
			per := other.Grams() / pot.Grams()
			require.LessOrEqual(t, math.Abs(c.Other.Grams()-c.Pigmented.Grams()*per), step*1.001, "cup %d keeps the mix", i+1)
		}
		require.Equal(t, s.Total, sum)
		require.Equal(t, pot, sumPot)
		require.Equal(t, other, sumOther)
		if shots > 0 {
			require.Equal(t, r.Order.Shots, shots)
		}
	})
}

func TestOvershootOnlyAdds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, s := plan(t)
		poured := batch.Poured{}
		upTo := rapid.IntRange(0, len(s.Lines)-1).Draw(t, "poured up to")
		if len(s.Cups) > 1 {
			upTo = min(upTo, len(s.Lines)-2)
		}
		for i := range upTo + 1 {
			if rapid.Bool().Draw(t, "said") {
				f := rapid.SampledFrom([]float64{0, 0.8, 1, 1.02, 1.3, 2.5}).Draw(t, "factor")
				g := math.Round(s.Lines[i].Grams.Grams()*f/r.Scale.Step.Grams()) * r.Scale.Step.Grams()
				poured[s.Lines[i].Item] = batch.Grams(g)
			}
		}
		out, err := batch.Overshoot(r, s, poured)
		require.NoError(t, err)
		require.Equal(t, batch.AsPlanned, out.Remedies[0].Way)
		var asPlanned, same *float64
		for _, x := range out.Remedies {
			what := fmt.Sprintf("%s of %v", x.Way, poured)
			var held, sum batch.Mass
			var first float64
			for i, l := range x.Lines {
				held, sum = held.Plus(l.Poured), sum.Plus(l.Final)
				require.GreaterOrEqual(t, l.Add.Grams(), 0.0, what)
				require.Equal(t, l.Final, l.Poured.Plus(l.Add), what)
				if m, ok := poured[l.Item]; ok {
					require.Equal(t, m, l.Poured, what)
				}
				switch {
				case i == 0:
					first += l.Final.Grams()
				case i < len(x.Lines)-1:
					ratio := 0
					fmt.Sscanf(l.Item[strings.LastIndex(l.Item, " ")+1:], "1:%d", &ratio)
					first += l.Final.Grams() * float64(ratio) / float64(1+ratio)
				}
			}
			for _, l := range x.Lines {
				held = held.Plus(l.Add)
				require.Equal(t, held, l.Cumulative, what)
			}
			require.Equal(t, sum, x.Total, what)
			require.Equal(t, s.Total.Plus(x.Extra), x.Total, what)
			require.Equal(t, x.Extra, x.Resin.Plus(x.Paste), what)
			ratioHolds(t, r, first, x.Lines[len(x.Lines)-1].Final.Grams(), 1.5, what)
			switch x.Way {
			case batch.AsPlanned:
				asPlanned = x.Expected
			case batch.SameResin:
				same = x.Expected
			case batch.GrowLeast:
				require.True(t, x.Keeps, what)
			}
		}
		if same != nil {
			require.LessOrEqual(t, *same, *asPlanned+1e-12, "solving is never worse than leaving")
		}
		if len(out.Over) == 0 {
			require.Len(t, out.Remedies, 1)
		}
	})
}

// Lines poured as planned need no rescue, however far the work has come.
func TestPouredAsPlanned(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, s := plan(t)
		upTo := rapid.IntRange(0, len(s.Lines)-1).Draw(t, "poured up to")
		if len(s.Cups) > 1 {
			upTo = min(upTo, len(s.Lines)-2)
		}
		out, err := batch.Overshoot(r, s, batch.Poured{s.Lines[upTo].Item: s.Lines[upTo].Grams})
		require.NoError(t, err)
		require.Empty(t, out.Over)
		x := out.Remedies[0]
		for i, l := range x.Lines {
			require.Equal(t, s.Lines[i].Item, l.Item)
			require.InDelta(t, s.Lines[i].Grams.Grams(), l.Final.Grams(), 1e-9, l.Item)
			if i <= upTo {
				require.Zero(t, l.Add, l.Item)
			}
		}
		require.Equal(t, s.Total, x.Total)
	})
}

func TestMassKeepsMicrograms(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.Int64Range(-1e15, 1e15).Draw(t, "micrograms")
		m := batch.Grams(float64(u) / 1e6)
		written, err := m.MarshalJSON()
		require.NoError(t, err)
		var again batch.Mass
		require.NoError(t, again.UnmarshalJSON(written))
		require.Equal(t, m, again)
		shown, err := strconv.ParseFloat(strings.TrimSuffix(m.String(), " g"), 64)
		require.NoError(t, err)
		require.InDelta(t, m.Grams(), shown, 1e-9)
	})
}
