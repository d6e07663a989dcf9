package batch

import (
	"errors"
	"fmt"
	"math"
)

// Size is a batch size that keeps the tolerance.
type Size struct {
	Found    bool    `json:"found"`
	Total    Mass    `json:"total_grams,omitzero"`
	Expected float64 `json:"expected_dE00"` // at Total; without a find, the best met
	Why      string  `json:"why,omitzero"`  // why there is none
}

// Sizes are the smallest batches that keep the tolerance on this scale.
type Sizes struct {
	Tolerance float64 `json:"tolerance_dE00"`
	Neat      Size    `json:"neat"`       // every paste weighed as it is, none below the least line
	Diluted   Size    `json:"prediluted"` // with pre-dilutions where needed
}

// The ladder of sizes tried: rungs of 5 %, refined to 0.5 %, from 1 g (or a
// hundred steps) to a thousand times the order, and to 100 kg in any case.
const (
	rung       = 1.05
	refined    = 1.005
	outermost  = 1000.0
	leastGrams = 1.0
	farGrams   = 1e5
)

// Smallest finds how small the batch may be made before the scale breaks the
// tolerance: from the order down while the expected difference keeps it, or
// from the order up to the first size that does. Lucky sizes below the first
// one that fails are not considered. It needs an outcome and a tolerance. The
// order's growth is not used.
func Smallest(r Request) (Sizes, error) {
	if r.Outcome == nil || !(r.Tolerance > 0) {
		return Sizes{}, errors.New("batch: smallest batch: needs an expected difference and a tolerance above 0")
	}
	r.Order.Grow = 0
	j, err := newJob(r)
	if err != nil {
		return Sizes{}, err
	}
	ordered, _, err := j.ordered()
	if err != nil {
		return Sizes{}, err
	}
	ideal, err := j.perfect()
	if err != nil {
		return Sizes{}, err
	}
	j.quick = true // Plan at the size found does as well or better
	j.Dilution = DiluteWhenNeeded
	s := Sizes{Tolerance: r.Tolerance}
	if ideal > r.Tolerance {
		none := Size{Expected: ideal, Why: fmt.Sprintf("the recipe itself is expected at %.2f, whatever the batch", ideal)}
		s.Neat, s.Diluted = none, none
		return s, nil
	}
	if s.Neat, err = j.smallest(ordered, j.neatAt); err != nil {
		return Sizes{}, err
	}
	s.Diluted, err = j.smallest(ordered, j.dilutedAt)
	return s, err
}

// dilutedAt is the outcome with pre-dilutions where needed, refused when a
// pigment comes to nothing.
func (j *job) dilutedAt(total int64) (float64, error) {
	f, _, err := j.dilute(total)
	if err != nil {
		return 0, err
	}
	if f.lacks() {
		return 0, errTooSmall
	}
	return f.value, nil
}

// neatAt is the outcome with neat pastes, refused when one is too small.
func (j *job) neatAt(total int64) (float64, error) {
	cs := j.charges()
	for i, units := range j.aim(cs, total) {
		if j.tooSmall(cs[i], units) != "" {
			return 0, errTooSmall
		}
	}
	f, err := j.at(cs, total, false)
	if err != nil {
		return 0, err
	}
	return f.value, nil
}

func (j *job) smallest(ordered int64, outcome func(total int64) (float64, error)) (Size, error) {
	least := math.Inf(1)
	keeps := func(total int64) (bool, float64, error) {
		v, err := outcome(total)
		if errors.Is(err, errTooSmall) {
			return false, 0, nil
		}
		least = math.Min(least, v)
		return err == nil && v <= j.Tolerance, v, err
	}
	floor := max(100*j.step, Grams(leastGrams).micrograms)
	ordered = max(ordered, floor)
	good, bad := int64(0), int64(0)
	ok, value, err := keeps(ordered)
	if err != nil {
		return Size{}, err
	}
	if ok {
		for good = ordered; good > floor; {
			t := max(floor, min(good-j.step, nearest(float64(good)/rung, j.step)))
			ok, v, err := keeps(t)
			if err != nil {
				return Size{}, err
			}
			if !ok {
				bad = t
				break
			}
			good, value = t, v
		}
	} else {
		top := min(max(outermost*float64(ordered), farGrams*perGram), float64(largest.micrograms))
		for bad = ordered; good == 0 && float64(bad) < top; {
			t := max(bad+j.step, atLeast(float64(bad)*rung, j.step))
			ok, v, err := keeps(t)
			if err != nil {
				return Size{}, err
			}
			if ok {
				good, value = t, v
			} else {
				bad = t
			}
		}
		if good == 0 {
			return Size{Expected: finite(least), Why: fmt.Sprintf("no batch up to %v keeps %.2f", Mass{int64(top)}, j.Tolerance)}, nil
		}
	}
	for bad > 0 && float64(good) > float64(bad)*refined && good-bad > j.step {
		t := nearest(float64(good+bad)/2, j.step)
		ok, v, err := keeps(t)
		if err != nil {
			return Size{}, err
		}
		if ok {
			good, value = t, v
		} else {
			bad = t
		}
	}
	return Size{Found: true, Total: Mass{good}, Expected: value}, nil
}

// finite keeps JSON writable when nothing could be judged.
func finite(v float64) float64 {
	if math.IsInf(v, 0) {
		return 0
	}
	return v
}
