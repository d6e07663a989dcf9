package virtualshop

import (
	"math"
	"math/rand/v2"

	"masstone/calibrate"
	"masstone/calibrate/layer"
	"masstone/color"
)

// InOtherResin is the shop with its pastes in another resin: of another refractive
// index, surface, and colour of its own, in which each paste is stronger or weaker by
// chance, by 15 % (a standard deviation of the ln).
func (s *Shop) InOtherResin(rng *rand.Rand) *Shop {
	out := *s
	out.Name += ", other resin"
	between := func(lo, hi float64) float64 { return lo + rng.Float64()*(hi-lo) }
	switch s.Light.(type) {
	case TwoFlux:
		out.Light = TwoFlux{K1: between(0.035, 0.045), K2: between(0.55, 0.65)}
	case *layer.Slab:
		slab, err := layer.NewSlab(layer.Optics{Index: between(1.46, 1.54), Anisotropy: 0.6, Directions: 32, ViewDegrees: 8})
		if err != nil {
			panic(err) // the optics are in range
		}
		out.Light = slab
	}
	yellow, haze := between(0.5, 3), between(0.5, 3)
	for b := range color.Bands {
		blue := 1 - float64(b)/color.Bands
		out.Resin.K[b] *= math.Pow(yellow, 0.5+blue)
		out.Resin.S[b] *= haze
	}
	out.Pigments = append([]Curve(nil), s.Pigments...)
	for i := range out.Pigments {
		by := math.Exp(0.15 * rng.NormFloat64())
		p := &out.Pigments[i]
		for b := range color.Bands {
			p.K[b] *= by
			p.S[b] *= by
		}
	}
	return &out
}

// Check are the few chips that tell a resin whose pastes are known from another, of 4
// castings or 6: bare over white and black, the white, and one tint or two of each of
// two pastes in it.
func (s *Shop) Check(castings int, tints ...string) []calibrate.Chip {
	type mix = map[string]calibrate.PHR
	white := s.Codes[0]
	bare, dark := s.Chip("bare", mix{}), s.Chip("bare over black", mix{})
	dark.BackingName, dark.Backing = "black", s.Dark
	bare.Casting, dark.Casting = "bare", "bare"
	out := []calibrate.Chip{bare, dark, s.Chip(white, mix{white: s.Level})}
	for _, code := range tints {
		out = append(out, s.Chip(code+" tint", mix{white: s.Level, code: s.Level / 2}))
		if castings >= 6 {
			out = append(out, s.Chip(code+" light tint", mix{white: s.Level, code: s.Level / 8}))
		}
	}
	return out
}
