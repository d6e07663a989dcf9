package main

import (
	"fmt"
	"slices"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes"
	"masstone/recipes/batch"
)

// An expectation answers how far from a target a mixture is expected to land,
// weighing counted.
type expectation struct {
	cal       *calibrate.Calibration
	eval      *calibrate.Evaluator
	want      color.Lab
	tolerance float64
	gradient  [calibrate.MaxComponents][3]float64
}

func newExpectation(cal *calibrate.Calibration, t recipes.Target) (*expectation, error) {
	e := &expectation{cal: cal, tolerance: t.Within()}
	switch {
	case len(t.Labs) > 0:
		e.want = t.Labs[0]
	case t.Spectrum != nil:
		w, err := color.WeightsFor(cal.Main)
		if err != nil {
			return nil, err
		}
		e.want = w.Lab(t.Spectrum)
	default:
		return nil, fmt.Errorf("target %q has no reading; add one", t.Name)
	}
	var err error
	e.eval, err = cal.Evaluator(t.Setting, e.want.Under)
	return e, err
}

// landing is where a mixture lands whose loadings were weighed with the given
// standard deviations.
func (e *expectation) landing(mix, weighing map[string]calibrate.PHR) (color.Lab, calibrate.Landing, error) {
	pigments, phr, err := e.cal.Resolve(mix)
	if err != nil {
		return color.Lab{}, calibrate.Landing{}, err
	}
	e.eval.Set(pigments, phr)
	lab := e.eval.LabGradient(0, e.gradient[:])
	cov := e.eval.Covariance()
	for i, q := range pigments {
		sd := float64(weighing[e.cal.Curves[q].Code])
		for a := range 3 {
			for b := range 3 {
				cov[a][b] += sd * sd * e.gradient[i][a] * e.gradient[i][b]
			}
		}
	}
	return color.LabFrom(lab, e.want.Under), calibrate.Land(e.want.Values(), lab, cov, e.tolerance), nil
}

// outcome is the expectation for a batch.
func (e *expectation) outcome(m batch.Mixture) (float64, error) {
	_, landing, err := e.landing(m.Loadings, m.Weighing)
	return landing.Expected, err
}

// knows reports whether a calibration has every pigment of a recipe.
func knows(cal *calibrate.Calibration, codes []string) bool {
	return !slices.ContainsFunc(codes, func(c string) bool { return cal.Index(c) == 0 })
}
