package batch

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Kind says what a line is.
type Kind string

// The kinds of line.
const (
	ResinLine    Kind = "resin"
	PigmentLine  Kind = "pigment"
	DilutionLine Kind = "predilution"
)

// Line is one thing to weigh, in the order of weighing.
type Line struct {
	Item       string `json:"item"` // "A", "B", a pigment code, or "RD 1:20"
	Kind       Kind   `json:"kind"`
	Pigment    string `json:"pigment,omitzero"`
	Grams      Mass   `json:"grams"`
	Cumulative Mass   `json:"cumulative_grams"`           // all in the cup so far
	Paste      Mass   `json:"paste_grams,omitzero"`       // neat paste in the line
	Drops      int64  `json:"drops,omitzero"`             // to count instead of weighing
	Clock      bool   `json:"starts_pot_life,omitzero"`   // the pot life starts here
	Ideal      Mass   `json:"ideal_paste_grams,omitzero"` // paste the recipe asks for
}

// Expected is the expected difference (CIEDE2000) of the batch from the target.
type Expected struct {
	Ideal     float64  `json:"ideal_dE00"`               // the recipe weighed without error
	Rounded   float64  `json:"rounded_dE00"`             // the same lines, each rounded by itself
	Sheet     float64  `json:"sheet_dE00"`               // the lines of this sheet
	Cost      float64  `json:"rounding_costs_dE00"`      // Sheet - Ideal
	Gain      float64  `json:"gain_over_rounding_dE00"`  // Rounded - Sheet, never negative
	Undiluted *float64 `json:"undiluted_dE00,omitempty"` // plain rounding without pre-dilutions
}

// Sheet is a batch that can be weighed. It marshals to JSON and back, and
// what leaves it as JSON is all it holds.
type Sheet struct {
	Lines        []Line         `json:"lines"`
	Total        Mass           `json:"total_grams"` // resin and pastes
	Ordered      Mass           `json:"ordered_grams"`
	MixedResin   Mass           `json:"mixed_resin_grams"` // A and B, also inside pre-dilutions
	Mix          Ratio          `json:"mix"`
	PigmentSide  Side           `json:"pigment_side"`
	Step         Mass           `json:"scale_grams"`
	Loadings     map[string]PHR `json:"loadings_phr"` // the recipe
	Weighed      map[string]PHR `json:"weighed_phr"`  // what the lines hold
	Density      Density        `json:"mixed_density,omitzero"`
	Volume       Volume         `json:"mixed_ml,omitzero"`
	Expected     *Expected      `json:"expected,omitempty"` // nil without an outcome
	Predilutions []Predilution  `json:"predilutions"`
	Shot         *Shot          `json:"shot,omitempty"` // nil where the order counts none
	Clock        Clock          `json:"clock"`
	Cups         []Cup          `json:"cups"`
	Notes        []string       `json:"notes"` // what is unusual about this sheet
	Cautions     []string       `json:"cautions"`
}

// Plan makes the sheet. It depends on the request alone: equal requests give
// equal sheets. An order too small for the scale is refused, with the smallest
// batch that is not: one whose lines do not fit in it, or in which a pigment
// comes to nothing, unless the tolerance is kept without it.
func Plan(r Request) (Sheet, error) {
	j, err := newJob(r)
	if err != nil {
		return Sheet{}, err
	}
	total, density, err := j.ordered()
	if err != nil {
		return Sheet{}, err
	}
	f, why, err := j.dilute(total)
	if err == nil && f.lacks() && !(j.Outcome != nil && f.value <= j.Tolerance) {
		err = errTooSmall
	}
	if errors.Is(err, errTooSmall) {
		return Sheet{}, j.tooLittle(total)
	}
	if err != nil {
		return Sheet{}, err
	}
	s := Sheet{
		Lines: j.lines(f), Ordered: Mass{total}, MixedResin: Grams(f.fill.resin() / perGram),
		Mix: j.Resin.Mix, PigmentSide: j.Resin.PigmentSide, Step: j.Scale.Step, Density: density,
		Loadings: map[string]PHR{}, Weighed: map[string]PHR{},
		Predilutions: j.predilutions(f, why), Notes: []string{}, Cautions: Cautions(),
	}
	if s.Predilutions == nil {
		s.Predilutions = []Predilution{}
	}
	for i, code := range j.codes {
		s.Loadings[code] = PHR(j.ideal[i])
		s.Weighed[code] = PHR(100 * float64(f.fill.doses[i]) * f.charges[i].share() / f.fill.resin()) // (5)
	}
	s.Total = s.Lines[len(s.Lines)-1].Cumulative
	if density.Known() {
		s.Volume = Volume{s.Total.Grams() / density.gramsPerML}
	}
	if s.Expected, err = j.expectations(f, total); err != nil {
		return Sheet{}, err
	}
	if j.Order.Shots > 0 {
		shot := j.Order.shot()
		s.Shot = &shot
	}
	s.Clock = j.clock()
	if s.Cups, err = j.cups(f.fill, density); err != nil {
		return Sheet{}, err
	}
	s.Notes = append(s.Notes, j.notes(f, &s)...)
	return s, nil
}

// expectations compares the sheet with the recipe and with plain rounding.
func (j *job) expectations(f *found, total int64) (*Expected, error) {
	if j.Outcome == nil {
		return nil, nil
	}
	ideal, err := j.perfect()
	if err != nil {
		return nil, err
	}
	e := &Expected{Ideal: ideal, Rounded: f.rounded, Sheet: f.value,
		Cost: f.value - ideal, Gain: f.rounded - f.value}
	if slices.ContainsFunc(f.charges, func(c charge) bool { return c.ratio != 0 }) {
		plain := j.charges()
		n, _, _ := j.around(plain, j.aim(plain, total))
		var neat fill
		if j.toTotal(&neat, plain, n, total) {
			v, err := j.judge(plain, &neat)
			if err != nil {
				return nil, err
			}
			e.Undiluted = &v
		}
	}
	return e, nil
}

// lines puts the sheet in the order of weighing, with the running sum. Lines
// of nothing are left out.
func (j *job) lines(f *found) []Line {
	side := j.Resin.PigmentSide
	lines := []Line{{Item: string(side), Kind: ResinLine, Grams: Mass{f.fill.pigment}}}
	resin := f.fill.resin() / perGram
	for i, c := range f.charges {
		dose := f.fill.doses[i]
		if dose == 0 {
			continue
		}
		l := Line{Item: itemOf(c), Kind: PigmentLine, Pigment: c.code, Grams: Mass{dose},
			Paste: Grams(float64(dose) * c.share() / perGram),
			Ideal: Grams(j.ideal[i] * resin / 100)}
		if c.ratio != 0 {
			l.Kind = DilutionLine
		}
		if c.drop {
			l.Drops = f.counts[i]
		}
		lines = append(lines, l)
	}
	slices.SortStableFunc(lines[1:], func(a, b Line) int {
		return cmp.Or(a.Grams.Compare(b.Grams), cmp.Compare(a.Item, b.Item))
	})
	lines = append(lines, Line{Item: string(side.other()), Kind: ResinLine, Grams: Mass{f.fill.other}, Clock: true})
	var sum Mass
	for i := range lines {
		sum = sum.Plus(lines[i].Grams)
		lines[i].Cumulative = sum
	}
	return lines
}

// ideal is the paste the recipe asks for in the resin weighed, in grams.
func (s *Sheet) ideal(code string) float64 {
	return float64(s.Loadings[code]) * s.MixedResin.Grams() / 100
}

// notes says in plain lines what a weigher should not overlook.
func (j *job) notes(f *found, s *Sheet) []string {
	var notes []string
	say := func(format string, a ...any) { notes = append(notes, fmt.Sprintf(format, a...)) }
	for _, p := range s.Predilutions {
		if p.Jar != "" {
			say("%s comes from jar %s: %s. The side %s line is smaller by the resin it carries.", p.Pigment, p.Jar, p.Why, p.Side)
			continue
		}
		say("%s is pre-diluted 1:%d in side %s: %s. The side %s line is smaller by the resin it carries.", p.Pigment, p.Ratio, p.Side, p.Why, p.Side)
	}
	aim, unknown := j.aim(f.charges, f.fill.total()), []string{}
	for i, c := range f.charges {
		if small := j.tooSmall(c, aim[i]); f.fill.doses[i] == 0 {
			say("%s is left out: %.2g g cannot be weighed in steps of %v, and the tolerance is kept without it.", c.code, s.ideal(c.code), j.Scale.Step)
		} else if c.ratio == 0 && small != "" {
			say("%s: %s; expect the colour to vary.", c.code, small)
		}
		if !j.Colorants[c.code].Density.Known() {
			unknown = append(unknown, c.code)
		}
	}
	if len(unknown) > 0 && j.Order.Shots > 0 {
		say("Density of %s is not known: counted as the resin's.", strings.Join(unknown, ", "))
	}
	if e := s.Expected; e != nil && j.Tolerance > 0 && e.Sheet > j.Tolerance {
		advice := ""
		if e.Ideal <= j.Tolerance {
			advice = ": make a larger batch or use a finer scale"
		}
		say("Expected difference %.2f is over the tolerance of %.2f; the recipe weighed without error has %.2f%s.", e.Sheet, j.Tolerance, e.Ideal, advice)
	}
	if s.Total.Compare(s.Ordered) > 0 && s.Total.Minus(s.Ordered).Compare(s.Step) > 0 {
		say("Batch is %v larger than ordered so that the pigments fall better on the scale's steps.", s.Total.Minus(s.Ordered))
	}
	if c := j.Scale.Capacity; c.Positive() && s.Total.Compare(c) > 0 {
		say("Batch of %v is over the scale's capacity of %v: weigh the pigments in a small cup on this scale and rinse it out with the resin.", s.Total, c)
	}
	return append(notes, j.cupNotes(s)...)
}
