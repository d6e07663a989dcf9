package calibrate

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
)

// A Suspect is a mistake that the readings point to. Nothing is changed on
// record.
type Suspect struct {
	// Chips are the chip, the two of a swap, or the chips that the evidence
	// cannot tell apart.
	Chips   []string `json:"chips"`
	Cause   Cause    `json:"cause"`
	Pigment string   `json:"pigment"`           // whose loading slipped, or what the chips are about
	Factor  float64  `json:"factor,omitempty"`  // true over written loading of a slip
	Backing string   `json:"backing,omitempty"` // what the chip was really read over
	Sigma   float64  `json:"sigma"`             // how far the chip as written lies from what the others say
	Taken   bool     `json:"taken"`             // the fit takes the chips for what the cause says; otherwise it hears them faintly
	Odds    float64  `json:"ln_odds"`           // ln of the odds against the next explanation
	Written string   `json:"written,omitempty"` // what backing was written, of a wrong one
}

// String says what is suspected and what to do about it, on one line.
func (s Suspect) String() string {
	what := ""
	switch s.Cause {
	case LoadingSlip:
		times, more := s.Factor, "more"
		if times < 1 {
			times, more = 1/times, "less"
		}
		what = fmt.Sprintf("chip %s: loading of %s is %.3g times %s than written; correct the record or read it again", s.Chips[0], s.Pigment, times, more)
	case SwappedChips:
		what = fmt.Sprintf("chips %s and %s are swapped; correct the record or read them again", s.Chips[0], s.Chips[1])
	case WrongBacking:
		what = fmt.Sprintf("chip %s: read over %s, not %s; correct the record or read it again", s.Chips[0], s.Backing, s.Written)
	default:
		if len(s.Chips) == 1 {
			what = fmt.Sprintf("chip %s agrees with no other; read it again", s.Chips[0])
		} else {
			what = fmt.Sprintf("%s disagree and the readings cannot tell which is wrong; read %s again", s.about(), strings.Join(s.Chips, ", "))
		}
	}
	return fmt.Sprintf("%s (%.0f sigma)", what, s.Sigma)
}

// about names the chips of a suspect together.
func (s Suspect) about() string {
	if s.Pigment == "" {
		return "chips of the bare resin"
	}
	return "chips of " + s.Pigment
}

// A finding is the mistake that best explains the readings.
type finding struct {
	*mistake
	size   float64 // of the most suspicious of its chips
	margin float64 // -2 ln odds against the next that tells another story
}

// What it takes to tell, in -2 ln odds: for a mistake against none (odds of
// 150 to 1), for one chip or cause against another (20 to 1), and for a cause
// against none that is known, on the same chip.
const (
	tell    = 10
	clearly = 6
	argued  = 2
)

// widest bounds the pigments whose chips are searched at a time.
const widest = 4

// focus returns the pigments whose chips may hide a mistake, the most suspect
// first. A chip that stands out is one sign. Where a pigment has only two or
// three chips none of them stands out, since its curves follow whatever is
// written: so every chip is also tried as one that agrees with no other, and as
// one whose loading, ten times more or less, would stand among those of the rest.
func (p *problem) focus(ctx context.Context, x state, sizes []float64) ([]int, error) {
	s := p.shelf()
	var signs []*mistake
	for q := range s.chips {
		for _, m := range p.singles(s, q) {
			if m.cause == Unexplained || m.cause == LoadingSlip && m.plausible > 0 {
				signs = append(signs, m)
			}
		}
	}
	if err := p.try(ctx, x, signs); err != nil {
		return nil, err
	}
	worth := make([]float64, p.curves)
	for q := range worth {
		worth[q] = math.Inf(-1)
	}
	for _, m := range signs {
		q := s.about[m.chips[0]]
		worth[q] = math.Max(worth[q], m.worth())
	}
	size := make([]float64, p.curves)
	for i, q := range s.about {
		size[q] = math.Max(size[q], sizes[i])
	}
	var out []int
	add := func(suspect func(q int) bool, first []float64) {
		for q := range s.chips {
			if len(s.chips[q]) > 0 && suspect(q) {
				out = append(out, q)
			}
		}
		sort.SliceStable(out, func(a, b int) bool { return first[out[a]] > first[out[b]] })
	}
	if add(func(q int) bool { return worth[q] > 0 }, worth); len(out) > 0 {
		if q := p.shared(out, s); q >= 0 {
			return []int{q}, nil
		}
		return out[:min(len(out), widest)], nil
	}
	stands := math.Max(suspicious, math.Min(slices.Max(size)/5, 2*suspicious))
	add(func(q int) bool { return size[q] >= stands || q > 0 && p.strained(x, q) }, size)
	return out[:min(len(out), widest)], nil
}

// shared returns the pigment among those given that is in chips about most of
// the others, or -1: where many pigments look wrong it is one that all are mixed
// with.
func (p *problem) shared(pigments []int, s shelf) int {
	if len(pigments) < widest {
		return -1
	}
	for _, q := range pigments {
		with := 0
		for _, r := range pigments {
			if r != q && slices.ContainsFunc(s.chips[r], func(i int) bool { return slices.Contains(p.readings[i].curve, q) }) {
				with++
			}
		}
		if with >= len(pigments)-1 {
			return q
		}
	}
	return -1
}

// diagnose finds the mistake about the pigments of focus that best explains
// chips of the given sizes, or nil where none does. The finding's problem takes
// the chips for what it says, if it is clear, or hears those that it may be
// faintly.
func (p *problem) diagnose(ctx context.Context, x state, sizes []float64, focus []int) (*finding, error) {
	s := p.shelf()
	var doubted []int
	for _, q := range focus {
		doubted = append(doubted, s.chips[q]...)
	}
	calm, y, err := p.apart(ctx, x, doubted)
	if err != nil {
		return nil, err
	}
	all, err := calm.search(ctx, y, s, focus)
	if err != nil || len(all) == 0 {
		return nil, err
	}
	// the fits of a few chips decide where the odds are great; all chips where they
	// are not, or where it is about different chips
	const near, most = 30, 4
	best := all[0]
	var tries []*mistake
	var singles, swaps int
	for i, m := range all {
		worse := slices.ContainsFunc(all[:i], func(o *mistake) bool { return slices.Equal(o.scope, m.scope) && o.worth() > m.worth()+near })
		if worse || slices.ContainsFunc(tries, func(o *mistake) bool { return o.same(m) }) {
			continue
		}
		n := &singles
		if m.cause == SwappedChips {
			n = &swaps
		}
		if *n++; *n <= most {
			tries = append(tries, m)
		}
	}
	f := finding{margin: near}
	if best.worth() < near {
		tries = append(tries, &mistake{})
	}
	rivals := []*mistake{}
	if len(tries) > 1 {
		if err := calm.confirm(ctx, y, x, tries); err != nil {
			return nil, err
		}
		sort.SliceStable(tries, func(a, b int) bool { return tries[a].all < tries[b].all })
		best = tries[0]
		for _, m := range tries[1:] {
			if m.cause == "" && m.all < best.all+tell {
				return nil, nil
			}
			f.margin = math.Min(f.margin, m.all-best.all)
			if m.all < best.all+clearly {
				rivals = append(rivals, m)
			}
		}
		if best.cause == "" {
			return nil, nil
		}
	}
	f.mistake = best
	for _, i := range best.chips {
		f.size = math.Max(f.size, sizes[i])
	}
	clear := true
	chips := slices.Clone(best.chips)
	for _, m := range rivals {
		if slices.Equal(m.chips, best.chips) && m.cause == Unexplained && m.all > best.all+argued {
			continue
		}
		clear = false
		chips = append(chips, m.chips...)
	}
	slices.Sort(chips)
	chips = slices.Compact(chips)
	if !clear && (best.cause != Unexplained || len(chips) > 1) {
		f.mistake = &mistake{cause: Unexplained, chips: chips}
	}
	if f.mistake.p == nil {
		if err := calm.settle(ctx, y, f.mistake); err != nil {
			return nil, err
		}
	}
	return &f, nil
}

// search tries the mistakes that chips about the pigments of focus may be and
// returns them, best first.
func (p *problem) search(ctx context.Context, x state, s shelf, focus []int) ([]*mistake, error) {
	var all []*mistake
	var guilty []int
	for _, q := range focus {
		singles := p.singles(s, q)
		if err := p.try(ctx, x, singles); err != nil {
			return nil, err
		}
		if slices.ContainsFunc(singles, func(m *mistake) bool { return m.worth() > 0 }) {
			guilty = append(guilty, q)
		}
		all = append(all, singles...)
	}
	var odd []int // chips that nothing has explained so far
	for i := range p.readings {
		if r := &p.readings[i]; r.trust < 1 && r.recorded == nil {
			odd = append(odd, i)
		}
	}
	var swaps []*mistake
	for n, q := range guilty {
		for _, r := range guilty[:n] {
			swaps = append(swaps, p.swaps(s, q, s.chips[r])...)
		}
		swaps = append(swaps, p.swaps(s, q, odd)...)
	}
	if err := p.try(ctx, x, swaps); err != nil {
		return nil, err
	}
	all = append(all, swaps...)
	rank(all)
	return all, nil
}

func rank(all []*mistake) {
	sort.SliceStable(all, func(a, b int) bool { return all[a].worth() > all[b].worth() })
}

// suspect tells a finding of p's chips to the outside.
func (f *finding) suspect(p *problem) Suspect {
	s := Suspect{Cause: f.cause, Sigma: f.size, Factor: f.factor, Pigment: f.pigment, Odds: f.margin / 2, Taken: f.cause != Unexplained}
	for _, i := range f.chips {
		c := p.readings[i].chip
		if r := p.readings[i].recorded; r != nil {
			c = r
		}
		s.Chips = append(s.Chips, c.Name)
		if f.cause == WrongBacking {
			s.Backing, s.Written = f.over, c.BackingName
		}
	}
	if q := p.shelf().about[f.chips[0]]; s.Pigment == "" && q > 0 {
		s.Pigment = p.pigments[q-1]
	}
	return s
}
