package batch

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Poured is what the scale showed for lines already in the cup, by item. A
// pre-dilution may be named by its item or its pigment.
type Poured map[string]Mass

// Way is how a spoilt batch is carried on.
type Way string

// The ways.
const (
	AsPlanned    Way = "as planned"         // the other lines as on the sheet
	SameResin    Way = "same resin"         // pigments solved again; no more resin than pre-dilutions carry
	GrowLeast    Way = "grow least"         // the least more resin that keeps the tolerance
	InProportion Way = "grow in proportion" // every line grown by the overshot share (12)
)

// Addition is what still goes into the cup for one line.
type Addition struct {
	Item       string `json:"item"`
	Kind       Kind   `json:"kind"`
	Planned    Mass   `json:"planned_grams"`
	Poured     Mass   `json:"poured_grams"`
	Add        Mass   `json:"add_grams"` // never negative
	Final      Mass   `json:"final_grams"`
	Drops      int64  `json:"add_drops,omitzero"`
	Cumulative Mass   `json:"cumulative_grams"` // in the cup after this addition
}

// Remedy is one way to carry on, and its price in material.
type Remedy struct {
	Way      Way            `json:"way"`
	Lines    []Addition     `json:"lines"`
	Total    Mass           `json:"total_grams"`
	Extra    Mass           `json:"extra_grams"`       // Total less the sheet's total
	Resin    Mass           `json:"extra_resin_grams"` // of Extra, A and B
	Paste    Mass           `json:"extra_paste_grams"` // of Extra, neat paste
	Weighed  map[string]PHR `json:"weighed_phr"`
	Expected *float64       `json:"expected_dE00,omitempty"` // nil without an outcome
	Keeps    bool           `json:"keeps_tolerance,omitzero"`
	Cups     []Cup          `json:"cups"`
	Notes    []string       `json:"notes"`
}

// Overshot is a line with more in the cup than the sheet asked for.
type Overshot struct {
	Item    string `json:"item"`
	Planned Mass   `json:"planned_grams"`
	Poured  Mass   `json:"poured_grams"`
}

// Rescue is what went wrong and the ways on, the batch as planned first.
type Rescue struct {
	Over     []Overshot `json:"over"`
	Planned  *float64   `json:"planned_dE00,omitempty"` // the sheet without the slip
	Remedies []Remedy   `json:"remedies"`
}

// Overshoot answers for a sheet of this request what can be done when lines
// came out other than planned. Nothing leaves the cup: every remedy only adds.
// Lines above the last one named in poured count as poured as planned unless
// named, because the sheet is worked from the top; name a line as 0 to say it
// is still out. Without an outcome only the ways that need no judgement are
// offered, and no way that would take more than a tonne.
func Overshoot(r Request, s Sheet, poured Poured) (Rescue, error) {
	j, err := newJob(r)
	if err != nil {
		return Rescue{}, err
	}
	m, err := j.rescue(s, poured)
	if err != nil {
		return Rescue{}, err
	}
	out := Rescue{Over: m.over}
	if e := s.Expected; e != nil {
		v := e.Sheet
		out.Planned = &v
	}
	if err := m.remedies(&out); err != nil {
		return Rescue{}, err
	}
	return out, nil
}

// rescue is a spoilt batch.
type rescue struct {
	*job
	sheet   Sheet
	charges []charge
	planned []int64 // dose of each charge on the sheet
	resin   float64 // mixed resin of the sheet, raised by what the cup holds
	growth  float64 // (12)
	over    []Overshot

	// The resin lines as the cup holds them and as the sheet has them.
	cupPigment, plannedPigment int64
	cupOther, plannedOther     int64
}

func (j *job) rescue(s Sheet, poured Poured) (*rescue, error) {
	if s.Mix != j.Resin.Mix || s.PigmentSide != j.Resin.PigmentSide || s.Step != j.Scale.Step {
		return nil, errors.New("batch: the sheet was not planned for this resin and scale: plan it again, then say what was poured")
	}
	if !s.whole() {
		return nil, errors.New("batch: the sheet is damaged: plan it again, then say what was poured")
	}
	inCup, err := linesInCup(s, poured)
	if err != nil {
		return nil, err
	}
	m := &rescue{job: j, sheet: s, growth: 1}
	for i, l := range s.Lines {
		if l.Kind == ResinLine && l.Clock {
			m.cupOther, m.plannedOther = inCup[i].micrograms, l.Grams.micrograms
		} else if l.Kind == ResinLine {
			m.cupPigment, m.plannedPigment = inCup[i].micrograms, l.Grams.micrograms
		}
		if inCup[i].Compare(l.Grams) > 0 {
			m.over = append(m.over, Overshot{l.Item, l.Grams, inCup[i]})
			if l.Kind != ResinLine {
				m.growth = max(m.growth, inCup[i].Grams()/l.Grams.Grams()) // (12)
			}
		}
	}
	if len(s.Cups) > 1 && m.cupOther > 0 {
		return nil, fmt.Errorf("batch: side %s is already in the cups and the clock runs: correct the pot of side %s before it is shared out", s.PigmentSide.other(), s.PigmentSide)
	}
	if err := m.chargesOf(inCup); err != nil {
		return nil, err
	}
	carried := 0.0
	for _, c := range m.charges {
		carried += float64(c.base) * (1 - c.share())
	}
	share := j.Resin.Mix.Share(j.Resin.PigmentSide)
	m.resin = max(float64(s.MixedResin.micrograms), (float64(m.cupPigment)+carried)/share, float64(m.cupOther)/(1-share))
	m.growth = max(m.growth, m.resin/float64(s.MixedResin.micrograms)) // (12)
	return m, nil
}

// whole tells whether a sheet that may have been stored has the lines it
// needs, in order: pigment side, pigments, other side.
func (s Sheet) whole() bool {
	last := len(s.Lines) - 1
	if last < 1 || !s.MixedResin.Positive() || !s.Total.Positive() || s.Total.Compare(largest) > 0 {
		return false
	}
	for i, l := range s.Lines {
		if (l.Kind == ResinLine) != (i == 0 || i == last) || l.Clock != (i == last) ||
			l.Grams.micrograms < 0 || i > 0 && !l.Grams.Positive() || l.Grams.Compare(s.Total) > 0 {
			return false
		}
	}
	return true
}

// linesInCup is what the cup holds of each line of the sheet.
func linesInCup(s Sheet, poured Poured) ([]Mass, error) {
	inCup, last := make([]Mass, len(s.Lines)), -1
	named := make([]bool, len(s.Lines))
	items := make([]string, len(s.Lines))
	for i, l := range s.Lines {
		items[i] = l.Item
	}
	for item, m := range poured {
		at := slices.IndexFunc(s.Lines, func(l Line) bool { return l.Item == item || l.Kind != ResinLine && l.Pigment == item })
		if at < 0 {
			return nil, fmt.Errorf("batch: poured %s is no line of the sheet: its lines are %s", item, strings.Join(items, ", "))
		}
		if m.micrograms < 0 || m.Compare(largest) > 0 {
			return nil, fmt.Errorf("batch: poured %s=%v: give what the scale showed for it, from 0 g", item, m)
		}
		if named[at] {
			return nil, fmt.Errorf("batch: poured %s is given twice, by item and by pigment: give it once", items[at])
		}
		inCup[at], named[at] = m, true
		if m.Positive() {
			last = max(last, at)
		}
	}
	for i := range last {
		if !named[i] {
			inCup[i] = s.Lines[i].Grams
		}
	}
	return inCup, nil
}

// chargesOf rebuilds the pigment lines of the sheet over what is in the cup.
func (m *rescue) chargesOf(inCup []Mass) error {
	m.planned = make([]int64, len(m.codes))
	m.charges = m.job.charges()
	for i, l := range m.sheet.Lines {
		if l.Kind == ResinLine {
			continue
		}
		at := slices.Index(m.codes, l.Pigment)
		if at < 0 {
			return fmt.Errorf("batch: sheet has a line for %s, the recipe has not: use the recipe the sheet was planned from", l.Pigment)
		}
		c := &m.charges[at]
		if k := slices.IndexFunc(m.sheet.Predilutions, func(p Predilution) bool { return p.Pigment == l.Pigment }); k >= 0 {
			p := m.sheet.Predilutions[k]
			if p.Ratio < 1 || !p.Paste.Positive() || !p.Resin.Positive() {
				return fmt.Errorf("batch: pre-dilution of %s on the sheet is damaged: plan it again", p.Pigment)
			}
			if !(p.Strength >= 0 && p.Strength < 1) {
				return fmt.Errorf("batch: pre-dilution of %s on the sheet is damaged: plan it again", p.Pigment)
			}
			*c = charge{code: c.code, unit: m.step, ratio: p.Ratio, strong: p.Strength, jar: p.Jar}
			sd := m.Scale.sd()
			c.strength = (1 - c.share()) * math.Hypot(sd/float64(p.Paste.micrograms), sd/float64(p.Resin.micrograms)) // (8)
		}
		if m.planned[at] > 0 {
			return fmt.Errorf("batch: sheet has two lines for %s: plan it again", l.Pigment)
		}
		c.base, m.planned[at] = inCup[i].micrograms, l.Grams.micrograms
	}
	return nil
}
