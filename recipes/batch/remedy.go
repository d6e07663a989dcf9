package batch

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// remedies fills in the ways on.
func (m *rescue) remedies(out *Rescue) error {
	planned := m.toppedUp(1)
	var f fill
	m.toResin(&f, m.charges, planned, m.resin, m.cupPigment, m.cupOther)
	if m.resinStands(&f) {
		f.pigment, f.other = m.plannedPigment, m.plannedOther
	}
	if err := m.offer(out, AsPlanned, &f, planned); err != nil || len(m.over) == 0 {
		return err
	}
	if m.Outcome != nil {
		if err := m.solveHere(out, &f, planned); err != nil {
			return err
		}
	}
	return m.inProportion(out)
}

// solveHere offers the best additions at the resin there is, never worse than
// the batch as planned in f, and growth if the tolerance asks for it.
func (m *rescue) solveHere(out *Rescue, f *fill, planned []int64) error {
	n, value, err := m.solve(m.resin, planned)
	if err != nil {
		return err
	}
	if v := *out.Remedies[0].Expected; better(value, v) || m.phr(f) > m.bears() {
		m.toResin(f, m.charges, n, m.resin, m.cupPigment, m.cupOther)
	} else {
		n, value = planned, v // no addition helps
	}
	if err := m.offer(out, SameResin, f, n); err != nil {
		return err
	}
	if m.Tolerance > 0 && value > m.Tolerance {
		return m.growLeast(out, n)
	}
	return nil
}

// inProportion offers the batch grown by the overshot share (12).
func (m *rescue) inProportion(out *Rescue) error {
	resin := m.growth * float64(m.sheet.MixedResin.micrograms)
	if resin > float64(largest.micrograms) {
		return nil
	}
	n := m.toppedUp(m.growth)
	if m.Outcome != nil {
		var err error
		if n, err = m.settle(resin, n); err != nil {
			return err
		}
	}
	var f fill
	m.toResin(&f, m.charges, n, resin, m.cupPigment, m.cupOther)
	return m.offer(out, InProportion, &f, n)
}

// resinStands tells whether both resin lines can stay those of the sheet.
func (m *rescue) resinStands(f *fill) bool {
	var carried float64
	for i, c := range m.charges {
		carried += float64(m.planned[i]) * (1 - c.share())
	}
	return m.cupPigment <= m.plannedPigment && m.cupOther <= m.plannedOther &&
		math.Abs(f.carried-carried) <= float64(m.step)/2
}

// toppedUp is the units to add so that each line reaches its plan times g, as
// near as adding allows.
func (m *rescue) toppedUp(g float64) []int64 {
	n := make([]int64, len(m.charges))
	for i, c := range m.charges {
		n[i] = max(0, int64(math.Round((g*float64(m.planned[i])-float64(c.base))/float64(c.unit))))
	}
	return n
}

// lattice judges additions at a resin mass. Paste beyond what the resin bears
// is not allowed.
func (m *rescue) lattice(resin float64, lower, upper []int64) lattice {
	var f fill
	limit := m.bears()
	return lattice{lower, upper, func(n []int64) (float64, error) {
		m.toResin(&f, m.charges, n, resin, m.cupPigment, m.cupOther)
		if m.phr(&f) > limit {
			return math.Inf(1), nil
		}
		return m.judge(m.charges, &f)
	}}
}

// bears is the most paste in phr, with a thousandth for rounding.
func (m *rescue) bears() float64 {
	limit := 100.0
	if m.Resin.MaxPHR > 0 {
		limit = float64(m.Resin.MaxPHR)
	}
	return 1.001 * limit
}

// phr is the total loading of a settled cup.
func (m *rescue) phr(f *fill) float64 {
	var paste float64
	for i, c := range m.charges {
		paste += float64(f.doses[i]) * c.share()
	}
	return 100 * paste / f.resin()
}

// widest bounds a line solved again to this many times its plan, or what the
// cup holds if that is more.
const widest = 4

// solve finds the additions of least expected difference at a resin mass,
// from the start given, or from nothing added if the start is not allowed.
func (m *rescue) solve(resin float64, start []int64) ([]int64, float64, error) {
	upper, strides := make([]int64, len(start)), make([]int64, len(start))
	none := make([]int64, len(start))
	for i, c := range m.charges {
		most := widest * max(m.planned[i], c.base, c.unit)
		upper[i] = max(start[i], (most-c.base)/c.unit)
		strides[i] = max(1, max(m.planned[i], c.base)/c.unit/4)
	}
	l := m.lattice(resin, none, upper)
	best, value, err := l.descend(start, strides)
	if err == nil && math.IsInf(value, 1) {
		best, value, err = l.descend(none, strides)
	}
	return best, value, err
}

// settle takes the best of the additions within one unit of n.
func (m *rescue) settle(resin float64, n []int64) ([]int64, error) {
	lower, upper := slices.Clone(n), slices.Clone(n)
	for i := range n {
		lower[i], upper[i] = max(0, n[i]-1), n[i]+1
	}
	best, _, err := m.lattice(resin, lower, upper).descend(n, slices.Repeat([]int64{1}, len(n)))
	return best, err
}

// growLeast offers the least resin, to a sixty-fourth of the way to full
// proportion, at which the pigments can be brought inside the tolerance. It
// halves the way, taking for granted that more resin makes it easier.
func (m *rescue) growLeast(out *Rescue, start []int64) error {
	const parts = 64
	full := m.growth * float64(m.sheet.MixedResin.micrograms)
	var best []int64
	var resin float64
	for fails, keeps := 0, parts; keeps-fails > 1 && full > m.resin; {
		k := (fails + keeps) / 2
		r := m.resin + (full-m.resin)*float64(k)/parts
		n, value, err := m.solve(r, start)
		if err != nil {
			return err
		}
		if value <= m.Tolerance {
			keeps, best, resin = k, n, r
		} else {
			fails = k
		}
	}
	if best == nil {
		return nil
	}
	var f fill
	m.toResin(&f, m.charges, best, resin, m.cupPigment, m.cupOther)
	return m.offer(out, GrowLeast, &f, best)
}

// offer writes a settled cup down as a remedy.
func (m *rescue) offer(out *Rescue, way Way, f *fill, n []int64) error {
	r := Remedy{Way: way, Total: Mass{f.total()}, Weighed: map[string]PHR{}, Notes: []string{}}
	r.Extra = r.Total.Minus(m.sheet.Total)
	r.Resin = Grams(f.resin() / perGram).Minus(m.sheet.MixedResin)
	r.Paste = r.Extra.Minus(r.Resin)
	for i, c := range m.charges {
		r.Weighed[c.code] = PHR(100 * float64(f.doses[i]) * c.share() / f.resin()) // (5)
	}
	if m.Outcome != nil {
		v, err := m.judge(m.charges, f)
		if err != nil {
			return err
		}
		r.Expected, r.Keeps = &v, m.Tolerance > 0 && v <= m.Tolerance
	}
	r.Lines = m.additions(f, n)
	r.Notes = append(r.Notes, m.warnings(f)...)
	cups, err := m.cups(*f, m.sheet.Density)
	if err != nil { // the other ways may still be good
		cups, r.Notes = []Cup{}, append(r.Notes, strings.TrimPrefix(err.Error(), "batch: "))
	}
	r.Cups = cups
	out.Remedies = append(out.Remedies, r)
	return nil
}

// additions lists the lines in the sheet's order, then pigments the sheet had
// left out.
func (m *rescue) additions(f *fill, n []int64) []Addition {
	var lines []Addition
	at := Mass{m.cupPigment + m.cupOther}
	for _, c := range m.charges {
		at.micrograms += c.base
	}
	add := func(a Addition) {
		a.Add = a.Final.Minus(a.Poured)
		at = at.Plus(a.Add)
		a.Cumulative = at
		lines = append(lines, a)
	}
	resin := func(l Line, held, final int64) {
		add(Addition{Item: l.Item, Kind: l.Kind, Planned: l.Grams, Poured: Mass{held}, Final: Mass{final}})
	}
	pigment := func(i int) {
		c, kind := m.charges[i], PigmentLine
		if c.ratio != 0 {
			kind = DilutionLine
		}
		a := Addition{Item: itemOf(c), Kind: kind, Planned: Mass{m.planned[i]}, Poured: Mass{c.base}, Final: Mass{f.doses[i]}}
		if c.drop {
			a.Drops = n[i]
		}
		add(a)
	}
	first, last := m.sheet.Lines[0], m.sheet.Lines[len(m.sheet.Lines)-1]
	resin(first, m.cupPigment, f.pigment)
	done := make([]bool, len(m.charges))
	for _, l := range m.sheet.Lines[1 : len(m.sheet.Lines)-1] {
		i := slices.Index(m.codes, l.Pigment)
		pigment(i)
		done[i] = true
	}
	for i, d := range f.doses {
		if !done[i] && d > 0 {
			pigment(i)
		}
	}
	resin(last, m.cupOther, f.other)
	return lines
}

// warnings are what a remedy asks beyond pouring.
func (m *rescue) warnings(f *fill) []string {
	var notes []string
	for i, c := range m.charges {
		for _, p := range m.sheet.Predilutions {
			if held := p.Use.Plus(p.LeftOver); p.Jar != "" && p.Pigment == c.code && f.doses[i] > held.micrograms {
				notes = append(notes, fmt.Sprintf("%s needs %v, more than the %v in jar %s: stir another of the same strength, 1:%.4g.", p.Item, Mass{f.doses[i]}, held, p.Jar, 1/p.Share()-1))
			} else if p.Jar == "" && p.Pigment == c.code && f.doses[i] > p.Made.micrograms {
				notes = append(notes, fmt.Sprintf("%s needs %v, more than the %v made: stir more at 1:%d.", p.Item, Mass{f.doses[i]}, p.Made, p.Ratio))
			}
		}
	}
	if m.phr(f) > m.bears() {
		notes = append(notes, fmt.Sprintf("%.2f phr of paste in all, over the %.4g the resin bears: expect a soft or slow cure.", m.phr(f), m.bears()/1.001))
	}
	return notes
}
