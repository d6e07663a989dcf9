package recipes

import (
	"fmt"

	"gonum.org/v1/gonum/mat"

	"masstone/calibrate"
	"masstone/color"
)

// ReadingSD is the standard deviation of one reading of a part, in each of L*,
// a*, b*, where nothing better is known.
const ReadingSD = readingSD

// Counter is the change of loadings that answers a shift of the colour of a
// mixture, and how much of the shift it leaves. It takes the shift for a change of
// strength of its pigments, each as likely as strengths usually differ from lot
// to lot (sd drift of ln strength), read with standard deviation sd per axis:
//
//	s = P G' (G P G' + sd^2 I)^-1 shift,  P = diag(drift^2)
//
// with G the change of L*, a*, b* per unit of s, which is the loading times the
// colour's slope along it; the loading then changes by -s of itself. What no
// pigment of the mixture can do is left.
func Counter(cal *calibrate.Calibration, set calibrate.Setting, under color.Condition, mix map[string]calibrate.PHR, shift [3]float64, sd float64) (change map[string]calibrate.PHR, left [3]float64, err error) {
	pigments, phr, err := cal.Resolve(mix)
	if err != nil {
		return nil, left, err
	}
	eval, err := cal.Evaluator(set, under)
	if err != nil {
		return nil, left, err
	}
	eval.Set(pigments, phr)
	slopes := make([][3]float64, len(pigments))
	eval.LabGradient(0, slopes)
	drift := cal.UsualDrift()
	g, pg := mat.NewDense(3, len(pigments), nil), mat.NewDense(len(pigments), 3, nil)
	for i, q := range pigments {
		p := drift[cal.Curves[q].Code]
		for a := range 3 {
			g.Set(a, i, slopes[i][a]*phr[i])
			pg.Set(i, a, p*p*slopes[i][a]*phr[i])
		}
	}
	var inner, weights mat.Dense
	inner.Mul(g, pg)
	for a := range 3 {
		inner.Set(a, a, inner.At(a, a)+sd*sd)
	}
	if err := weights.Solve(&inner, mat.NewDense(3, 1, shift[:])); err != nil {
		return nil, left, fmt.Errorf("recipes: the answer to a shift of %.2f %.2f %.2f: %w", shift[0], shift[1], shift[2], err)
	}
	var s, done mat.Dense
	s.Mul(pg, &weights)
	done.Mul(g, &s)
	change = map[string]calibrate.PHR{}
	for i, q := range pigments {
		change[cal.Curves[q].Code] = calibrate.PHR(max(-0.9, -s.At(i, 0)) * phr[i]) // none is taken out by a shift
	}
	for a := range 3 {
		left[a] = shift[a] - done.At(a, 0)
	}
	return change, left, nil
}
