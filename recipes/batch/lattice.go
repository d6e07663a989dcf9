package batch

import (
	"math"
	"slices"
)

// lattice is a minimum over whole numbers lower <= n <= upper. value may be
// +Inf for what is not allowed.
type lattice struct {
	lower, upper []int64
	value        func(n []int64) (float64, error)
}

// better demands more than the last digits of a float, so that ties keep the
// earlier point and a search cannot cycle.
func better(v, than float64) bool { return v < than-1e-12 }

// box tries every point and keeps start unless another is better.
func (l lattice) box(start []int64) ([]int64, float64, error) {
	best := slices.Clone(start)
	least, err := l.value(best)
	if err != nil {
		return nil, 0, err
	}
	n := slices.Clone(l.lower)
	for {
		v, err := l.value(n)
		if err != nil {
			return nil, 0, err
		}
		if better(v, least) {
			least = v
			copy(best, n)
		}
		i := 0
		for ; i < len(n); i++ { // the odometer
			if n[i] < l.upper[i] {
				n[i]++
				break
			}
			n[i] = l.lower[i]
		}
		if i == len(n) {
			return best, least, nil
		}
	}
}

// mostEvaluations ends a descent whose outcome is not smooth.
const mostEvaluations = 20000

// descend is a pattern search after Hooke and Jeeves (J. ACM 8, 212, 1961) on
// whole numbers, with pair moves because pigments trade against each other. It
// starts with the strides given and halves them down to one.
func (l lattice) descend(start, strides []int64) ([]int64, float64, error) {
	x, stride := slices.Clone(start), slices.Clone(strides)
	least, err := l.value(x)
	if err != nil {
		return nil, 0, err
	}
	trial, before := slices.Clone(x), slices.Clone(x)
	left := mostEvaluations
	// try moves x by the steps given where the bounds allow and keeps a gain.
	try := func(steps ...move) error {
		copy(trial, x)
		for _, s := range steps {
			trial[s.at] = max(l.lower[s.at], min(l.upper[s.at], trial[s.at]+s.by))
		}
		if left <= 0 || slices.Equal(trial, x) {
			return nil
		}
		left--
		v, err := l.value(trial)
		if err == nil && better(v, least) {
			least = v
			copy(x, trial)
		}
		return err
	}
	along := make([]move, len(x))
	for {
		copy(before, x)
		was := least
		if err := l.explore(stride, try); err != nil {
			return nil, 0, err
		}
		if better(least, was) {
			for gain := math.Inf(1); better(least, gain); { // repeat what worked
				gain = least
				for i := range x {
					along[i] = move{i, x[i] - before[i]}
				}
				copy(before, x)
				if err := try(along...); err != nil {
					return nil, 0, err
				}
			}
			continue
		}
		if !halve(stride) || left <= 0 {
			return x, least, nil
		}
	}
}

// move is a step along one pigment.
type move struct {
	at int
	by int64
}

func (l lattice) explore(stride []int64, try func(...move) error) error {
	for i, s := range stride {
		for _, by := range []int64{s, -s} {
			if err := try(move{i, by}); err != nil {
				return err
			}
		}
	}
	for i, s := range stride {
		for k := i + 1; k < len(stride); k++ {
			for _, sign := range [][2]int64{{1, 1}, {1, -1}, {-1, 1}, {-1, -1}} {
				if err := try(move{i, sign[0] * s}, move{k, sign[1] * stride[k]}); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

func halve(stride []int64) bool {
	halved := false
	for i, s := range stride {
		if s > 1 {
			stride[i], halved = (s+1)/2, true
		}
	}
	return halved
}
