package calibrate

import (
	"context"
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/optimize"
)

// hyperparameters are how far what is not on record strays: standard deviations of
// unknowns that are else of unit variance. 0 is for what stays where it is.
type hyperparameters struct {
	strength float64 // ln strength of one portion of paste
	k, s     float64 // ln K and ln S of a casting against the law of mixing
	scale    float64 // a reading of a spectrum, as a share of it
	offset   float64 // a reading of a spectrum, in reflectance factor: a surface
	// bent is how far pastes may depart from the law of mixing that is linear in
	// the loading, as a share of what is known of pastes that do.
	bent float64
	loss float64 // absorbed per mm and scattering for light lost past the aperture: c / r^2, per mm^2
}

// Strength that falls with the loading and scattering that crowds, of pastes
// that do so, before a chip is read: strength goes as c^p. From a prototype on
// measured films and pastes; no other source.
const (
	lnExponent   = -0.05
	lnExponentSD = 0.05
	crowding     = 0.05 // per phr
	crowdingSD   = 0.07
	lossSD       = 0.4 // of the ln of the loss
)

// exponent is p of a pigment whose unknown is e.
func (h *hyperparameters) exponent(e float64) float64 {
	if h.bent == 0 {
		return 1
	}
	return math.Exp(h.bent * (lnExponent + lnExponentSD*e))
}

func (h *hyperparameters) crowding(e float64) float64 {
	return math.Max(h.bent*(crowding+crowdingSD*e), -0.05)
}

func (h *hyperparameters) lost(e float64) float64 { return h.loss * math.Exp(lossSD*e) }

// usualHyper is how far things stray before the readings say otherwise: portions
// of a well stirred paste by 0.7 %. Common practice, no source; the rest chosen on
// invented shops.
var usualHyper = hyperparameters{strength: 0.007, k: 0.006, s: 0.006, scale: 0.001, offset: 0.0005}

// mostStrengthSD is what even a careless bench hardly passes. Common practice, no
// source.
const mostStrengthSD = 0.05

// An outer is one hyperparameter as it is learnt: by its ln, about the ln of the
// usual with the given spread.
type outer struct {
	usual, spread float64
	of            []*float64 // what it sets, one or more
	slope         func(m *moments) float64
}

// moments are what d(-2 ln likelihood) / d ln of each hyperparameter comes to:
// twice the sum of 1 - E u^2 over the unknowns that it scales (Fisher's identity).
type moments struct{ strength, k, s, scale, offset, bent float64 }

// outers lists the hyperparameters that the readings may speak of, of h. Colours
// cannot tell absorption that strays from scattering that does.
func (p *problem) outers(h *hyperparameters) []outer {
	u := &usualHyper
	out := []outer{{u.strength, 0.7, []*float64{&h.strength}, func(m *moments) float64 { return m.strength }}}
	if !p.bySpectra {
		return append(out, outer{u.k, 1, []*float64{&h.k, &h.s}, func(m *moments) float64 { return m.k + m.s }})
	}
	return append(out,
		outer{u.k, 1, []*float64{&h.k}, func(m *moments) float64 { return m.k }},
		outer{u.s, 1, []*float64{&h.s}, func(m *moments) float64 { return m.s }},
		outer{u.scale, 0.7, []*float64{&h.scale}, func(m *moments) float64 { return m.scale }},
		outer{u.offset, 0.7, []*float64{&h.offset}, func(m *moments) float64 { return m.offset }})
}

// learnHyper sets the hyperparameters to what makes the readings most likely, and
// moves x to the optimum there. The likelihood is Laplace's over curves and all
// that is the castings' own: their deviations at the optimum would claim too much,
// since a curve runs smoothest at some wrong loading (errors in variables; Carroll
// et al., Measurement Error in Nonlinear Models, 2006). Chips that may be wrong on
// record have no say in it, or one slip would pass for scatter.
func (p *problem) learnHyper(ctx context.Context, x state, sys *system) error {
	trust, err := p.downweight(x, sys)
	if err != nil {
		return err
	}
	now := p.hyper
	outers := p.outers(&now)
	start := make([]float64, len(outers))
	for i, o := range outers {
		start[i] = math.Log(*o.of[0])
	}
	best, bestHyper := math.Inf(1), p.hyper
	var bestX state
	var slope []float64
	var at []float64
	var value float64
	var failed error
	evaluate := func(ln []float64) {
		if at != nil && same(at, ln) {
			return
		}
		at = append(at[:0], ln...)
		prior := 0.0
		slope = make([]float64, len(ln))
		for i, o := range outers {
			beyond := (ln[i] - math.Log(o.usual)) / o.spread
			prior += beyond * beyond
			slope[i] = 2 * beyond / o.spread
			for _, v := range o.of {
				*v = math.Exp(inside(ln[i], -14, 1))
			}
		}
		p.setHyper(now, x)
		cost, _, err := p.converge(ctx, x, sys, 0.1, 15)
		if err == nil {
			err = p.inform(x, sys)
		}
		if err != nil {
			failed, value = err, math.Inf(1)
			return
		}
		value = cost + p.room(sys) + prior
		m := p.moments(x, sys)
		for i, o := range outers {
			slope[i] += o.slope(&m)
		}
		if value < best {
			best, bestHyper, bestX = value, now, append(bestX[:0], x...)
		}
	}
	_, err = optimize.Minimize(optimize.Problem{
		Func: func(ln []float64) float64 { evaluate(ln); return value },
		Grad: func(g, ln []float64) { evaluate(ln); copy(g, slope) },
	}, start, &optimize.Settings{
		MajorIterations: 12, FuncEvaluations: 25,
		Converger: &optimize.FunctionConverge{Absolute: 0.3, Iterations: 2},
	}, &optimize.BFGS{})
	if bestX == nil {
		if failed != nil {
			return failed
		}
		return err
	}
	// a line search that ends in the noise of the likelihood ends near enough
	for i := range p.readings {
		p.readings[i].trust = trust[i]
	}
	p.setHyper(bestHyper, x)
	copy(x, bestX)
	_, _, err = p.converge(ctx, x, sys, 0.1, 15)
	return err
}

func same(a, b []float64) bool {
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

// moments sums up what the castings' own unknowns are, where sys is informed at x.
func (p *problem) moments(x state, sys *system) (m moments) {
	for i := range p.castings {
		c, l := &p.castings[i], &sys.linear[i]
		left := l.ownLeft(x[p.n+c.from : p.n+c.to])
		first := &p.readings[c.readings[0]]
		for k, e := range first.border {
			if e < 0 || first.loadingSD[k] == 0 {
				continue
			}
			share := p.hyper.strength * first.loading[k] / first.loadingSD[k]
			m.strength += share * share * left[e-c.from]
		}
		for w := range discrepancyWaves {
			m.k += left[first.waves-c.from+w]
			m.s += left[first.waves-c.from+discrepancyWaves+w]
		}
		for _, k := range c.readings {
			if r := &p.readings[k]; r.off >= 0 {
				m.scale += left[r.off-c.from]
				m.offset += left[r.off-c.from+1]
			}
		}
	}
	return m
}

// ownLeft returns 2 (1 - E u^2) of each of the casting's own unknowns u.
func (l *linear) ownLeft(u []float64) []float64 {
	n, own := l.n, l.own.Cols
	mu := blas64.General{Rows: n, Cols: own, Stride: own, Data: make([]float64, n*own)}
	blas64.Symm(blas.Left, 1, l.m, l.own, 0, mu)
	dmu := blas64.General{Rows: n, Cols: own, Stride: own, Data: make([]float64, n*own)}
	blas64.Gemm(blas.NoTrans, blas.NoTrans, 1, blas64.General{Rows: n, Cols: n, Stride: n, Data: l.spread}, mu, 0, dmu)
	out := make([]float64, own)
	for i := range n {
		for k := range own {
			// 1 - var u = U'MU - U'M D M U
			out[k] += mu.Data[i*own+k] * (l.own.Data[i*own+k] - dmu.Data[i*own+k])
		}
	}
	for k, v := range u {
		out[k] = 2 * (out[k] - v*v)
	}
	return out
}
