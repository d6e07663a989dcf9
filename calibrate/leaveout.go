package calibrate

import (
	"fmt"

	"gonum.org/v1/gonum/mat"

	"masstone/calibrate/minimize"
	"masstone/color"
)

// A leftOut is what the fit would have said of a chip had the chip not been
// read, from the linearised update: with residual r, sensitivity J and
// posterior covariance C of the full fit, leaving the chip's readings out
// gives the residual (I - J C J')^-1 r, of covariance (I - J C J')^-1 in units
// of the readings' noise.
type leftOut struct {
	// Miss is predicted minus measured, in Lab under each of the chip's own
	// conditions (three per condition) or, with a spectrum, in reflectance
	// factor per band.
	Miss []float64
	// Cov is the claimed covariance of Miss: posterior, weighing and noise.
	Cov *mat.SymDense
	// Vague is set where the others leave the chip so open that the linearised
	// update does not reach: some part of it is claimed with more than vague
	// times the noise of its reading.
	Vague bool
}

// vague is about 4 in Lab or 0.05 in reflectance factor for a usual handheld.
const vague = 50

// leaveOut returns a leftOut per chip at x, which must be converged. sys is
// factored at x on return.
func (p *problem) leaveOut(x state, sys *minimize.Bordered) ([]leftOut, error) {
	var w workspace
	g := make([]float64, p.n+p.d)
	p.linearise(x, &w, sys, g)
	if err := sys.Factor(); err != nil {
		return nil, err
	}
	far := sys.FarInverse()
	out := make([]leftOut, len(p.readings))
	for i := range p.readings {
		r := &p.readings[i]
		thickness := p.mix(r, x, &w)
		w.layer.Bands(&w.k, &w.s, thickness, &r.backing, r.chip.Measurement.Specular, &w.partials)
		var res []float64
		var scale float64
		var rest *mat.SymDense // I - J C J'
		if r.chip.Spectrum != nil {
			scale = p.noise.SpectrumSD / r.trust
			for b, m := range r.chip.Spectrum {
				res = append(res, w.partials.R[b]-m)
			}
			j := p.sensitivity(r, x, &w, 1/scale)
			rest = sys.Covariance(j)
			rest.ScaleSym(-1, rest)
			for b := range color.Bands {
				rest.SetSym(b, b, rest.At(b, b)+1)
			}
		} else {
			scale = p.noise.LabSD / r.trust
			for j, weights := range r.weights {
				lab := weights.Lab((*color.Reflectance)(&w.partials.R))
				m := r.chip.Labs[j]
				res = append(res, lab.L-m.L, lab.A-m.A, lab.B-m.B)
			}
			rest = mat.NewSymDense(len(res), nil)
			for a := range res {
				for b := a; b < len(res); b++ {
					rest.SetSym(a, b, far.At(r.firstRow+a, r.firstRow+b))
				}
			}
		}
		var chol mat.Cholesky
		if !chol.Factorize(rest) {
			return nil, fmt.Errorf("chip %s: nothing else in the evidence speaks of what it shows; read another chip of its pigments", r.chip.Name)
		}
		v := mat.NewVecDense(len(res), res)
		if err := chol.SolveVecTo(v, v); err != nil && !isCondition(err) {
			return nil, fmt.Errorf("chip %s: %w", r.chip.Name, err)
		}
		var cov mat.SymDense
		if err := chol.InverseTo(&cov); err != nil && !isCondition(err) {
			return nil, fmt.Errorf("chip %s: %w", r.chip.Name, err)
		}
		for k := range res {
			if cov.At(k, k)-1 > vague*vague*r.trust*r.trust {
				out[i].Vague = true
			}
		}
		cov.ScaleSym(scale*scale, &cov)
		out[i].Miss, out[i].Cov = res, &cov
		if r.recorded != nil {
			out[i] = p.record(r, x, &w, sys.Covariance)
		}
	}
	return out, nil
}

// isCondition reports whether err only warns of an ill-conditioned matrix; the
// solution then stands.
func isCondition(err error) bool {
	_, ok := err.(mat.Condition)
	return ok
}

// sensitivity returns d(reflectance factor)/d(unknowns) of a chip, a row per
// band, scaled. w holds the chip's partials.
func (p *problem) sensitivity(r *reading, x state, w *workspace, scale float64) *mat.Dense {
	j := mat.NewDense(color.Bands, p.n+p.d, nil)
	var local, border []entry
	for b := range color.Bands {
		local, border = p.gradient(r, x, w, b, local, border)
		row := j.RawRowView(b)
		for _, u := range local {
			row[u.at] += u.value * scale
		}
		for _, u := range border {
			row[p.n+u.at] += u.value * scale
		}
	}
	return j
}
