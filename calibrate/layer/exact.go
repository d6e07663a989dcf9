package layer

import (
	"fmt"
	"math"

	"masstone/color"
)

// Exact is the radiative transfer layer at the price of Kubelka-Munk: the three
// functions of a layer that a Lambertian backing asks for, in a table made once
// and read with a smooth interpolant. Its partials are those of the interpolant.
// It never changes and may be shared between goroutines.
type Exact struct {
	optics Optics
	mirror float64
	cells  []cell // all of the first step in u, then of the second, ...
}

// NewExact makes the layer for the d/8 instrument on a resin of refractive index
// n, 1 to 3, backing in optical contact, in about 0.05 s.
func NewExact(n float64) (*Exact, error) { return NewExactFor(DiffuseEight(n)) }

// NewExactFor makes the layer for other optics.
func NewExactFor(o Optics) (*Exact, error) {
	s, err := NewSlab(o)
	if err != nil {
		return nil, err
	}
	return &Exact{optics: o, mirror: s.mirror(), cells: tabulate(s)}, nil
}

// Name says the model in reports, for example "exact layer, n 1.50".
func (e *Exact) Name() string {
	name := fmt.Sprintf("exact layer, n %.2f", e.optics.Index)
	if e.optics.Anisotropy != 0 {
		name += fmt.Sprintf(", g %.2f", e.optics.Anisotropy)
	}
	if e.optics.Gap {
		name += ", air gap"
	}
	return name
}

// Bands fills out for every band by (7) and (8).
func (e *Exact) Bands(k, s *[color.Bands]float64, thicknessMM float64, backing *[color.Bands]float64, specular color.Specular, out *Partials) {
	mirror := e.mirror
	if specular == color.SpecularExcluded {
		mirror = 0
	}
	x := atLeast(thinnest, within(thicknessMM, thickest))
	perX := 1 / x
	// Three short loops keep more of the processor busy than a long one.
	var z, t [color.Bands]float64
	for i := range z {
		z[i] = x * decay(atLeast(faintest, k[i]), atLeast(faintest, s[i]))
	}
	for i := range t {
		t[i] = math.Exp(-z[i])
	}
	var at [color.Bands]place
	for i := range at {
		at[i].locate(atLeast(faintest, k[i]), atLeast(faintest, s[i]), x, perX, z[i], t[i])
	}
	for i := range at {
		p := &at[i]
		u, v := p.u*clouds, p.v*veils
		iu, iv := min(int(u), clouds-1), min(int(v), veils-1)
		r, ru, rv, rg := e.cells[iu*veils+iv].over(u-float64(iu), v-float64(iv), p.v, within(backing[i], 1))
		dk, ds := ru*p.uk+rv*p.vk, ru*p.us+rv*p.vs
		out.R[i] = mirror + r
		out.DK[i], out.DS[i] = dk, ds
		out.DX[i] = (notNegative(k[i])*dk + notNegative(s[i])*ds) * perX // the layer knows K X and S X only
		out.DG[i] = rg
	}
}
