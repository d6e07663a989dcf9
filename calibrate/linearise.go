package calibrate

import (
	"math"

	"masstone/calibrate/layer"
	"masstone/calibrate/minimize"
	"masstone/color"
)

// A state is a point of the fit: x holds ln K and ln S of every curve in the
// problem's order, then the border unknowns in units of their standard
// deviation.
type state []float64

// workspace holds what evaluating one chip needs, so that the loops over
// chips allocate nothing.
type workspace struct {
	layer    layer.Layer // with the surface constants of x
	all      []float64   // K and S of every curve, in the problem's order
	k, s     [color.Bands]float64
	ki, si   [][color.Bands]float64 // per component
	partials layer.Partials
	lab      [3]float64
	jac      [3][color.Bands]float64
}

// expand sets K and S of every curve at x.
func (p *problem) expand(x state, w *workspace) {
	if w.all == nil {
		w.all = make([]float64, p.n)
	}
	for i := range w.all {
		w.all[i] = math.Exp(x[i])
	}
	w.layer = p.layerAt(x)
}

// mix sets K and S of the chip at x, after expand.
func (p *problem) mix(r *reading, x state, w *workspace) (thickness float64) {
	for len(w.ki) < len(r.curve) {
		w.ki = append(w.ki, [color.Bands]float64{})
		w.si = append(w.si, [color.Bands]float64{})
	}
	w.k, w.s = [color.Bands]float64{}, [color.Bands]float64{}
	for i, q := range r.curve {
		c := r.loading[i]
		if r.border[i] >= 0 {
			c += r.loadingSD[i] * x[p.n+r.border[i]]
		}
		for b := range color.Bands {
			k, s := w.all[p.unknown(q, false, b)], w.all[p.unknown(q, true, b)]
			w.ki[i][b], w.si[i][b] = k, s
			w.k[b] += c * k
			w.s[b] += c * s
		}
	}
	for b := range color.Bands {
		// a loading may be pulled below zero by a wild step; light cannot
		w.k[b] = math.Max(w.k[b], 1e-12)
		w.s[b] = math.Max(w.s[b], 1e-12)
	}
	thickness = r.thickness
	if r.thick >= 0 {
		thickness = math.Max(thickness+float64(r.chip.ThicknessSD)*x[p.n+r.thick], 0.01)
	}
	return thickness
}

// cost returns -2 ln(posterior) at x up to a constant: squared whitened
// residuals, the prior's penalty and the border unknowns squared.
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
	thickness := p.mix(r, x, w)
	w.layer.Bands(&w.k, &w.s, thickness, &r.backing, r.chip.Measurement.Specular, &w.partials)
	sum := 0.0
	if r.chip.Spectrum != nil {
		for b, m := range r.chip.Spectrum {
			d := (w.partials.R[b] - m) / p.noise.SpectrumSD
			sum += d * d
		}
		return sum * r.trust * r.trust
	}
	for j, weights := range r.weights {
		lab := weights.Lab((*color.Reflectance)(&w.partials.R))
		m := r.chip.Labs[j]
		for _, d := range [3]float64{lab.L - m.L, lab.A - m.A, lab.B - m.B} {
			d /= p.noise.LabSD
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
	for _, u := range x[p.n:] {
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

// linearise fills the normal equations and the descent direction g = -half
// the gradient of cost at x, and returns cost.
func (p *problem) linearise(x state, w *workspace, sys *minimize.Bordered, g []float64) float64 {
	p.expand(x, w)
	sys.Zero()
	clear(g)
	total := 0.0
	var v, pv [color.Bands]float64
	for k := range p.prec {
		total += p.curvePenalty(k, x, &v, &pv)
		q, scatter := k/2, k%2 == 1
		for b := range color.Bands {
			i := p.unknown(q, scatter, b)
			g[i] -= pv[b]
			sys.AddBand(i, i, p.prec[k][0][b])
			if b >= 1 {
				sys.AddBand(i, p.unknown(q, scatter, b-1), p.prec[k][1][b])
			}
			if b >= 2 {
				sys.AddBand(i, p.unknown(q, scatter, b-2), p.prec[k][2][b])
			}
		}
	}
	for e, u := range x[p.n:] {
		total += u * u
		g[p.n+e] -= u
		sys.AddCorner(e, e, 1)
	}
	for i := range p.readings {
		r := &p.readings[i]
		thickness := p.mix(r, x, w)
		w.layer.Bands(&w.k, &w.s, thickness, &r.backing, r.chip.Measurement.Specular, &w.partials)
		if r.chip.Spectrum != nil {
			total += p.addSpectrum(r, x, w, sys, g)
		} else {
			total += p.addColours(r, x, w, sys, g)
		}
	}
	return total
}

// entry is one derivative of a band's reflectance factor.
type entry struct {
	at    int // unknown, or border unknown
	value float64
}

// gradient lists the derivatives of band b's reflectance factor with respect
// to the local unknowns (local) and the border unknowns (border).
func (p *problem) gradient(r *reading, x state, w *workspace, b int, local, border []entry) ([]entry, []entry) {
	local, border = local[:0], border[:0]
	rk, rs := w.partials.DK[b], w.partials.DS[b]
	for i, q := range r.curve {
		c := r.loading[i]
		if r.border[i] >= 0 {
			c += r.loadingSD[i] * x[p.n+r.border[i]]
			border = append(border, entry{r.border[i], r.loadingSD[i] * (rk*w.ki[i][b] + rs*w.si[i][b])})
		}
		local = append(local,
			entry{p.unknown(q, false, b), rk * c * w.ki[i][b]},
			entry{p.unknown(q, true, b), rs * c * w.si[i][b]})
	}
	if p.k1 >= 0 {
		d1, d2 := w.layer.(layer.KubelkaMunk).SurfacePartials(w.partials.R[b], r.chip.Measurement.Specular)
		border = append(border, entry{p.k1, p.surface.K1SD * d1}, entry{p.k2, p.surface.K2SD * d2})
	}
	if r.thick >= 0 {
		border = append(border, entry{r.thick, float64(r.chip.ThicknessSD) * w.partials.DX[b]})
	}
	return local, border
}

func (p *problem) addSpectrum(r *reading, x state, w *workspace, sys *minimize.Bordered, g []float64) float64 {
	var localArr [40]entry
	var borderArr [20]entry
	local, border := localArr[:0], borderArr[:0]
	scale := r.trust / p.noise.SpectrumSD
	total := 0.0
	for b, m := range r.chip.Spectrum {
		local, border = p.gradient(r, x, w, b, local, border)
		res := (w.partials.R[b] - m) * scale
		total += res * res
		for i, u := range local {
			d := u.value * scale
			g[u.at] -= d * res
			for _, v := range local[:i+1] {
				lo, hi := v.at, u.at
				if lo > hi {
					lo, hi = hi, lo
				}
				sys.AddBand(hi, lo, d*v.value*scale)
			}
			for _, v := range border {
				sys.AddBorder(u.at, v.at, d*v.value*scale)
			}
		}
		for i, u := range border {
			d := u.value * scale
			g[p.n+u.at] -= d * res
			for _, v := range border[:i+1] {
				sys.AddCorner(max(u.at, v.at), min(u.at, v.at), d*v.value*scale)
			}
		}
	}
	return total
}

func (p *problem) addColours(r *reading, x state, w *workspace, sys *minimize.Bordered, g []float64) float64 {
	var localArr [40]entry
	var borderArr [20]entry
	local, border := localArr[:0], borderArr[:0]
	scale := r.trust / p.noise.LabSD
	total := 0.0
	for j, weights := range r.weights {
		weights.LabWithJacobian((*color.Reflectance)(&w.partials.R), &w.lab, &w.jac)
		m := r.chip.Labs[j]
		measured := [3]float64{m.L, m.A, m.B}
		for b := range color.Bands {
			local, border = p.gradient(r, x, w, b, local, border)
			for t := range 3 {
				row := sys.Row(r.firstRow + 3*j + t)
				d := w.jac[t][b] * scale
				for _, u := range local {
					row[u.at] += d * u.value
				}
				for _, u := range border {
					row[p.n+u.at] += d * u.value
				}
			}
		}
		for t := range 3 {
			res := (w.lab[t] - measured[t]) * scale
			total += res * res
			for i, v := range sys.Row(r.firstRow + 3*j + t) {
				if v != 0 {
					g[i] -= v * res
				}
			}
		}
	}
	return total
}
