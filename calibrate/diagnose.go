package calibrate

import (
	"context"
	"math"
	"slices"
	"sort"
)

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

// decided is the odds, in -2 ln, from which the fits of a few chips are enough;
// all chips are asked where they are less, or where it is about different chips.
const decided = 30

// diagnose finds the mistake about the suspect pigments that best explains
// chips of the given sizes, or nil where none does. The finding's problem takes
// the chips for what it says, if it is clear, or downweights those that it may
// be.
func (p *problem) diagnose(ctx context.Context, x state, sizes []float64, suspects []int) (*finding, error) {
	s := p.chipGroups()
	var doubted []int
	for _, q := range suspects {
		doubted = append(doubted, s.chips[q]...)
	}
	downweighted, y, err := p.downweighted(ctx, x, doubted)
	if err != nil {
		return nil, err
	}
	all, err := downweighted.searchMistakes(ctx, y, s, suspects, sizes)
	if err != nil || len(all) == 0 {
		return nil, err
	}
	tries := likely(all)
	if all[0].support() < decided {
		tries = append(tries, &mistake{})
	}
	if len(tries) > 1 {
		if err := downweighted.confirm(ctx, y, x, tries); err != nil {
			return nil, err
		}
		sort.SliceStable(tries, func(a, b int) bool { return tries[a].all < tries[b].all })
	}
	f := verdict(tries)
	if f == nil {
		return nil, nil
	}
	for _, i := range tries[0].chips {
		f.size = math.Max(f.size, sizes[i])
	}
	if f.mistake.p == nil {
		_, _, err = downweighted.fitMistake(ctx, y, f.mistake)
	}
	return f, err
}

// likely returns the mistakes to try on all chips: those not clearly worse than
// another on the same chips, some of one chip and some swaps.
func likely(all []*mistake) (tries []*mistake) {
	const most = 4
	var singles, swaps int
	for i, m := range all {
		worse := slices.ContainsFunc(all[:i], func(o *mistake) bool { return slices.Equal(o.scope, m.scope) && o.support() > m.support()+decided })
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
	return tries
}

// verdict is what to tell of mistakes tried, best first: the best, or all chips
// that it may be where others come near, or nil where no mistake does.
func verdict(tries []*mistake) *finding {
	best := tries[0]
	f := finding{mistake: best, margin: decided}
	if best.cause == "" {
		return nil
	}
	chips := slices.Clone(best.chips)
	clear := true
	for _, m := range tries[1:] {
		odds := m.all - best.all
		if m.cause == "" && odds < tell {
			return nil
		}
		f.margin = math.Min(f.margin, odds)
		unexplained := m.cause == Unexplained && slices.Equal(m.chips, best.chips)
		if odds < clearly && !(unexplained && odds > argued) {
			clear = false
			chips = append(chips, m.chips...)
		}
	}
	slices.Sort(chips)
	if chips = slices.Compact(chips); !clear && (best.cause != Unexplained || len(chips) > 1) {
		f.mistake = &mistake{cause: Unexplained, chips: chips}
	}
	return &f
}
