package calibrate

import (
	"context"
	"math"
	"runtime"
	"slices"

	"golang.org/x/sync/errgroup"
	"gonum.org/v1/gonum/mat"

	"masstone/color"
)

// compareMistakes sets the gain of every mistake: the fall of -2 ln evidence,
// against no mistake, of the chips in its scope alone, a fit so small that dozens
// take no longer than one of all chips. x is the optimum of p with the chips in
// doubt all but left out.
func (p *problem) compareMistakes(ctx context.Context, x state, all []*mistake) error {
	var none []*mistake // one per scope
	without := func(m *mistake) *mistake {
		for _, o := range none {
			if slices.Equal(o.scope, m.scope) {
				return o
			}
		}
		return nil
	}
	for _, m := range all {
		if without(m) == nil {
			none = append(none, &mistake{scope: m.scope})
		}
	}
	try := func(jobs []*mistake) error {
		var group errgroup.Group
		group.SetLimit(runtime.GOMAXPROCS(0))
		for _, m := range jobs {
			group.Go(func() (err error) {
				if o := without(m); o != m { // what one chip is makes no difference to a rough fit
					m.rough = o.rough
				}
				m.gain, err = p.evidenceOf(ctx, x, m)
				return err
			})
		}
		return group.Wait()
	}
	if err := try(none); err != nil {
		return err
	}
	if err := try(all); err != nil {
		return err
	}
	for _, m := range all {
		m.gain = without(m).gain - m.gain
	}
	return nil
}

// evidenceOf returns -2 ln evidence of the chips in a mistake's scope; +Inf where
// no fit is found.
func (p *problem) evidenceOf(ctx context.Context, x state, m *mistake) (float64, error) {
	v, err := p.evidenceFrom(ctx, x, m, &m.rough[0])
	if err != nil || m.cause != "" && m.cause != SwappedChips {
		return v, err
	}
	// chips that contradict each other may be met in more than one way, and two
	// swaps that come to the same are to be told so
	other := *m
	flat, err := p.evidenceFrom(ctx, nil, &other, &m.rough[1])
	if flat < v {
		v = flat
		m.part, m.at = other.part, other.at
	}
	return v, err
}

// evidenceFrom is evidenceOf from the curves of x, or from flat ones where it is nil,
// by way of the rough fit, which it makes where there is none.
func (p *problem) evidenceFrom(ctx context.Context, x state, m *mistake, rough *state) (float64, error) {
	part, y, err := p.part(x, m.scope, m)
	if err != nil {
		return 0, err
	}
	sys := part.system()
	doubts := []float64{40, 10}
	if *rough != nil {
		copy(y[:part.n], *rough)
		doubts = doubts[1:]
	}
	for _, doubt := range doubts {
		part.noise = Noise{LabSD: p.noise.LabSD * doubt, SpectrumSD: p.noise.SpectrumSD * doubt}
		if _, _, err := part.converge(ctx, y, sys, 1, 12); err != nil {
			return math.Inf(1), ctx.Err()
		}
	}
	if *rough == nil {
		*rough = slices.Clone(y[:part.n])
	}
	part.noise = p.noise
	v, err := part.optimum(ctx, y, sys, 0.3, 30)
	if err != nil {
		return math.Inf(1), ctx.Err()
	}
	if m.cause == Unexplained {
		v += part.outlierCost(slices.Index(m.scope, m.chips[0]), y, sys)
	}
	m.part, m.at = part, y
	return v, nil
}

// part returns the problem of the chips in scope alone, as m has them, with the
// curves of x, or flat ones where it is nil, and all that was learnt of noise,
// roughness and scatter.
func (p *problem) part(x state, scope []int, m *mistake) (*problem, state, error) {
	have := make([]bool, p.curves)
	have[0] = true
	var chips []Chip
	for _, i := range scope {
		chips = append(chips, m.chip(p, i))
		for _, q := range p.readings[i].curve {
			have[q] = true
		}
	}
	var pigments []string
	for q := 1; q < p.curves; q++ {
		if have[q] {
			pigments = append(pigments, p.pigments[q-1])
		}
	}
	part, err := newProblem(pigments, chips, p.layer, p.surface, p.usual)
	if err != nil {
		return nil, nil, err
	}
	for k, q := range part.curvesOf(p) {
		part.scale[2*k], part.scale[2*k+1] = p.scale[2*q], p.scale[2*q+1]
		if v, ok := p.level[q]; ok {
			part.level[k] = v
		}
	}
	part.noise = p.noise
	part.setPriors()
	y := part.flat()
	part.setHyper(p.hyper, y)
	if x != nil {
		copyCurves(part, y, p, x)
	}
	for k, i := range scope {
		part.readings[k].trust = p.readings[i].trust
		if m.cause == Unexplained && slices.Contains(m.chips, i) {
			part.readings[k].trust = outlierTrust
		} else if slices.Contains(m.chips, i) {
			part.readings[k].trust = 1
		}
	}
	return part, y, nil
}

// outlierCost returns what to add to the -2 ln evidence at the optimum x, where chip
// i has outlierTrust and sys is factored, to make it that of a chip that nothing
// explains: one that reads as the others predict (residual r, covariance m, in
// units of its noise) but for an error that is smooth over the bands, or common
// to all lights, and one of each number by itself.
func (p *problem) outlierCost(i int, x state, sys *system) float64 {
	r := &p.readings[i]
	one := *r
	one.trust, one.recorded = 1, r.chip
	l := p.record(&one, x, sys)
	noise := p.unit(r)
	d := len(l.Miss)
	m := mat.NewSymDense(d, nil)
	m.ScaleSym(1/(noise*noise), l.Cov)
	for a := range d {
		for b := a; b < d; b++ {
			m.SetSym(a, b, m.At(a, b)+usualError*usualError*smoothError(a, b, d))
		}
	}
	miss := mat.NewVecDense(d, nil)
	downweightedCost := 0.0
	for k, v := range l.Miss {
		miss.SetVec(k, v/noise)
		downweightedCost += v * v / (noise * noise) * outlierTrust * outlierTrust
	}
	best := math.Inf(1)
	own := 0.0
	for _, size := range ownErrors {
		for k := range d {
			m.SetSym(k, k, m.At(k, k)+size*size-own*own)
		}
		own = size
		var chol mat.Cholesky
		var y mat.VecDense
		if !chol.Factorize(m) || chol.SolveVecTo(&y, miss) != nil {
			continue
		}
		best = math.Min(best, chol.LogDet()+mat.Dot(miss, &y))
	}
	return best + 2*math.Log(float64(len(ownErrors))) - downweightedCost - 2*float64(d)*math.Log(1/outlierTrust)
}

// The errors of a reading that nothing explains, in units of its noise. Common
// practice, no source.
const usualError = 30

var ownErrors = []float64{0, 3, 10, 30}

// smoothError is the covariance of the smooth part of an error: polynomials up
// to the fourth degree over the bands of a spectrum, each with variance 1 on
// average, or the same L*, a*, b* under all lights.
func smoothError(a, b, d int) float64 {
	if d != color.Bands {
		if a%3 == b%3 {
			return 1
		}
		return 0
	}
	x, y := float64(2*a)/(color.Bands-1)-1, float64(2*b)/(color.Bands-1)-1
	sum, px, qx, py, qy := 0.0, 1.0, 0.0, 1.0, 0.0 // Legendre
	for n := range 5 {
		k := float64(n)
		sum += (2*k + 1) / 5 * px * py
		px, qx = ((2*k+1)*x*px-k*qx)/(k+1), px
		py, qy = ((2*k+1)*y*py-k*qy)/(k+1), py
	}
	return sum
}

// curvesOf returns for each curve of a part its position in the whole.
func (p *problem) curvesOf(whole *problem) []int {
	out := []int{0}
	for _, code := range p.pigments {
		out = append(out, 1+slices.Index(whole.pigments, code))
	}
	return out
}

// copyCurves sets the curves and surface of a part from the whole.
func copyCurves(part *problem, y state, whole *problem, x state) {
	for k, q := range part.curvesOf(whole) {
		for b := range color.Bands {
			y[part.unknown(k, false, b)] = x[whole.unknown(q, false, b)]
			y[part.unknown(k, true, b)] = x[whole.unknown(q, true, b)]
		}
		if q > 0 {
			y[part.start[k]+perCurve] = x[whole.start[q]+perCurve]
		}
	}
	copyShared(part, y, whole, x)
}

// confirm fits all chips under each of the mistakes and sets p, x and all, +Inf where no
// fit is found. Chips that are taken as written are fitted from the curves as they were
// found, too.
func (p *problem) confirm(ctx context.Context, x, asFound state, tries []*mistake) error {
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0))
	for _, m := range tries {
		group.Go(func() error {
			v, sys, err := p.fitMistake(ctx, x, m)
			if noFit(err) {
				m.all = math.Inf(1)
				if m.cause == "" { // nothing to compare with
					return err
				}
				return nil
			}
			m.all = v + m.priorCost()
			if m.cause == Unexplained && err == nil {
				m.all += m.p.outlierCost(m.chips[0], m.x, sys)
			}
			if m.cause != "" || err != nil {
				return err
			}
			y := m.p.flat()
			copy(y[:p.n], asFound[:p.n])
			v, err = m.p.optimum(ctx, y, sys, 0.3, 30)
			m.all = math.Min(m.all, v)
			if noFit(err) { // but from the other start
				return nil
			}
			return err
		})
	}
	return group.Wait()
}

// fitMistake fits all chips under one mistake and sets its p and x. It returns the
// evidence there and the system factored for it.
func (p *problem) fitMistake(ctx context.Context, x state, m *mistake) (float64, *system, error) {
	q, y, err := p.withMistake(m, x)
	if err != nil {
		return 0, nil, err
	}
	if m.part != nil { // start from the curves found on the chips in its scope
		for k, c := range m.part.curvesOf(p) {
			for b := range color.Bands {
				y[q.unknown(c, false, b)] = m.at[m.part.unknown(k, false, b)]
				y[q.unknown(c, true, b)] = m.at[m.part.unknown(k, true, b)]
			}
		}
	}
	m.p, m.x = q, y
	sys := q.system()
	v, err := q.optimum(ctx, y, sys, 0.3, 30)
	return v, sys, err
}
