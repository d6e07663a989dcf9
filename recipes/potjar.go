package recipes

import (
	"math"
	"slices"

	"masstone/calibrate"
)

// Dilution is a paste let down in the side of the resin that an unmixed pot holds: a
// step of the scale is less paste, and what it carries of the side makes the pot grow.
type Dilution struct {
	Item  string  // its line, such as OX D1
	Jar   string  // where it is
	Share float64 // of paste in it
	SD    float64 // of Share, relative
	Left  calibrate.Grams
}

// An addition of fewer steps of the scale than this may better come from a dilution,
// where it is expected to land nearer by more than that, CIEDE2000. Common practice, no
// source.
const (
	easySteps     = 30
	worthDiluting = 0.005
)

// share is that of paste in what is weighed of a pigment.
func (p *Pot) share(code string) float64 {
	if d, ok := p.from[code]; ok {
		return d.Share
	}
	return 1
}

// step is that of the scale in paste, least the least amount in it, g.
func (p *Pot) step(code string) float64  { return float64(p.ScaleGrams) * p.share(code) }
func (p *Pot) least(code string) float64 { return float64(p.MinWeigh) * p.share(code) }

// unsure is the standard deviation of an addition, g of paste.
func (p *Pot) unsure(code string, add float64) float64 {
	return math.Hypot(p.step(code)/math.Sqrt(12), p.from[code].SD*add)
}

// letDown takes additions from dilutions where that is better on the scale.
func (b *posterior) letDown(pot *Pot, route **PotRoute, live Verdict, now []float64, open func(codes []string) (*match, error)) error {
	neat := *route
	if neat == nil || len(pot.Diluted) == 0 || pot.Share == 0 || pot.Share == 1 {
		return nil
	}
	p := *pot
	p.from = map[string]Dilution{}
	codes := pot.codes()
	for _, code := range others(neat.Add, pot) {
		codes = append(codes, code)
	}
	for code, d := range pot.Diluted {
		if slices.Contains(codes, code) && neat.Add[code] < easySteps*pot.ScaleGrams {
			p.from[code] = d
		}
	}
	m, err := open(codes)
	if err != nil {
		return err
	}
	for len(p.from) > 0 {
		r, err := m.diluted(&p, neat.Growth, live, now)
		if err != nil {
			return err
		}
		short := "" // a jar that does not hold so much
		for code, g := range r.From {
			if g > p.from[code].Left {
				short = code
			}
		}
		if short != "" {
			delete(p.from, short)
			continue
		}
		if len(r.From) > 0 && r.Growth <= pot.growth() && r.Expected < neat.Expected-worthDiluting {
			*route = r
		}
		return nil
	}
	return nil
}

// diluted is what additions make of a pot that grows by what its dilutions carry, and
// at least so many times.
func (m *match) diluted(pot *Pot, least float64, live Verdict, now []float64) (*PotRoute, error) {
	growth := least
	var f found
	var adds [MaxPerRecipe]float64
	for range 4 { // steps of the scale hold it in place
		f = m.fill(pot, growth)
		carried := 0.0
		for i, q := range m.bench.pigments {
			code := m.cal.Curves[q].Code
			adds[i] = math.Max(0, f.c[i]*pot.mixed()*growth/100-float64(pot.Pigments[code]))
			if d, ok := pot.from[code]; ok {
				carried += adds[i] / d.Share * (1 - d.Share)
			}
		}
		next := math.Max(least, 1+carried/float64(pot.Resin))
		done := math.Abs(next-growth) < 1e-9
		if growth = next; done {
			break
		}
	}
	perGram := 100 / (pot.mixed() * growth)
	for i, q := range m.bench.pigments {
		code := m.cal.Curves[q].Code
		if adds[i] < 1e-9 {
			adds[i] = 0
		}
		f.c[i], m.bench.weigh[i] = (float64(pot.Pigments[code])+adds[i])*perGram, 0
		if adds[i] > 0 {
			m.bench.weigh[i] = pot.unsure(code, adds[i]) * perGram
		}
	}
	w := m.work(m.eval.Clone())
	w.take(f.at[:f.n])
	f.value, f.f = w.expected(&f.c), w.residuals(&f.c)
	return m.potRoute(pot, f, growth, live, now)
}
