package calibrate

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"masstone/color"
)

// How far an update is followed. Four to six steps are usual; a step that lowers
// the cost, which is -2 ln of the posterior, by less than stillStep says no more.
const (
	mostSteps = 12
	stillStep = 0.02
)

// information returns I + J'J at x.
func (l *update) information(x []float64) *mat.SymDense {
	l.linearise(x)
	h := mat.NewSymDense(l.n, nil)
	h.SymOuterK(1, l.jac.T())
	for i := range l.n {
		h.SetSym(i, i, h.At(i, i)+1)
	}
	return h
}

// converge brings x to the minimum of (1) and returns the steps taken.
func (l *update) converge(x []float64) (steps int, err error) {
	cost := l.cost(x)
	trial := make([]float64, l.n)
	damping := 0.0
	for steps = 1; steps <= mostSteps; steps++ {
		left := l.linearise(x)
		slope := mat.NewVecDense(l.n, nil) // minus half the gradient
		slope.MulVec(l.jac.T(), left)
		slope.SubVec(slope, mat.NewVecDense(l.n, x))
		normal := mat.NewSymDense(l.n, nil)
		normal.SymOuterK(1, l.jac.T())
		next := math.Inf(1)
		for range 10 {
			h := mat.NewSymDense(l.n, nil)
			h.CopySym(normal)
			for i := range l.n {
				h.SetSym(i, i, h.At(i, i)*(1+damping)+1)
			}
			var chol mat.Cholesky
			if !chol.Factorize(h) {
				return steps, fmt.Errorf("the readings of %s leave the range of numbers; read it again", l.p.readings[0].chip.Name)
			}
			var step mat.VecDense
			if err := chol.SolveVecTo(&step, slope); err != nil && !isCondition(err) {
				return steps, err
			}
			for i := range trial {
				trial[i] = x[i] + step.AtVec(i)
			}
			if next = l.cost(trial); next < cost {
				break
			}
			damping = math.Max(8*damping, 0.1)
		}
		if !(next < cost) {
			return steps, nil // at the floor of rounding
		}
		gain := cost - next
		copy(x, trial)
		cost = next
		if damping /= 10; damping < 1e-3 {
			damping = 0
		}
		if gain < stillStep {
			return steps, nil
		}
	}
	return mostSteps, nil
}

// How many bands' worth of opinion the noise of the fit carries against that of
// new spectra, and how much larger theirs may be believed to be. Common
// practice, no source.
const (
	spectrumNoiseDF = color.Bands
	mostNoiseRise   = 4 // of the variance
)

// raiseNoise raises the noise of spectra where their bands are left further off at x
// than it explains, as they are where a curve bends in ways that the posterior's
// few directions do not hold. It reports whether it did.
func (l *update) raiseNoise(x []float64) bool {
	n := 0.0
	for i := range l.p.readings {
		if l.p.readings[i].chip.Spectrum != nil {
			n += color.Bands
		}
	}
	bands, _ := l.misfit(x)
	raise := math.Min((spectrumNoiseDF+bands)/(spectrumNoiseDF+n), mostNoiseRise)
	if n == 0 || raise <= 1 {
		return false
	}
	l.p.noise.SpectrumSD *= math.Sqrt(raise)
	return true
}
