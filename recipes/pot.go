package recipes

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/floats"

	"masstone/calibrate"
)

// Pot is what stands ready to be added to: mixed resin, or the tinted side of a
// two-part resin before the other side is mixed in.
type Pot struct {
	Resin    calibrate.Grams            // of resin in the pot, without the pigments
	Share    float64                    // of the mixed resin that is in the pot: 1 (or 0) for mixed, 0.5 for one side of a 1:1 resin
	Pigments map[string]calibrate.Grams // of paste in the pot
	// ScaleGrams is the step of the scale additions are weighed on, 0 for
	// exact; MinWeigh the least that can be weighed, no less than a step.
	ScaleGrams, MinWeigh calibrate.Grams
	// MaxGrowth is how many times its resin the pot may grow to; 0 counts as 2.
	MaxGrowth float64
	// Diluted are pastes at hand let down in what is in an unmixed pot, by pigment.
	Diluted map[string]Dilution

	from map[string]Dilution // that its additions come from
}

// PotRoute is a way out by additions to the pot: nothing can be taken out.
type PotRoute struct {
	Route
	Add    map[string]calibrate.Grams // of each pigment's paste, in steps of the scale
	From   map[string]calibrate.Grams // of the dilution that holds the paste added, where it comes from one
	Resin  calibrate.Grams            // of the resin, or side, that is in the pot, beside what dilutions carry
	Growth float64                    // what the pot's resin is multiplied by, 1 for no more resin
}

// mixed is the grams of mixed resin the pot makes as it stands.
func (p *Pot) mixed() float64 {
	if p.Share == 0 {
		return float64(p.Resin)
	}
	return float64(p.Resin) / p.Share
}

// growth is how many times its resin the pot may grow to.
func (p *Pot) growth() float64 {
	if p.MaxGrowth == 0 {
		return 2
	}
	return p.MaxGrowth
}

func (p *Pot) check(cal *calibrate.Calibration) error {
	if !(p.Resin > 0) || math.IsInf(float64(p.Resin), 0) {
		return fmt.Errorf("the pot holds %g g of resin; give the grams in it", float64(p.Resin))
	}
	if !(p.Share >= 0 && p.Share <= 1) {
		return fmt.Errorf("the pot is %g of the mixed resin; give a share from 0 to 1, such as 0.5 for one side of a 1:1 resin", p.Share)
	}
	if !(p.growth() >= 1 && p.growth() <= 100) {
		return fmt.Errorf("the pot may grow to %g times its resin; give 1 to 100", p.MaxGrowth)
	}
	if !(p.ScaleGrams >= 0) || !(p.MinWeigh >= 0) || math.IsInf(float64(p.ScaleGrams+p.MinWeigh), 0) {
		return fmt.Errorf("a scale step of %g g and a least amount of %g g; give amounts from 0 up", float64(p.ScaleGrams), float64(p.MinWeigh))
	}
	for code, d := range p.Diluted {
		if !(d.Share > 0 && d.Share < 1) || !(d.Left >= 0) || !(d.SD >= 0) {
			return fmt.Errorf("%s is let down to a share of %g, %g g of it; give a share between 0 and 1 and its grams", code, d.Share, float64(d.Left))
		}
	}
	codes := p.codes()
	if len(codes) == 0 || len(codes) > MaxPerRecipe {
		return fmt.Errorf("the pot holds %d pigments; 1 to %d can be corrected", len(codes), MaxPerRecipe)
	}
	for _, code := range codes {
		g := float64(p.Pigments[code])
		if cal.Index(code) == 0 {
			return fmt.Errorf("the pot holds %s, which is not in this calibration; it knows %v", code, cal.Codes())
		}
		if !(g >= 0) || g > p.mixed() {
			return fmt.Errorf("the pot holds %g g of %s in %g g of resin; give its grams", g, code, float64(p.Resin))
		}
	}
	return nil
}

// codes lists the pigments in the pot.
func (p *Pot) codes() []string {
	return slices.DeleteFunc(slices.Sorted(maps.Keys(p.Pigments)), func(code string) bool { return p.Pigments[code] == 0 })
}

// Less than this, in CIEDE2000, is not worth more resin or a further pigment,
// or a single addition. Common practice, no source.
const (
	worthGrowing = 0.10
	worthAdding  = 0.02
)

// addToPot fills in the ways out that keep the pot.
func (b *posterior) addToPot(out *Correction, now []float64) error {
	pot := b.o.Pot
	if err := pot.check(b.cal); err != nil {
		return err
	}
	learnt, _, err := b.learn(true)
	if err != nil {
		return err
	}
	// an addition may be nothing, and all shots of a pot are equally strong
	limits := b.o.Limits
	limits.MinWeigh, limits.BatchGrams, limits.ScaleGrams = 0, 0, 0
	limits.StockGrams, limits.StrengthScatter = nil, 0
	limits.Required, limits.Forbidden = nil, nil
	limits.MaxPigments = MaxPerRecipe
	open := func(codes []string) (*match, error) {
		limits.Allowed = codes
		return newMatch(learnt, b.target, limits)
	}
	m, err := open(pot.codes())
	if err != nil {
		return err
	}
	as := m.fill(pot, 1)
	if out.Add, err = m.potRoute(pot, as, 1, out.Live, now); err != nil {
		return err
	}
	if f, growth, ok := m.grow(pot, as); ok {
		if out.Grow, err = m.potRoute(pot, f, growth, out.Live, now); err != nil {
			return err
		}
		if out.Grow.Expected > out.Add.Expected-worthGrowing {
			out.Grow = nil
		}
	}
	if b.o.AnyPigment {
		if err := b.widen(out, now, open); err != nil {
			return err
		}
	}
	for _, route := range []**PotRoute{&out.Add, &out.Grow, &out.Widen} {
		if err := b.letDown(pot, route, out.Live, now, open); err != nil {
			return err
		}
	}
	if out.Grow != nil && out.Grow.Expected > out.Add.Expected-worthGrowing {
		out.Grow = nil // a dilution does as well
	}
	if out.Widen != nil && out.Widen.Expected > out.Add.Expected-worthGrowing {
		out.Widen = nil
	}
	if out.Grow != nil {
		out.Notes = append(out.Notes, fmt.Sprintf("pigment alone leaves %.2f; with %.4g g more resin %.2f is expected", out.Add.Expected, float64(out.Grow.Resin), out.Grow.Expected))
	}
	if out.Widen != nil {
		out.Notes = append(out.Notes, fmt.Sprintf("the pigments in the pot leave %.2f; with %s %.2f is expected", out.Add.Expected, strings.Join(others(out.Widen.Add, pot), ", "), out.Widen.Expected))
	}
	return nil
}

// grow returns the least growth of the pot that does about as well as the most
// allowed, if the pot as it stands does not.
func (m *match) grow(pot *Pot, as found) (f found, growth float64, ok bool) {
	lo, hi := 1.0, pot.growth()
	if hi == 1 {
		return as, 1, false
	}
	f = m.fill(pot, hi)
	enough := 1.1*math.Sqrt(f.value) + 0.02
	if math.Sqrt(as.value) <= enough {
		return as, 1, false
	}
	for hi-lo > 0.005*hi {
		mid := (lo + hi) / 2
		if g := m.fill(pot, mid); math.Sqrt(g.value) <= enough {
			hi, f = mid, g
		} else {
			lo = mid
		}
	}
	return f, hi, true
}

// widen tries each pigment that is not in the pot.
func (b *posterior) widen(out *Correction, now []float64, open func(codes []string) (*match, error)) error {
	pot := b.o.Pot
	codes := pot.codes()
	if len(codes) == MaxPerRecipe {
		return nil
	}
	all, err := b.o.Limits.resolve(b.cal, float64(b.target.Setting.Thickness))
	if err != nil {
		return err
	}
	for _, q := range all.pigments {
		code := b.cal.Curves[q].Code
		if slices.Contains(codes, code) {
			continue
		}
		m, err := open(append(slices.Clone(codes), code))
		if err != nil {
			return err
		}
		r, err := m.potRoute(pot, m.fill(pot, 1), 1, out.Live, now)
		if err != nil {
			return err
		}
		if r.Expected < out.Add.Expected-worthGrowing && (out.Widen == nil || r.Expected < out.Widen.Expected) {
			out.Widen = r
		}
	}
	return nil
}

// others lists the additions that were not in the pot.
func others(add map[string]calibrate.Grams, pot *Pot) []string {
	return slices.DeleteFunc(slices.Sorted(maps.Keys(add)), func(code string) bool { return pot.Pigments[code] > 0 })
}

// fill returns the best that additions make of the pot with its resin grown so
// many times: F at its least where no loading may fall below what is in the pot
// already. Additions that hardly help are left out, the rest are whole steps of
// the scale.
func (m *match) fill(pot *Pot, growth float64) found {
	b := m.bench
	perGram := 100 / (pot.mixed() * growth)
	start := found{n: len(b.pigments)}
	have := make([]float64, start.n)
	for i, q := range b.pigments {
		code := m.cal.Curves[q].Code
		have[i] = float64(pot.Pigments[code]) * perGram
		b.lo[i], b.hi[i], b.weigh[i] = have[i], math.Max(b.hi[i], have[i]), pot.step(code)/math.Sqrt(12)*perGram
		start.at[i], start.c[i] = i, have[i]
	}
	hi, total := slices.Clone(b.hi), b.total
	b.total = math.Max(b.total, floats.Sum(have))
	leave := func(i int) { b.lo[i], b.hi[i], b.weigh[i] = have[i], have[i], 0 }
	f := m.descend(start)
	for range start.n {
		// the smallest addition, and whether it is worth its weighing
		least := -1
		for i := range have {
			if b.hi[i] > have[i] && (least < 0 || f.c[i]-have[i] < f.c[least]-have[least]) {
				least = i
			}
		}
		if least < 0 {
			break
		}
		keep := [3]float64{b.lo[least], b.hi[least], b.weigh[least]}
		leave(least)
		without := m.descend(found{n: f.n, at: f.at, c: f.c})
		if math.Sqrt(without.value) > math.Sqrt(f.value)+worthAdding {
			b.lo[least], b.hi[least], b.weigh[least] = keep[0], keep[1], keep[2]
			break
		}
		f = without
	}
	for i, q := range b.pigments {
		code := m.cal.Curves[q].Code
		step := pot.step(code) * perGram
		floor := math.Max(step, pot.least(code)*perGram)
		add := f.c[i] - have[i]
		if step > 0 {
			add = math.Round(add/step) * step
		}
		if add < floor/2 || add <= 0 {
			f.c[i], b.weigh[i] = have[i], 0
		} else {
			f.c[i] = have[i] + math.Max(add, floor)
		}
	}
	w := m.work(m.eval.Clone())
	w.take(f.at[:f.n])
	f.value = w.expected(&f.c)
	f.f = w.residuals(&f.c)
	copy(b.hi, hi)
	b.total = total
	return f
}

// potRoute reports what fill found.
func (m *match) potRoute(pot *Pot, f found, growth float64, live Verdict, now []float64) (*PotRoute, error) {
	out := &PotRoute{Add: map[string]calibrate.Grams{}, From: map[string]calibrate.Grams{}, Growth: growth, Resin: pot.Resin * calibrate.Grams(growth-1)}
	mixed := pot.mixed() * growth
	for k := range f.n {
		i := f.at[k]
		code := m.cal.Curves[m.bench.pigments[i]].Code
		m.bench.weigh[i] = 0
		if add := f.c[k]*mixed/100 - float64(pot.Pigments[code]); add > 1e-9*mixed {
			out.Add[code] = calibrate.Grams(math.Round(add*1e6) / 1e6)
			m.bench.weigh[i] = pot.unsure(code, add) * 100 / mixed
			if d, ok := pot.from[code]; ok {
				out.From[code] = calibrate.Grams(math.Round(add/d.Share*1e6) / 1e6)
				out.Resin -= calibrate.Grams(add / d.Share * (1 - d.Share))
			}
		}
	}
	var err error
	out.Route, err = m.route(m.bench.stripped(f), live, now)
	return out, err
}
