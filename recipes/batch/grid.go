package batch

import (
	"errors"
	"math"
	"slices"
)

// found is a batch settled on the grid.
type found struct {
	charges []charge
	counts  []int64
	fill    fill
	value   float64 // outcome, 0 without one
	rounded float64 // outcome of plain rounding at the ordered mass, same lines
}

// indifferent: a gain below this many CIEDE2000 is not worth more material.
const indifferent = 0.01

// errTooSmall: the lines of a batch do not fit in it, or one comes to nothing.
var errTooSmall = errors.New("too little for the scale")

// aim is the unrounded count of each line in a batch of that total.
func (j *job) aim(cs []charge, total int64) []float64 {
	resin := float64(total) / (1 + j.sum/100) // (3)
	aim := make([]float64, len(cs))
	for i, c := range cs {
		aim[i] = j.ideal[i] * resin / 100 / c.share() / float64(c.unit)
	}
	return aim
}

// around is the neighbourhood (9) of the aim with the plain rounding inside.
func (j *job) around(cs []charge, aim []float64) (rounded, lower, upper []int64) {
	beyond := int64(1)
	if len(cs) > 5 {
		beyond = 0 // 2^n points instead of 4^n
	}
	for i, c := range cs {
		r, down := int64(math.Round(aim[i])), int64(math.Floor(aim[i]))
		low, high := max(0, down-beyond), down+1+beyond
		if r > 0 && low == 0 {
			low = 1 // a pigment the recipe wants is not dropped by a search
		}
		if c.ratio == 0 && !c.drop { // absent, or at least the minimum
			least := atLeast(float64(j.Scale.minimum().micrograms), c.unit) / c.unit
			low = max(low, min(least, r))
		}
		rounded, lower, upper = append(rounded, r), append(lower, low), append(upper, high)
	}
	return rounded, lower, upper
}

// at settles the lines in a batch of that total. Thorough tries the whole
// neighbourhood, otherwise it descends inside it.
func (j *job) at(cs []charge, total int64, thorough bool) (*found, error) {
	n, lower, upper := j.around(cs, j.aim(cs, total))
	f := &found{charges: cs, counts: n}
	if !j.toTotal(&f.fill, cs, n, total) {
		return nil, errTooSmall
	}
	if j.Outcome == nil {
		return f, nil
	}
	var err error
	if f.rounded, err = j.judge(cs, &f.fill); err != nil {
		return nil, err
	}
	grid := lattice{lower, upper, func(n []int64) (float64, error) {
		if !j.toTotal(&f.fill, cs, n, total) {
			return math.Inf(1), nil
		}
		return j.judge(cs, &f.fill)
	}}
	if thorough && !j.quick && len(cs) <= 10 {
		f.counts, f.value, err = grid.box(n)
	} else {
		f.counts, f.value, err = grid.descend(n, slices.Repeat([]int64{1}, len(n)))
	}
	if err != nil {
		return nil, err
	}
	j.toTotal(&f.fill, cs, f.counts, total)
	return f, nil
}

// search settles the lines at the ordered total, or above it as far as the
// order may grow and each growth gains more than the indifferent amount.
func (j *job) search(cs []charge, total int64) (*found, error) {
	best, err := j.at(cs, total, true)
	if err != nil || j.Outcome == nil || j.Order.Grow == 0 {
		return best, err
	}
	chosen, value := total, best.value
	for _, t := range j.totals(cs, total) {
		f, err := j.at(cs, t, false)
		if err != nil {
			return nil, err
		}
		if f.value < value-indifferent { // totals rise
			chosen, value = t, f.value
		}
	}
	if chosen == total {
		return best, nil
	}
	grown, err := j.at(cs, chosen, true)
	if err == nil {
		grown.rounded = best.rounded
	}
	return grown, err
}

// mostTotals bounds the batch sizes tried for one order.
const mostTotals = 60

// totals are the larger batches worth trying, rising: those in which a coarse
// line falls on a whole unit, and an even ladder.
func (j *job) totals(cs []charge, total int64) []int64 {
	top := float64(total) * (1 + j.Order.Grow)
	var ts []int64
	for i, from := range j.aim(cs, total) {
		whole := math.Floor(from) + 1
		if cs[i].unit < j.step || from > 500 {
			continue // rounding is below 0.1 %
		}
		for ; whole*float64(total) <= from*top && len(ts) < mostTotals/2; whole++ {
			ts = append(ts, nearest(float64(total)*whole/from, j.step))
		}
	}
	for i := 1; i <= mostTotals/2; i++ {
		ts = append(ts, nearest(float64(total)+(top-float64(total))*float64(i)/(mostTotals/2), j.step))
	}
	slices.Sort(ts)
	return slices.DeleteFunc(slices.Compact(ts), func(t int64) bool { return t <= total || float64(t) > top })
}
