package layer

import (
	"math"

	"masstone/color"
)

// KubelkaMunk is the two-flux layer under Saunderson's surface. K1 is the share
// of the light reflected at the surface on its way in, K2 the share of the
// diffuse light inside reflected back in; both 0 <= k < 1.
type KubelkaMunk struct {
	K1, K2 float64
}

// NewKubelkaMunk returns the layer with the usual pair for n near 1.5, k1 = 0.04
// and k2 = 0.60 (Saunderson 1942; Judd 1942 has 0.596). Surface gives the pair of
// another index.
func NewKubelkaMunk() KubelkaMunk { return KubelkaMunk{K1: 0.04, K2: 0.60} }

// Name says the model in reports.
func (m KubelkaMunk) Name() string { return "Kubelka-Munk" }

// Bands fills out for every band by (2) to (4).
func (m KubelkaMunk) Bands(k, s *[color.Bands]float64, thicknessMM float64, backing *[color.Bands]float64, specular color.Specular, out *Partials) {
	mirror := m.K1
	if specular == color.SpecularExcluded {
		mirror = 0
	}
	in := (1 - m.K1) * (1 - m.K2)
	x := within(thicknessMM, thickest)
	var e [color.Bands]float64
	for i := range e {
		e[i] = path(notNegative(k[i]), notNegative(s[i]), x)
	}
	for i := range e { // apart, so that no other value waits out the calls
		e[i] = math.Exp(e[i])
	}
	for i := range e {
		r, dk, ds, dx, dg := twoFlux(notNegative(k[i]), notNegative(s[i]), x, within(backing[i], 1), e[i])
		t := 1 / (1 - m.K2*r)
		out.R[i] = mirror + in*r*t // (4)
		d := in * t * t
		out.DK[i], out.DS[i], out.DX[i], out.DG[i] = d*dk, d*ds, d*dx, d*dg
	}
}

// SurfacePartials returns how the measured reflectance factor r, as Bands
// answers it, changes with k1 and with k2.
func (m KubelkaMunk) SurfacePartials(r float64, specular color.Specular) (dK1, dK2 float64) {
	mirror, own := m.K1, 1.0
	if specular == color.SpecularExcluded {
		mirror, own = 0, 0
	}
	out := (r - mirror) / (1 - m.K1)           // (1-k2) R / (1-k2 R)
	inner := out / (1 - m.K2 + m.K2*out)       // R, (4) turned round
	back := (1 - m.K2 + m.K2*out) / (1 - m.K2) // 1 / (1-k2 R)
	return own - out, -(1 - m.K1) * inner * (1 - inner) * back * back
}

// InternalReflectance is the Kubelka-Munk reflectance (2) of a layer seen from
// inside the resin, without any surface. Units and limits as for Layer.
func InternalReflectance(k, s, thicknessMM, backing float64) float64 {
	k, s = notNegative(k), notNegative(s)
	x := within(thicknessMM, thickest)
	r, _, _, _, _ := twoFlux(k, s, x, within(backing, 1), math.Exp(path(k, s, x)))
	return r
}

// deep is the z = q X beyond which the far side of a layer is out of sight.
const deep = 40

// path is -2 q X, or as far as anything is in sight.
func path(k, s, x float64) float64 {
	return max(-2*deep, -2*x*math.Sqrt(k*(k+2*s)))
}

// twoFlux evaluates (2) and its partials for e = exp(-2 q X):
//
//	R = (S h + Rg (c - p h)) / (c + p h - Rg S h)
//	p = K + S, q^2 = K (K + 2S), c = cosh(q X), h = sinh(q X)/q
func twoFlux(k, s, x, g, e float64) (r, dk, ds, dx, dg float64) {
	p := k + s
	c, h, m, one, x := even(k*(k+2*s), x, e)
	den := 1 / (c + h*(k+s*(1-g)))    // c + p h - Rg S h, nothing cancels
	r = (g*c + h*(s*(1-g)-g*k)) * den // (2)
	dg = one * den * den
	// What the backing passes up the layer passes on: dR/dX at the top is the
	// differential equation (1) at the bottom, seen through dR/dRg.
	dx = dg * (s - g*(2*p-g*s))
	// d(q^2) = 2p dK + 2K dS, dc/d(q^2) = X h / 2.
	xh := 0.5 * x * h
	up := (s-g*p)*m + g*xh - r*((p-g*s)*m+xh)
	dk = (2*p*up - h*(g+r)) * den
	ds = (2*k*up + h*(1-g)*(1-r)) * den
	return
}

// even returns the even functions of z = q X that a layer is made of, for q^2, X
// and e = exp(-2 min(z, deep)). Written in these nothing divides by q, K, S or X
// where they vanish:
//
//	c   = cosh z; its derivative to q^2 is X h / 2
//	h   = sinh z / q
//	m   = the derivative of h to q^2
//	one = 1 = c^2 - q^2 h^2
//
// Once z is not small c, h and m are divided by e^z, and one by its square, so
// only ratios have a meaning. deepX is X, or what stands for it in a layer too
// deep to see through.
func even(q2, x, e float64) (c, h, m, one, deepX float64) {
	if v := q2 * x * x; v < 1.0/16 {
		c = 1 + v*(1./2+v*(1./24+v*(1./720+v*(1./40320+v*(1./3628800)))))
		h = x * (1 + v*(1./6+v*(1./120+v*(1./5040+v*(1./362880+v*(1./39916800))))))
		m = x * x * x * (1./6 + v*(1./60+v*(1./1680+v*(1./90720+v*(1./7983360+v*(1./1037836800))))))
		return c, h, m, 1, x
	}
	q := math.Sqrt(q2)
	inverse := 1 / q
	if q*x > deep {
		x = deep * inverse
	}
	c, h = 0.5+0.5*e, (0.5-0.5*e)*inverse
	return c, h, 0.5 * (x*c - h) * inverse * inverse, e, x
}
