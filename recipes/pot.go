package recipes

import (
	"context"
	"fmt"
	"math"

	"masstone/calibrate"
)

// Pot is what stands ready to be added to: mixed resin, or the tinted side of a
// two-part resin before its other side is mixed in.
type Pot struct {
	Resin    calibrate.Grams            // of resin in the pot, without the pigments
	Share    float64                    // of the mixed resin that is in the pot: 1 (or 0) for mixed, 0.5 for one side of a 1:1 resin
	Pigments map[string]calibrate.Grams // of paste in the pot
	// ScaleGrams is the step of the scale additions are weighed on, 0 for
	// exact; MinWeigh the least that can be weighed.
	ScaleGrams, MinWeigh calibrate.Grams
	// MaxGrowth is how many times its resin the pot may grow to; 0 counts as 2.
	MaxGrowth float64
}

// PotRoute is a way out by adding to the pot.
type PotRoute struct {
	Route
	Add    map[string]calibrate.Grams // of each pigment's paste
	Resin  calibrate.Grams            // of the resin, or side, in the pot
	Growth float64                    // of the pot's resin, 1 for none
}

// mixed is the grams of mixed resin the pot makes as it stands.
func (p *Pot) mixed() float64 {
	if p.Share == 0 {
		return float64(p.Resin)
	}
	return float64(p.Resin) / p.Share
}

func (p *Pot) check(cal *calibrate.Calibration) error {
	if !(p.Resin > 0) || math.IsInf(float64(p.Resin), 0) {
		return fmt.Errorf("the pot holds %g g of resin; give the grams in it", float64(p.Resin))
	}
	if !(p.Share >= 0 && p.Share <= 1) {
		return fmt.Errorf("the pot is %g of the mixed resin; give a share from 0 to 1, such as 0.5 for one side of a 1:1 resin", p.Share)
	}
	if !(p.MaxGrowth >= 0) || p.MaxGrowth > 0 && p.MaxGrowth < 1 || p.MaxGrowth > 100 {
		return fmt.Errorf("the pot may grow to %g times its resin; give 1 to 100", p.MaxGrowth)
	}
	if !(p.ScaleGrams >= 0) || !(p.MinWeigh >= 0) {
		return fmt.Errorf("a scale step of %g g and a least amount of %g g; give amounts from 0 up", float64(p.ScaleGrams), float64(p.MinWeigh))
	}
	for code, g := range p.Pigments {
		if cal.Index(code) == 0 {
			return fmt.Errorf("the pot holds %s, which is not in this calibration; it knows %v", code, cal.Codes())
		}
		if !(g >= 0) || float64(g) > p.mixed() {
			return fmt.Errorf("the pot holds %g g of %s; give its grams", float64(g), code)
		}
	}
	return nil
}

// addToPot fills in the ways out that keep the pot.
func (b *belief) addToPot(_ context.Context, out *Correction, live Verdict, now []float64) error {
	pot := b.o.Pot
	if err := pot.check(b.cal); err != nil {
		return err
	}
	learnt, _, err := b.learn(true)
	if err != nil {
		return err
	}
	limits := b.o.Limits
	// an addition may be nothing, the pot is no batch, and all its shots are
	// equally strong
	limits.MinWeigh, limits.StockGrams, limits.StrengthScatter = 0, nil, 0
	limits.BatchGrams, limits.ScaleGrams = 0, 0
	limits.Required, limits.Forbidden, limits.Allowed = nil, nil, nil
	for code, g := range pot.Pigments {
		if g > 0 {
			limits.Allowed = append(limits.Allowed, code)
		}
	}
	if len(limits.Allowed) == 0 || len(limits.Allowed) > MaxPerRecipe {
		return fmt.Errorf("the pot holds %d pigments; 1 to %d can be corrected", len(limits.Allowed), MaxPerRecipe)
	}
	m, err := newMatch(learnt, b.target, limits)
	if err != nil {
		return err
	}
	most := pot.MaxGrowth
	if most == 0 {
		most = 2
	}
	as, grown := m.fill(pot, 1), m.fill(pot, most)
	if out.Add, err = m.potRoute(pot, as, 1, live, now); err != nil {
		return err
	}
	enough := 1.1*math.Sqrt(grown.value) + 0.05
	if most == 1 || math.Sqrt(as.value) <= enough {
		return nil
	}
	lo, hi := 1.0, most
	for hi-lo > 0.005*hi {
		mid := (lo + hi) / 2
		if f := m.fill(pot, mid); math.Sqrt(f.value) <= enough {
			hi, grown = mid, f
		} else {
			lo = mid
		}
	}
	if out.Grow, err = m.potRoute(pot, grown, hi, live, now); err != nil {
		return err
	}
	out.Notes = append(out.Notes, fmt.Sprintf("adding pigment alone leaves %.2f; with %.4g g more resin %.2f is expected", out.Add.Expected, float64(out.Grow.Resin), out.Grow.Expected))
	return nil
}

// fill returns the best that additions make of the pot grown so many times.
func (m *match) fill(pot *Pot, growth float64) found {
	mixed := pot.mixed() * growth
	b := m.bench
	start := found{n: len(b.pigments)}
	sum := 0.0
	perGram := 100 / mixed
	for i, q := range b.pigments {
		have := float64(pot.Pigments[m.cal.Curves[q].Code]) * perGram
		b.lo[i] = have
		b.hi[i] = math.Max(b.hi[i], have)
		b.weigh[i] = float64(pot.ScaleGrams) / math.Sqrt(12) * perGram
		start.at[i], start.c[i] = i, have
		sum += have
	}
	total := b.total
	b.total = math.Max(total, sum)
	f := m.descendPot(start)
	// what is too little to weigh is left out or becomes the least
	least := math.Max(float64(pot.MinWeigh), float64(pot.ScaleGrams)) * perGram
	hi := append([]float64(nil), b.hi...)
	for i := range b.pigments {
		switch add := f.c[i] - b.lo[i]; {
		case add < least/2 || add <= 1e-9:
			b.hi[i], b.weigh[i] = b.lo[i], 0
			f.c[i] = b.lo[i]
		case add < least:
			b.lo[i] += least
			f.c[i] = b.lo[i]
		}
	}
	f = m.descendPot(f)
	copy(b.hi, hi)
	b.total = total
	return f
}

// descendPot minimises F over all pigments of the bench.
func (m *match) descendPot(start found) found {
	w := m.work(m.eval.Clone())
	best := start
	best.value = math.Inf(1)
	for _, first := range []bool{false, true} {
		w.take(start.at[:start.n])
		w.c = start.c
		w.clamp(&w.c)
		if first {
			w.solve()
		}
		if v := w.polish(); v < best.value {
			best.value, best.c = v, w.c
		}
	}
	best.f = w.residuals(&best.c)
	return best
}

func (m *match) potRoute(pot *Pot, f found, growth float64, live Verdict, now []float64) (*PotRoute, error) {
	out := &PotRoute{Add: map[string]calibrate.Grams{}, Growth: growth, Resin: pot.Resin * calibrate.Grams(growth-1)}
	mixed := pot.mixed() * growth
	for i := range f.n {
		code := m.cal.Curves[m.bench.pigments[f.at[i]]].Code
		if add := f.c[i]*mixed/100 - float64(pot.Pigments[code]); add > 1e-6 {
			out.Add[code] = calibrate.Grams(add)
		}
		m.bench.weigh[f.at[i]] = 0
		if out.Add[code] > 0 {
			m.bench.weigh[f.at[i]] = float64(pot.ScaleGrams) / math.Sqrt(12) * 100 / mixed
		}
	}
	var err error
	out.Route, err = m.route(f, live, now)
	return out, err
}
