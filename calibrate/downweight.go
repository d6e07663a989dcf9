package calibrate

import (
	"context"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"masstone/color"
)

// countSuspicious counts the chips of suspicious size.
func countSuspicious(sizes []float64) int {
	n := 0
	for _, v := range sizes {
		if v >= suspiciousSize {
			n++
		}
	}
	return n
}

// sizes returns for each chip how far its reading lies outside what the others
// claim, in standard deviations of equal rarity: against the fit without the
// chip, or against the fit with it where the others leave it open. A chip
// found wrong already has size 0.
func (p *problem) sizes(x state, left []leftOut) []float64 {
	var w workspace
	p.expand(x, &w)
	square := make([]float64, len(left))
	var usual []float64
	for i, l := range left {
		r := &p.readings[i]
		if r.found() {
			continue
		}
		if l.Vague {
			square[i] = p.misfit(r, x, &w)
			continue
		}
		var chol mat.Cholesky
		if !chol.Factorize(l.Cov) {
			continue
		}
		miss := mat.NewVecDense(len(l.Miss), slices.Clone(l.Miss))
		var y mat.VecDense
		if err := chol.SolveVecTo(&y, miss); err != nil && !isCondition(err) {
			continue
		}
		square[i] = mat.Dot(miss, &y)
		usual = append(usual, square[i]/float64(len(l.Miss)))
	}
	// A mistake inflates the noise that the fit learns, and a shop may be noisier
	// than it has learnt so far: go by the quieter chips.
	noise := 1.0
	if len(usual) >= 4 {
		slices.Sort(usual)
		noise = usual[len(usual)*3/8]
	}
	out := make([]float64, len(left))
	for i, l := range left {
		if !p.readings[i].found() {
			out[i] = rarity(square[i]/noise, float64(len(l.Miss)))
		}
	}
	return out
}

// strained reports whether pigment q has to scatter in a way pigments hardly
// do: two chips of a pigment that disagree can still both be met by a curve
// rough enough.
func (p *problem) strained(x state, q int) bool {
	var v, g [color.Bands]float64
	return p.curvePenalty(2*q+1, x, &v, &g) > 1.3*color.Bands
}

// downweight gives chips that may be wrong downweightTrust, and returns the trust all
// had. A mistake is about one pigment or two; where chips of more are in doubt,
// it is not mistakes that make them so.
func (p *problem) downweight(x state, sys *system) (trust []float64, err error) {
	left, err := p.leaveOut(x, sys)
	if err != nil {
		return nil, err
	}
	about := p.chipGroups().about
	var doubted []int
	pigments := map[int]bool{}
	for i, size := range p.sizes(x, left) {
		trust = append(trust, p.readings[i].trust)
		if size >= suspiciousSize || about[i] > 0 && p.strained(x, about[i]) {
			doubted = append(doubted, i)
			pigments[about[i]] = true
		}
	}
	if len(pigments) > 3 {
		return trust, nil
	}
	for _, i := range doubted {
		r := &p.readings[i]
		r.trust = math.Min(r.trust, downweightTrust)
	}
	return trust, nil
}

// found reports whether the chip has been found wrong.
func (r *reading) found() bool { return r.trust < 1 || r.recorded != nil }

// downweightTrust is the trust in chips that are only to keep their curves roughly in
// place: as if their readings were 200 times as noisy.
const downweightTrust = 0.005

// downweighted returns the problem and its optimum with the given chips
// downweighted: what all the others say of the curves, their roughness and the
// noise.
func (p *problem) downweighted(ctx context.Context, x state, chips []int) (*problem, state, error) {
	q, _, err := p.withMistake(&mistake{}, x)
	if err != nil {
		return nil, nil, err
	}
	for _, i := range chips {
		q.readings[i].trust = downweightTrust
	}
	y, err := q.refit(ctx)
	if err != nil {
		return nil, nil, err
	}
	if err := q.learnHyper(ctx, y, q.system()); err != nil {
		return nil, nil, err
	}
	for i := range q.readings {
		q.readings[i].trust = p.readings[i].trust
	}
	return q, y, nil
}

// refit forgets what was learnt and returns the optimum found from scratch: a
// mistake leads curves, noise and surface astray, and from there no way may lead
// downhill to where they belong.
func (p *problem) refit(ctx context.Context) (state, error) {
	x := p.resetLearnt(straight)
	if err := p.anneal(ctx, x); err != nil {
		return nil, err
	}
	return x, p.tune(ctx, x, p.system())
}

// resetLearnt sets all that is learnt to what is usual, of how far things stray to h,
// and returns flat curves.
func (p *problem) resetLearnt(h hyperparameters) state {
	for k := range p.scale {
		p.scale[k] = 1
	}
	p.level = map[int]scatterLevel{}
	p.setPriors()
	p.noise = p.usual
	x := p.flat()
	p.setHyper(h, x)
	return x
}

// withMistake returns the problem with its chips as m has them, and x carried over.
func (p *problem) withMistake(m *mistake, x state) (*problem, state, error) {
	chips := make([]Chip, len(p.readings))
	for i := range chips {
		chips[i] = m.chip(p, i)
	}
	q, err := newProblem(p.pigments, chips, p.layer, p.surface, p.usual)
	if err != nil {
		return nil, nil, err
	}
	q.noise, q.openStrength = p.noise, p.openStrength
	q.level = maps.Clone(p.level)
	copy(q.scale, p.scale)
	q.setPriors()
	y := q.flat()
	q.setHyper(p.hyper, y)
	copy(y[:p.start[p.curves]], x)
	copyShared(q, y, p, x)
	for i := range q.readings {
		r, old := &q.readings[i], &p.readings[i]
		r.trust, r.recorded = old.trust, old.recorded
		if slices.Contains(m.chips, i) {
			if m.cause == Unexplained {
				r.trust = outlierTrust
			} else {
				r.trust = 1
				if r.recorded == nil {
					r.recorded = old.chip
				}
			}
			continue // what was thought of its weighing no longer holds
		}
		carryOwn(q, r, y, p, old, x)
	}
	return q, y, nil
}

// asOnRecord returns the problem with its chips as they were recorded, none found
// wrong, and x carried over.
func (p *problem) asOnRecord(x state) (*problem, state, error) {
	of, m := *p, &mistake{}
	of.readings = slices.Clone(p.readings)
	for i := range of.readings {
		if r := &of.readings[i]; r.found() {
			m.chips = append(m.chips, i)
			if r.recorded != nil {
				r.chip = r.recorded
			}
		}
	}
	q, y, err := of.withMistake(m, x)
	if err != nil {
		return nil, nil, err
	}
	for _, i := range m.chips {
		q.readings[i].recorded = nil
	}
	return q, y, nil
}

// carryOwn sets what a reading's own unknowns are from the same in another
// problem.
func carryOwn(to *problem, r *reading, y state, from *problem, old *reading, x state) {
	for k, e := range r.border {
		if e >= 0 {
			y[to.n+e] = x[from.n+old.border[k]]
		}
	}
	if r.thick >= 0 {
		y[to.n+r.thick] = x[from.n+old.thick]
	}
	copy(y[to.n+r.waves:][:2*errorWaves], x[from.n+old.waves:])
	if r.off >= 0 {
		copy(y[to.n+r.off:][:2], x[from.n+old.off:])
	}
}

// copyShared sets what all castings share from another problem, whose layer model
// may be another.
func copyShared(to *problem, y state, from *problem, x state) {
	y[to.crowd], y[to.loss] = x[from.crowd], x[from.loss]
	if to.k1 >= 0 && from.k1 >= 0 {
		y[to.k1], y[to.k2] = x[from.k1], x[from.k2]
	}
}

// asRecorded returns the reading as its chip was recorded, taken as exact.
func (p *problem) asRecorded(r *reading) reading {
	c := r.recorded
	out := reading{chip: c, trust: 1, open: r.open, thick: -1, waves: -1, off: -1, weights: r.weights, thickness: float64(c.Thickness), backing: c.Backing, narrow: c.narrow}
	out.add(0, 1, 0)
	for _, code := range c.pigments() {
		out.add(1+slices.Index(p.pigments, code), float64(c.Loadings[code]), 0)
	}
	return out
}

// record sets what the fit, which takes the chip for another, says of it as
// recorded. sys is factored at x.
func (p *problem) record(r *reading, x state, sys *system) leftOut {
	as := p.asRecorded(r)
	var l linear
	var w workspace
	p.expand(x, &w)
	p.jacobian(&l, []*reading{&as}, 0, 0, x, &w)
	unit := p.unit(&as)
	out := leftOut{Cov: sys.spreadOf(&l)}
	out.Cov.ScaleSym(unit*unit, out.Cov)
	for k, v := range l.miss {
		out.Miss = append(out.Miss, -v*unit)
		out.Cov.SetSym(k, k, out.Cov.At(k, k)+unit*unit)
		if out.Cov.At(k, k) > vague*vague*unit*unit {
			out.Vague = true
		}
	}
	return out
}
