package layer

import (
	"math"

	"masstone/color"
)

// KubelkaMunk is the two-flux layer under Saunderson's surface. K1 is the share
// of the light reflected at the surface on its way in, K2 the share of the
// diffuse light inside reflected back in; both 0 <= k < 1. For n near 1.5 the
// usual pair is 0.04 and 0.60.
type KubelkaMunk struct {
	K1, K2 float64
}

// NewKubelkaMunk returns the layer with the usual surface pair for n near 1.5,
// k1 = 0.04 (Fresnel, normal incidence) and k2 = 0.60 (Fresnel, diffuse light
// from inside, 0.596; Judd, J. Res. NBS 29, 329 (1942)).
func NewKubelkaMunk() KubelkaMunk { return KubelkaMunk{K1: 0.04, K2: 0.60} }

// Name says the model in reports.
func (m KubelkaMunk) Name() string { return "Kubelka-Munk" }

// Bands fills out for every band by (1)-(4) of the package text.
func (m KubelkaMunk) Bands(k, s *[color.Bands]float64, thicknessMM float64, backing *[color.Bands]float64, specular color.Specular, out *Partials) {
	mirror := m.K1
	if specular == color.SpecularExcluded {
		mirror = 0
	}
	in := (1 - m.K1) * (1 - m.K2)
	x := within(thicknessMM, thickest)
	var z [color.Bands]float64
	for i := range z {
		k, s := notNegative(k[i]), notNegative(s[i])
		z[i] = min(deep, x*math.Sqrt(k*(k+2*s)))
	}
	for i := range z { // apart, so that no other value waits out the calls
		z[i] = math.Exp(-2 * z[i])
	}
	for i := range z {
		r, dk, ds, dx, dg := twoFlux(notNegative(k[i]), notNegative(s[i]), x, within(backing[i], 1), z[i])
		t := 1 / (1 - m.K2*r)
		out.R[i] = mirror + in*r*t // (4)
		d := in * t * t
		out.DK[i], out.DS[i], out.DX[i], out.DG[i] = d*dk, d*ds, d*dx, d*dg
	}
}

func notNegative(v float64) float64 {
	if v < 0 {
		return 0
	}
	return v
}

// within holds v in 0..top.
func within(v, top float64) float64 {
	if v > top {
		return top
	}
	return notNegative(v)
}

// SurfacePartials returns how the measured reflectance factor r, as Bands
// answers it, changes with k1 and with k2.
func (m KubelkaMunk) SurfacePartials(r float64, specular color.Specular) (dK1, dK2 float64) {
	mirror, lost := m.K1, 1.0
	if specular == color.SpecularExcluded {
		mirror, lost = 0, 0
	}
	out := (r - mirror) / (1 - m.K1)           // (1-k2) R / (1-k2 R)
	inner := out / (1 - m.K2 + m.K2*out)       // R, (4) turned round
	back := (1 - m.K2 + m.K2*out) / (1 - m.K2) // 1 / (1-k2 R)
	return lost - out, -(1 - m.K1) * inner * (1 - inner) * back * back
}

// InternalReflectance is the Kubelka-Munk reflectance (2) of a layer seen from
// inside the resin, without any surface. Units and limits as for Layer.
func InternalReflectance(k, s, thicknessMM, backing float64) float64 {
	k, s = notNegative(k), notNegative(s)
	x := within(thicknessMM, thickest)
	e := math.Exp(-2 * min(deep, x*math.Sqrt(k*(k+2*s))))
	r, _, _, _, _ := twoFlux(k, s, x, within(backing, 1), e)
	return r
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
