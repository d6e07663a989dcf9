package batch

import (
	"fmt"
	"math"
	"slices"
)

// lacks tells whether a pigment of the recipe comes to nothing.
func (f *found) lacks() bool { return slices.Contains(f.fill.doses, 0) }

// below tells whether a line that is weighed is lighter than the least.
func (f *found) below(least Mass) bool {
	for i, c := range f.charges {
		if d := f.fill.doses[i]; d == 0 || !c.drop && d < least.micrograms {
			return true
		}
	}
	return false
}

// tooLittle is the error for a batch that is too small for the scale. It says
// the smallest that is not: one that also keeps the tolerance, where that is
// known and there is one.
func (j *job) tooLittle(total int64) error {
	what := fmt.Sprintf("batch: %v is too little for this recipe in steps of %v", Mass{total}, j.Scale.Step)
	sizes, keeps, err := j.enough()
	if err != nil {
		return err
	}
	neat, diluted := sizes.Neat, sizes.Diluted
	if j.Dilution == DiluteNever {
		diluted = Size{}
	}
	const finer = "or use a finer scale"
	switch {
	case neat.Found && diluted.Found && diluted.Total.Compare(neat.Total) < 0:
		return fmt.Errorf("%s: make %s or more, the smallest batch that %s (%s without pre-dilutions), %s", what, diluted.Total, keeps, neat.Total, finer)
	case neat.Found || diluted.Found:
		least := neat.Total
		if !neat.Found {
			least = diluted.Total
		}
		return fmt.Errorf("%s: make %s or more, the smallest batch that %s, %s", what, least, keeps, finer)
	}
	if j.Dilution == DiluteNever && sizes.Diluted.Found {
		return fmt.Errorf("%s: use a finer scale, or allow pre-dilutions and make %s or more", what, sizes.Diluted.Total)
	}
	return fmt.Errorf("%s: use a finer scale", what)
}

// enough finds the smallest batches that keep the tolerance, or without one to
// keep those that can be weighed, and says which.
func (j *job) enough() (Sizes, string, error) {
	r := j.Request
	r.Order = Order{Total: Grams(leastGrams)}
	if r.Outcome != nil && r.Tolerance > 0 {
		s, err := Smallest(r)
		if err != nil || s.Neat.Found || s.Diluted.Found {
			return s, fmt.Sprintf("keeps the tolerance of %.4g", r.Tolerance), err
		}
	}
	r.Outcome, r.Dilution = nil, DiluteWhenNeeded
	r.Tolerance = math.MaxFloat64
	k, err := newJob(r)
	if err != nil {
		return Sizes{}, "", err
	}
	var s Sizes
	if s.Neat, err = k.smallest(0, k.neatAt); err != nil {
		return s, "", err
	}
	s.Diluted, err = k.smallest(0, func(total int64) (float64, error) {
		f, _, err := k.dilute(total)
		if err == nil && f.below(k.Scale.minimum()) {
			err = errTooSmall
		}
		return 0, err
	})
	return s, "can be weighed", err
}
