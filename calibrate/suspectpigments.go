package calibrate

import (
	"context"
	"math"
	"slices"
	"sort"
)

// suspiciousSize is the size from which a chip sets off the search for a mistake.
// Sound chips reach 3 to 4.5 among 48; since a mistake is told only if the
// evidence then speaks for it, a low threshold costs nothing but time.
const suspiciousSize = 5

// mostPigments bounds the pigments whose chips are searched at a time.
const mostPigments = 4

// suspectPigments returns the pigments whose chips may hide a mistake, the most
// suspect first. A chip that stands out is one sign. Where a pigment has only two
// or three chips none of them stands out, since its curves follow whatever is
// written: so every chip is also tried as one that agrees with no other, and as
// one whose loading, ten times more or less, would stand among those of the rest.
func (p *problem) suspectPigments(ctx context.Context, x state, sizes []float64) ([]int, error) {
	s := p.chipGroups()
	var signs []*mistake
	for q := range s.chips {
		for _, m := range p.singles(s, q, sizes) {
			if m.cause == Unexplained || m.cause == LoadingSlip && m.plausible > 0 {
				signs = append(signs, m)
			}
		}
	}
	from, y, err := p.robustStart(x)
	if err != nil {
		return nil, err
	}
	if err := from.compareMistakes(ctx, y, signs); err != nil {
		return nil, err
	}
	worth := make([]float64, p.curves)
	for q := range worth {
		worth[q] = math.Inf(-1)
	}
	for _, m := range signs {
		q := s.about[m.chips[0]]
		worth[q] = math.Max(worth[q], m.support())
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
		if q := p.shared(out, s); q >= 0 { // it may be swapped with the next
			return append([]int{q}, slices.DeleteFunc(out, func(r int) bool { return r == q })[0]), nil
		}
		return out[:min(len(out), mostPigments)], nil
	}
	stands := math.Max(suspiciousSize, math.Min(slices.Max(size)/5, 2*suspiciousSize))
	add(func(q int) bool { return size[q] >= stands || q > 0 && p.strained(x, q) }, size)
	return out[:min(len(out), mostPigments)], nil
}

// robustStart returns the problem and the curves to try mistakes from: p and x, or
// what is usual, and flat curves, where p has learnt what no bench shows. A mistake
// that led the whole fit astray does not show against what it led to.
func (p *problem) robustStart(x state) (*problem, state, error) {
	const most = 3
	if p.hyper.strength <= mostStrengthSD && p.noise.LabSD < most*p.usual.LabSD && p.noise.SpectrumSD < most*p.usual.SpectrumSD {
		return p, x, nil
	}
	q, _, err := p.withMistake(&mistake{}, x)
	if err == nil {
		q.resetLearnt(straight)
	}
	return q, nil, err
}

// shared returns the pigment among those given that is in chips about most of
// the others, or -1: where many pigments look wrong it is one that all are mixed
// with.
func (p *problem) shared(pigments []int, s chipGroups) int {
	if len(pigments) < mostPigments {
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

// searchMistakes tries the mistakes that chips about the suspect pigments may be and
// returns them, best first.
func (p *problem) searchMistakes(ctx context.Context, x state, s chipGroups, suspects []int, sizes []float64) ([]*mistake, error) {
	var all []*mistake
	explains := map[int]bool{} // one of its chips alone makes a difference
	for _, q := range suspects {
		singles := p.singles(s, q, sizes)
		if err := p.compareMistakes(ctx, x, singles); err != nil {
			return nil, err
		}
		explains[q] = slices.ContainsFunc(singles, func(m *mistake) bool { return m.support() > 0 })
		all = append(all, singles...)
	}
	var odd []int // chips that nothing has explained so far
	for i := range p.readings {
		if r := &p.readings[i]; r.trust < 1 && r.recorded == nil {
			odd = append(odd, i)
		}
	}
	var swaps []*mistake
	for n, q := range suspects {
		for _, r := range suspects[:n] {
			if explains[q] || explains[r] {
				swaps = append(swaps, p.swaps(s, q, s.chips[r], sizes)...)
			}
		}
		if explains[q] {
			swaps = append(swaps, p.swaps(s, q, odd, sizes)...)
		}
	}
	if err := p.compareMistakes(ctx, x, swaps); err != nil {
		return nil, err
	}
	all = append(all, swaps...)
	rank(all)
	return all, nil
}

func rank(all []*mistake) {
	sort.SliceStable(all, func(a, b int) bool { return all[a].support() > all[b].support() })
}
