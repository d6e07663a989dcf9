package layer

import (
	"fmt"
	"math"

	"masstone/color"
)

// Exact is the radiative transfer layer at the price of Kubelka-Munk: the three
// functions of a layer that a Lambertian backing needs, in a table built once
// and read with a smooth interpolant. Its partials are those of the interpolant.
// It is not changed after it is made and may be shared between goroutines.
type Exact struct {
	optics Optics
	mirror float64
	cells  []cell // thin cells of cloud 0, then of cloud 1, ...
}

// NewExact builds the layer for the d/8 instrument on a resin of refractive
// index n, 1 to 3, backing in optical contact, in about 0.1 s.
func NewExact(n float64) (*Exact, error) { return NewExactFor(DiffuseEight(n)) }

// NewExactFor builds the layer for other optics. The time goes with about the
// third power of the directions.
func NewExactFor(o Optics) (*Exact, error) {
	s, err := NewSlab(o)
	if err != nil {
		return nil, err
	}
	return &Exact{optics: o, mirror: s.d.surface[s.d.view], cells: tabulate(s)}, nil
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
	x := max(within(thicknessMM, thickest), thinnest)
	inverse := 1 / x
	var t [color.Bands]float64
	for i := range t {
		k, s := atLeast(faintest, k[i]), atLeast(faintest, s[i])
		t[i] = within(x*math.Sqrt(k*(2*s+0.25*k)), 2*deep)
	}
	for i := range t { // apart, so that no other value waits out the calls
		t[i] = math.Exp(-t[i])
	}
	var at [color.Bands]place
	for i := range at {
		at[i].locate(atLeast(faintest, k[i]), atLeast(faintest, s[i]), x, t[i])
	}
	for i := range at {
		p := &at[i]
		fu, fv := p.u*clouds, p.v*veils
		iu, iv := min(int(fu), clouds-1), min(int(fv), veils-1)
		r, ru, rv, dg := e.cells[iu*veils+iv].over(fu-float64(iu), fv-float64(iv), p.v, within(backing[i], 1))
		dk, ds := ru*p.uk+rv*p.vk, ru*p.us+rv*p.vs
		out.R[i] = mirror + r
		out.DK[i], out.DS[i] = dk, ds
		out.DX[i] = (k[i]*dk + s[i]*ds) * inverse // the layer knows K X and S X only
		out.DG[i] = dg
	}
}

const (
	thinnest = 1e-9  // mm that stand for no thickness
	faintest = 1e-12 // per mm that stand for no absorption or scattering
)

func atLeast(least, v float64) float64 {
	if v < least {
		return least
	}
	return v
}
