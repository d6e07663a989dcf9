package calibrate

import (
	"fmt"

	"gonum.org/v1/gonum/mat"
)

// A leftOut is what the fit would have said of a chip had its casting not been
// read, from the linearised update. With the readings of a casting linearised as
// in (4), of covariance C given the curves and of spread D = J H^-1 J' in the full
// fit, those of a fit without them miss by
//
//	C (C - D)^-1 r, of covariance C (C - D)^-1 C                  (7)
type leftOut struct {
	// Miss is predicted minus measured, in Lab under each of the chip's own
	// conditions (three per condition) or, with a spectrum, in reflectance
	// factor per band.
	Miss []float64
	// Cov is the claimed covariance of Miss: posterior, casting and noise.
	Cov *mat.SymDense
	// Vague is set where the others leave the chip so open that the linearised
	// update does not reach: the curves leave some part of it open by more than
	// vague times the noise of its reading.
	Vague bool
}

// vague is about 4 in Lab or 0.05 in reflectance factor for a usual handheld.
const vague = 50

// leaveOut returns a leftOut per chip at x, which must be converged. sys is
// informed at x on return.
func (p *problem) leaveOut(x state, sys *system) ([]leftOut, error) {
	if err := p.inform(x, sys); err != nil {
		return nil, err
	}
	out := make([]leftOut, len(p.readings))
	for i := range p.castings {
		c, l := &p.castings[i], &sys.linear[i]
		n := l.n
		// C (C - D)^-1 C = (M - M D M)^-1
		rest := mat.NewSymDense(n, nil)
		var md, mdm mat.Dense
		m, d := mat.NewDense(n, n, l.m.Data), mat.NewDense(n, n, l.spread)
		md.Mul(m, d)
		mdm.Mul(&md, m)
		for a := range n {
			for b := a; b < n; b++ {
				rest.SetSym(a, b, m.At(a, b)-(mdm.At(a, b)+mdm.At(b, a))/2)
			}
		}
		var chol mat.Cholesky
		ok := chol.Factorize(rest)
		for slack := 1e-12; !ok && slack < 1e-7; slack *= 10 { // rounding, where a chip is all but alone
			for a := range n {
				rest.SetSym(a, a, rest.At(a, a)+slack*m.At(a, a))
			}
			ok = chol.Factorize(rest)
		}
		if !ok {
			return nil, fmt.Errorf("chip %s: nothing else in the evidence speaks of what it shows; read another chip of its pigments", p.readings[c.readings[0]].chip.Name)
		}
		var cov mat.SymDense
		if err := chol.InverseTo(&cov); err != nil && !isCondition(err) {
			return nil, fmt.Errorf("chip %s: %w", p.readings[c.readings[0]].chip.Name, err)
		}
		var miss mat.VecDense
		miss.MulVec(&cov, mat.NewVecDense(n, l.mr)) // C (C - D)^-1 C M r
		row := 0
		for _, k := range c.readings {
			r := &p.readings[k]
			out[k] = p.leftOut(r, row, &miss, &cov, l)
			row += r.rows()
			if r.recorded != nil {
				out[k] = p.record(r, x, sys)
			}
		}
	}
	return out, nil
}

// leftOut cuts one reading out of its casting's miss.
func (p *problem) leftOut(r *reading, row int, miss *mat.VecDense, cov *mat.SymDense, l *linear) leftOut {
	n := r.rows()
	unit := p.unit(r) / r.trust
	out := leftOut{Cov: mat.NewSymDense(n, nil)}
	for a := range n {
		out.Miss = append(out.Miss, -miss.AtVec(row+a)*unit)
		for b := a; b < n; b++ {
			out.Cov.SetSym(a, b, cov.At(row+a, row+b)*unit*unit)
		}
		own := 1.0 // of C
		for k := range l.own.Cols {
			u := l.own.Data[(row+a)*l.own.Stride+k]
			own += u * u
		}
		if cov.At(row+a, row+a)-own > vague*vague*r.trust*r.trust {
			out.Vague = true
		}
	}
	return out
}

// isCondition reports whether err only warns of an ill-conditioned matrix; the
// solution then stands.
func isCondition(err error) bool {
	_, ok := err.(mat.Condition)
	return ok
}
