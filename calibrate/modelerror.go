package calibrate

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/mathext"

	"masstone/color"
)

// A colourMiss is a left-out chip's miss as a colour: predicted minus
// measured Lab under the main condition, with the covariance the fit claims
// for it (posterior and weighing) and that of the reading itself.
type colourMiss struct {
	measured [3]float64
	miss     [3]float64 // to first order, as the covariance is
	leftOut  [3]float64 // the colour itself
	vague    bool
	claimed  [3][3]float64
	reading  [3][3]float64
}

// colourMisses turns leave-one-out results into colours under the condition
// of weights. Chips read under other conditions only are judged under their
// first.
func (p *problem) colourMisses(left []leftOut, main *color.Weights) []colourMiss {
	out := make([]colourMiss, len(left))
	for i, l := range left {
		r := &p.readings[i]
		m := &out[i]
		m.vague = l.Vague
		if r.chip.Spectrum != nil {
			var jac [3][color.Bands]float64
			predicted := *r.chip.Spectrum
			main.LabWithJacobian(r.chip.Spectrum, &m.measured, &jac)
			for b := range predicted {
				predicted[b] = math.Max(predicted[b]+l.Miss[b], 0)
			}
			lab := main.Lab(&predicted)
			m.leftOut = lab.Values()
			for a := range 3 {
				for b := range color.Bands {
					m.miss[a] += jac[a][b] * l.Miss[b]
				}
			}
			// the noise of a sound reading, however far
			// downweighted
			sound := p.unit(r) * p.unit(r)
			weighted := sound / (r.trust * r.trust)
			for a := range 3 {
				for c := range 3 {
					all, own := 0.0, 0.0
					for b := range color.Bands {
						own += jac[a][b] * jac[c][b]
						for d := range color.Bands {
							all += jac[a][b] * l.Cov.At(b, d) * jac[c][d]
						}
					}
					m.reading[a][c] = own * sound
					m.claimed[a][c] = all - own*weighted
				}
			}
			continue
		}
		at := 0
		for j, lab := range r.chip.Labs {
			if lab.Under == main.Under {
				at = j
			}
		}
		lab := r.chip.Labs[at]
		m.measured = [3]float64{lab.L, lab.A, lab.B}
		sound := p.unit(r) * p.unit(r)
		weighted := sound / (r.trust * r.trust)
		for a := range 3 {
			m.miss[a] = l.Miss[3*at+a]
			m.leftOut[a] = m.measured[a] + m.miss[a]
			for c := range 3 {
				m.claimed[a][c] = l.Cov.At(3*at+a, 3*at+c)
			}
			m.reading[a][a] = sound
			m.claimed[a][a] -= weighted
		}
	}
	return out
}

// score returns the squared size of a miss in standard deviations and the ln
// of its density under a model error.
func (m *colourMiss) score(e ModelError) (z2, logDensity float64) {
	cov := e.widen(m.claimed, m.measured)
	for a := range 3 {
		for c := range 3 {
			cov[a][c] += m.reading[a][c]
		}
	}
	var chol mat.Cholesky
	sym := mat.NewSymDense(3, []float64{cov[0][0], cov[0][1], cov[0][2], cov[1][0], cov[1][1], cov[1][2], cov[2][0], cov[2][1], cov[2][2]})
	if !chol.Factorize(sym) {
		return math.Inf(1), math.Inf(-1)
	}
	v := mat.NewVecDense(3, append([]float64(nil), m.miss[:]...))
	var y mat.VecDense
	if err := chol.SolveVecTo(&y, v); err != nil && !isCondition(err) {
		return math.Inf(1), math.Inf(-1)
	}
	z2 = mat.Dot(v, &y)
	return z2, -0.5 * (z2 + chol.LogDet() + 3*math.Log(2*math.Pi))
}

// credit is the ln of a chip's density where a few chips may be plainly bad.
func (m *colourMiss) credit(e ModelError) float64 {
	_, good := m.score(e)
	// a bad chip may be off by ten in any direction
	bad := -3*math.Log(10) - 1.5*math.Log(2*math.Pi)
	return math.Log((1-badShare)*math.Exp(good) + badShare*math.Exp(bad))
}

// badShare is how many chips may be wrong in ways no bar should cover.
const badShare = 0.03

// fitModelError chooses the model error that makes the left-out chips most
// likely, a few bad ones aside. Before a chip speaks no layer model is taken to
// be better or worse than a floor of about 0.07 by much (from memory).
func fitModelError(misses []colourMiss) ModelError {
	best, value := ModelError{Widen: 1}, math.Inf(-1)
	for _, widen := range []float64{0.8, 0.9, 1, 1.1, 1.2, 1.35, 1.5, 1.75, 2, 2.5, 3, 4, 5} {
		for _, floor := range []float64{0.04, 0.05, 0.06, 0.07, 0.08, 0.1, 0.14, 0.2, 0.28, 0.4, 0.56, 0.8, 1.1, 1.6} {
			e := ModelError{Widen: widen, Floor: floor}
			a, b := math.Log(widen)/0.2, math.Log(floor/0.07)/0.5
			sum := -(a*a + b*b) / 2
			for i := range misses {
				if !misses[i].vague {
					sum += misses[i].credit(e)
				}
			}
			if sum > value {
				best, value = e, sum
			}
		}
	}
	return best
}

// sigma returns the size in standard deviations of a normal number as rare as
// a squared miss z2 in three dimensions.
func sigma(z2 float64) float64 {
	// chance of a larger miss: chi-square with three degrees of freedom
	z := math.Sqrt(math.Max(z2, 0))
	tail := math.Erfc(z/math.Sqrt2) + math.Sqrt(2/math.Pi)*z*math.Exp(-z2/2)
	if !(tail > 1e-300) {
		return z
	}
	return math.Max(0, -mathext.NormalQuantile(tail/2))
}

// chi95 is the 95 % point of chi-square with three degrees of freedom (NIST/
// SEMATECH e-Handbook of Statistical Methods, table 1.3.6.7.4: 7.815).
const chi95 = 7.815
