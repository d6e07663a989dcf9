package calibrate

import (
	"math"

	"masstone/calibrate/layer"
	"masstone/color"
)

// K and S of a casting are those of the law of mixing (Law), times exp(d_K) and
// exp(d_S), its discrepancies. Light that scatters past what the instrument sees is
// lost as if absorbed: mu_a + c / (mu_s' r^2), r the radius of what it sees. What is lost
// past the aperture of most chips is in the curves, so past another
//
//	K' = K + D, D = 3/2 l / (S + 1/X), or of D < 0  K' = K^2 / (K - D)   (2)
//
// with l = c (1/r^2 - 1/r0^2), K twice mu_a and S three quarters of mu_s' (layer.go (7)),
// and no further than the thickness X. All that is lost, counted beside the curves, would
// have to follow this law exactly: invented shops that lose by another, or nothing, came
// out up to 2.6 times as far off.

// workspace holds what evaluating one chip needs, so that the loops over chips
// allocate nothing.
type workspace struct {
	layer    layer.Layer // with the surface constants of x
	all      []float64   // K and S of every curve, in the problem's order
	power    []float64   // exponent of every curve
	crowd    float64
	lost     float64
	k, s     [color.Bands]float64
	ki, si   [][color.Bands]float64 // what each component brings to K and S
	answers  []float64              // per component, d ln of what it brings / d loading
	traces   []float64              // per component, ln(c + least): d ln of what it brings / d p
	total    float64
	partials layer.Partials
	spill    [color.Bands]float64 // d K' / d l
	lab      [3]float64
	jac      [3][color.Bands]float64
	jacs     [][3][color.Bands]float64 // of each light
}

// expand sets K, S and exponent of every curve at x.
func (p *problem) expand(x state, w *workspace) {
	if len(w.all) != p.n {
		w.all, w.power = make([]float64, p.n), make([]float64, p.curves)
	}
	for q := range p.curves {
		from := p.start[q]
		for i := from; i < from+perCurve; i++ {
			w.all[i] = math.Exp(x[i])
		}
		if w.power[q] = 1; q > 0 {
			w.power[q] = p.hyper.exponent(x[from+perCurve])
		}
	}
	w.crowd = p.hyper.crowding(x[p.crowd])
	w.lost = p.hyper.lost(x[p.loss])
	w.layer = p.layerAt(x)
}

// mix sets K and S of the chip at x, after expand.
func (p *problem) mix(r *reading, x state, w *workspace) (thickness float64) {
	for len(w.ki) < len(r.curve) {
		w.ki = append(w.ki, [color.Bands]float64{})
		w.si = append(w.si, [color.Bands]float64{})
		w.answers, w.traces = append(w.answers, 0), append(w.traces, 0)
	}
	var dk, ds [color.Bands]float64
	missed := r.waves >= 0 && (p.hyper.k > 0 || p.hyper.s > 0)
	if missed {
		z := x[p.n+r.waves:]
		for i, wave := range waves60() {
			zk, zs := p.hyper.k*z[i], p.hyper.s*z[errorWaves+i]
			for b, v := range wave {
				dk[b] += zk * v
				ds[b] += zs * v
			}
		}
		for b := range dk {
			dk[b], ds[b] = math.Exp(dk[b]), math.Exp(ds[b])
		}
	}
	w.k, w.s = [color.Bands]float64{}, [color.Bands]float64{}
	w.total = -1 // the resin's 1 is no loading
	for i := range r.curve {
		w.total += r.loadingAt(p, x, i)
	}
	room := 1 / (1 + w.crowd*math.Max(w.total, 0))
	for i, q := range r.curve {
		c := r.loadingAt(p, x, i)
		g, slope := goes(c, w.power[q])
		w.answers[i] = slope / (g + tiny)
		if q == 0 {
			w.answers[i] = 0
		}
		w.traces[i] = math.Log(math.Max(c, 0) + least)
		at := p.start[q]
		for b := range color.Bands {
			k, s := g*w.all[at+b], g*room*w.all[at+color.Bands+b]
			if missed {
				k, s = k*dk[b], s*ds[b]
			}
			w.ki[i][b], w.si[i][b] = k, s
			w.k[b] += k
			w.s[b] += s
		}
	}
	for b := range color.Bands {
		// light cannot follow a loading below zero, nor answers to it there
		w.k[b] = math.Max(w.k[b], faintest)
		w.s[b] = math.Max(w.s[b], faintest)
	}
	thickness = r.thickness
	if r.thick >= 0 {
		thickness = math.Max(thickness+r.thicknessSD*x[p.n+r.thick], 0.01)
	}
	return thickness
}

// faintest is K and S per mm that pass for none.
const faintest = 1e-12

// loadingAt is what is in the cup of component i at x.
func (r *reading) loadingAt(p *problem, x state, i int) float64 {
	c := r.loading[i]
	if e := r.border[i]; e >= 0 {
		c += r.loadingSD[i] * x[p.n+e]
	}
	return c
}

// reflect sets the reflectance of the chip at x and its partials to the K and S
// that were mixed, after expand.
func (p *problem) reflect(r *reading, x state, w *workspace) {
	thickness := p.mix(r, x, w)
	spill(w.layer, &w.k, &w.s, thickness, w.lost*r.narrow, &r.backing, r.chip.Measurement.Specular, &w.partials, &w.spill)
	if r.off >= 0 && (p.hyper.scale > 0 || p.hyper.offset > 0) {
		f, o := 1+p.hyper.scale*x[p.n+r.off], p.hyper.offset*x[p.n+r.off+1]
		for b := range w.partials.R {
			w.partials.R[b] = w.partials.R[b]*f + o
		}
	}
}

// spill evaluates the layer with (2) and leaves partials to K, S and X as they
// were before it. slope is dR/dl.
func spill(l layer.Layer, k, s *[color.Bands]float64, thickness, lost float64, backing *[color.Bands]float64, specular color.Specular, out *layer.Partials, slope *[color.Bands]float64) {
	if lost == 0 {
		l.Bands(k, s, thickness, backing, specular, out)
		return
	}
	var more, per, by, from [color.Bands]float64 // K', d D / d l, d K' / d D, d K' / d K
	for b := range more {
		per[b] = 1.5 / (s[b] + 1/thickness)
		d := lost * per[b]
		more[b], by[b], from[b] = k[b]+d, 1, 1 // (2)
		if d < 0 {
			q := k[b] / (k[b] - d)
			more[b], by[b], from[b] = k[b]*q, q*q, 2*q-q*q
		}
	}
	l.Bands(&more, s, thickness, backing, specular, out)
	for b := range more {
		d := out.DK[b] * by[b]
		slope[b] = d * per[b]
		d *= lost * per[b] * per[b] / 1.5
		out.DK[b] *= from[b]
		out.DS[b] -= d
		out.DX[b] += d / (thickness * thickness)
	}
}

// tiny keeps a loading that a wild step brought to nothing from being divided by.
const tiny = 1e-300
