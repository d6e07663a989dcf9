package batch

import (
	"errors"
	"fmt"
	"maps"
	"slices"
)

// Mixture is what lies in the cup as far as colour goes.
type Mixture struct {
	Loadings map[string]PHR // as weighed
	Weighing map[string]PHR // standard deviation of each loading by weighing, see (6) and (8)
}

// Outcome is the caller's expected difference (CIEDE2000) of a mixture from
// the target. It must be a fixed function of the mixture, finite, and must
// neither keep nor change the maps, which are reused. An outcome that knows
// nothing of weighing may ignore Weighing. Its error stops the planning, which
// is how a caller cancels.
type Outcome func(Mixture) (expectedDE00 float64, err error)

// Dilution says when a paste may be pre-diluted.
type Dilution int

// The choices.
const (
	DiluteWhenNeeded Dilution = iota
	DiluteNever
)

// Request is everything a sheet is planned from.
type Request struct {
	Recipe    map[string]PHR // ideal loadings by pigment code; zero loadings are left out
	Resin     Resin
	Order     Order
	Scale     Scale
	Colorants map[string]Colorant // by pigment code; missing ones are plain pastes
	Handling  Handling            // cups and clock
	Outcome   Outcome             // nil: plain rounding, no differences reported
	Tolerance float64             // CIEDE2000; 0 none
	Dilution  Dilution
	Jars      []Jar // pre-dilutions at hand, taken before one is stirred

	// ScaleCost is the expected difference the scale may add before a
	// pre-dilution is proposed for a line heavy enough to weigh; 0 stands
	// for 0.1, which a handheld instrument hardly repeats (common practice,
	// no source).
	ScaleCost float64
}

// job is a checked request with what the searches reuse.
type job struct {
	Request
	codes   []string  // pigments in the recipe, sorted
	ideal   []float64 // phr, beside codes
	sum     float64   // phr
	step    int64     // micrograms
	quick   bool      // descend where Plan would try the whole neighbourhood
	mixture Mixture
}

func newJob(r Request) (*job, error) {
	for _, err := range []error{r.Resin.check(), r.Order.check(), r.Scale.check(), r.Handling.check()} {
		if err != nil {
			return nil, err
		}
	}
	for _, k := range r.Jars {
		if err := k.check(); err != nil {
			return nil, err
		}
	}
	if !(r.Tolerance >= 0) || !(r.ScaleCost >= 0) {
		return nil, fmt.Errorf("batch: tolerance %g and scale cost %g: neither may be negative", r.Tolerance, r.ScaleCost)
	}
	if r.ScaleCost == 0 {
		r.ScaleCost = 0.1
	}
	j := &job{Request: r, step: r.Scale.Step.micrograms,
		mixture: Mixture{map[string]PHR{}, map[string]PHR{}}}
	for _, code := range codes(r.Recipe) {
		c := float64(r.Recipe[code])
		switch {
		case code == "":
			return nil, errors.New("batch: a pigment of the recipe has no code: name it")
		case code == string(SideA) || code == string(SideB):
			return nil, fmt.Errorf("batch: pigment %q has the name of a resin side: give it another code", code)
		case !(c >= 0 && c <= 100):
			return nil, fmt.Errorf("batch: loading of %s is %g phr: give 0 to 100 g per 100 g of mixed resin", code, c)
		case c == 0:
			continue
		}
		if err := r.Colorants[code].check(code); err != nil {
			return nil, err
		}
		j.codes, j.ideal, j.sum = append(j.codes, code), append(j.ideal, c), j.sum+c
	}
	limit := 100.0
	if r.Resin.MaxPHR > 0 {
		limit = float64(r.Resin.MaxPHR)
	}
	if j.sum > limit*(1+1e-9) {
		return nil, fmt.Errorf("batch: recipe holds %.4g phr of paste, the resin bears %.4g: lower the loadings or the resin's limit is wrong", j.sum, limit)
	}
	return j, nil
}

// ordered is the batch mass on the scale's grid, and the mix's density.
func (j *job) ordered() (int64, Density, error) {
	density := j.Resin.MixedDensity(j.Recipe, j.Colorants)
	mass, err := j.Order.Mass(density)
	if err != nil {
		return 0, density, err
	}
	return atLeast(float64(mass.micrograms), j.step), density, nil
}

// perfect is the outcome of the recipe as written, weighed without error.
func (j *job) perfect() (float64, error) {
	for i, code := range j.codes {
		j.mixture.Loadings[code], j.mixture.Weighing[code] = PHR(j.ideal[i]), 0
	}
	return j.expected()
}

func (j *job) expected() (float64, error) {
	v, err := j.Outcome(j.mixture)
	if err != nil {
		return 0, fmt.Errorf("batch: expected difference: %w", err)
	}
	if !(v >= 0 && v < 1e6) {
		return 0, fmt.Errorf("batch: expected difference comes out as %g at %v phr: the calibration cannot judge this mixture", v, j.mixture.Loadings)
	}
	return v, nil
}

func codes(recipe map[string]PHR) []string { return slices.Sorted(maps.Keys(recipe)) }
