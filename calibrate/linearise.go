package calibrate

import (
	"math"
	"runtime"
	"sync"

	"masstone/color"
)

// A state is a point of the fit, as the problem orders it.
type state []float64

// cost returns -2 ln(posterior) at x up to a constant: squared whitened
// residuals, the prior's penalty and the unknowns of unit variance squared.
func (p *problem) cost(x state, w *workspace) float64 {
	p.expand(x, w)
	sum := 0.0
	for i := range p.readings {
		sum += p.misfit(&p.readings[i], x, w)
	}
	return sum + p.penalty(x)
}

// misfit returns the squared whitened residual of one chip.
func (p *problem) misfit(r *reading, x state, w *workspace) float64 {
	p.reflect(r, x, w)
	sum, unit := 0.0, p.unit(r)
	if r.chip.Spectrum != nil {
		for b, m := range r.chip.Spectrum {
			d := (w.partials.R[b] - m) / unit
			sum += d * d
		}
		return sum * r.trust * r.trust
	}
	for j, weights := range r.weights {
		lab := weights.Lab((*color.Reflectance)(&w.partials.R))
		m := r.chip.Labs[j]
		for _, d := range [3]float64{lab.L - m.L, lab.A - m.A, lab.B - m.B} {
			d /= unit
			sum += d * d
		}
	}
	return sum * r.trust * r.trust
}

func (p *problem) penalty(x state) float64 {
	sum := 0.0
	var v, g [color.Bands]float64
	for k := range p.prec {
		sum += p.curvePenalty(k, x, &v, &g)
	}
	for q := 1; q < p.curves; q++ {
		e := x[p.start[q]+perCurve]
		sum += e * e
	}
	for _, u := range x[p.start[p.curves]:] {
		sum += u * u
	}
	return sum
}

// curvePenalty returns v' P v of curve and kind k, with v the deviation from
// the level and g = P v.
func (p *problem) curvePenalty(k int, x state, v, g *[color.Bands]float64) float64 {
	pr := &p.prec[k]
	for b := range v {
		v[b] = x[p.unknown(k/2, k%2 == 1, b)] - p.levels[k]
		g[b] = pr[0][b] * v[b]
	}
	for b := 1; b < color.Bands; b++ {
		g[b] += pr[1][b] * v[b-1]
		g[b-1] += pr[1][b] * v[b]
	}
	for b := 2; b < color.Bands; b++ {
		g[b] += pr[2][b] * v[b-2]
		g[b-2] += pr[2][b] * v[b]
	}
	sum := 0.0
	for b := range v {
		sum += v[b] * g[b]
	}
	return sum
}

// linearise sets what the normal equations of all that castings share are made of and
// the descent direction g = -half the gradient of cost at x, once each casting's own unknowns
// have settled, and returns cost.
func (p *problem) linearise(x state, sys *system, g []float64) float64 {
	p.expand(x, &sys.work)
	sys.byLocal, sys.filled = p.isLocal(), false
	clear(g)
	total := p.penalty(x)
	var v, pv [color.Bands]float64
	for k := range p.prec {
		p.curvePenalty(k, x, &v, &pv)
		q, first := k/2, k%2*color.Bands
		for b := range color.Bands {
			g[p.start[q]+first+b] -= pv[b]
		}
	}
	for q := 1; q < p.curves; q++ {
		g[p.start[q]+perCurve] -= x[p.start[q]+perCurve]
	}
	for k := range p.sharedCount() {
		g[p.start[p.curves]+k] -= x[p.start[p.curves]+k]
	}
	each(len(p.castings), func(i int) {
		c, l := &p.castings[i], &sys.linear[i]
		w := &l.work
		w.layer, w.all, w.power, w.crowd, w.lost = sys.work.layer, sys.work.all, sys.work.power, sys.work.crowd, sys.work.lost
		n := p.strays(c)
		p.jacobian(l, p.of(c), c.from, n, x, w)
		if !l.weigh(x[p.n+c.from : p.n+c.from+n]) {
			l.logDet = math.NaN()
		}
	})
	for i := range sys.linear {
		l := &sys.linear[i]
		for _, m := range l.miss {
			total += m * m
		}
		total += 0 * l.logDet
		l.all(func(c *columns) { l.pull(c, p.start[c.block], g) })
	}
	return total
}

// each calls do for 0..n-1, which must not touch each other's results, on every
// core.
func each(n int, do func(i int)) {
	workers := min(runtime.GOMAXPROCS(0), n/4)
	if workers < 2 {
		for i := range n {
			do(i)
		}
		return
	}
	var wait sync.WaitGroup
	for k := range workers {
		wait.Go(func() {
			for i := k; i < n; i += workers {
				do(i)
			}
		})
	}
	wait.Wait()
}
