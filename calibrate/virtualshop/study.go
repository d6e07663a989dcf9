package virtualshop

import (
	"math"
	"math/rand/v2"

	"masstone/calibrate"
)

// A Plan is a set of calibration chips; each holds those of the one before.
type Plan int

// The plans, with their chips for 12 pigments.
const (
	Tint    Plan = iota // masstone and half-level tint in the white: 26
	TwoTint             // and a tenth-level tint: 37
	Thin                // and a fifth of the level alone over the dark backing: 48
)

// Plans lists all plans.
func Plans() []Plan { return []Plan{Tint, TwoTint, Thin} }

// Study lists the chips of a plan, not yet cast. The white has four of its own:
// the level, twice and half of it, and the half also over the dark backing.
func (s *Shop) Study(p Plan) []calibrate.Chip {
	type mix = map[string]calibrate.PHR
	white := s.Codes[0]
	over := func(c calibrate.Chip) calibrate.Chip {
		c.BackingName, c.Backing = "black", s.Dark
		return c
	}
	chips := []calibrate.Chip{
		s.Chip(white+"-10", mix{white: s.Level}),
		s.Chip(white+"-20", mix{white: 2 * s.Level}),
		over(s.Chip(white+"-05b", mix{white: s.Level / 2})),
		s.Chip(white+"-05w", mix{white: s.Level / 2}),
	}
	for _, code := range s.Codes[1:] {
		chips = append(chips, s.Chip(code+"-mass", mix{code: s.Level}),
			s.Chip(code+"-t50", mix{white: s.Level, code: s.Level / 2}))
		if p >= TwoTint {
			chips = append(chips, s.Chip(code+"-t10", mix{white: s.Level, code: s.Level / 10}))
		}
		if p >= Thin {
			chips = append(chips, over(s.Chip(code+"-thin", mix{code: s.Level / 5})))
		}
	}
	return chips
}

// Mixtures draws n mixtures as a user may want them: the white from 0.3 to 2 of
// the level, and one to three of the others from a fiftieth of it up to all of
// it.
func (s *Shop) Mixtures(rng *rand.Rand, n int) []map[string]calibrate.PHR {
	out := make([]map[string]calibrate.PHR, n)
	for i := range out {
		mix := map[string]calibrate.PHR{s.Codes[0]: s.Level * calibrate.PHR(0.3+1.7*rng.Float64())}
		count := min(1+rng.IntN(3), len(s.Codes)-1)
		for _, k := range rng.Perm(len(s.Codes) - 1)[:count] {
			mix[s.Codes[k+1]] = s.Level * calibrate.PHR(math.Exp(rng.Float64()*math.Log(50))/50)
		}
		out[i] = mix
	}
	return out
}

// Evidence is how much an instrument tells of a chip.
type Evidence string

// The kinds of evidence.
const (
	OneLight    Evidence = "one Lab"
	ThreeLights Evidence = "three lights"
	Spectra     Evidence = "spectra"
)

// Evidences lists all kinds.
func Evidences() []Evidence { return []Evidence{OneLight, ThreeLights, Spectra} }

// Of keeps of each chip what such an instrument gives.
func (e Evidence) Of(chips []calibrate.Chip) []calibrate.Chip {
	out := append([]calibrate.Chip(nil), chips...)
	for i := range out {
		switch e {
		case OneLight:
			out[i].Labs, out[i].Spectrum = out[i].Labs[:1:1], nil
		case ThreeLights:
			out[i].Spectrum = nil
		}
	}
	return out
}
