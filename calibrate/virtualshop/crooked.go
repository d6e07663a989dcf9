package virtualshop

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"

	"masstone/calibrate"
	"masstone/calibrate/layer"
	"masstone/color"
)

// Crooked is what keeps a shop from obeying its layer model. The zero value is
// a straight shop.
type Crooked struct {
	// Exponents are, by pigment, the powers p by which strength goes with the
	// loading: c^p in place of c, c in phr. nil for 1.
	Exponents []float64
	// Crowding per phr divides all scattering of pigments by 1 + it x the total.
	Crowding float64
	// ThicknessShare is how far a casting's thickness misses, a standard
	// deviation as a share of it, and SurfaceSD that of its surface, in
	// reflectance factor.
	ThicknessShare, SurfaceSD float64
	// Aperture is the radius in mm of what the instrument sees where no setting
	// states another, 0 where no light that scatters past it is lost.
	Aperture   float64
	Instrument Instrument
	// Drift is the instrument's since it read the chips: what parts are read with
	// besides.
	Drift Instrument
}

// Instrument is how an instrument is off: bands too long by ShiftNM, readings
// multiplied by 1 + Scale, and the share Stray of the light of all bands, told
// apart by none, in every one.
type Instrument struct{ ShiftNM, Scale, Stray float64 }

// strength is how far c phr of pigment i go.
func (w *Crooked) strength(i int, c float64) float64 {
	if w.Exponents == nil {
		return c
	}
	return math.Pow(c, w.Exponents[i])
}

// past is the share of light that is not lost past the aperture: of a layer of
// thickness x it leaves by (1 - d/2 / (d + r)), with the diffusion length
//
//	d = 1 / sqrt(3 mu_a (mu_a + mu_s')), at most x              (4)
func (w *Crooked) past(k, s, x float64, stated calibrate.ApertureMM) float64 {
	if w.Aperture <= 0 {
		return 1
	}
	r := cmp.Or(float64(stated), w.Aperture)
	absorbs, scatters := k/2, 4*s/3
	d := math.Min(1/math.Sqrt(3*absorbs*(absorbs+scatters)), x)
	return 1 - d/2/(d+r)
}

// read is what the instrument makes of a reflectance factor.
func (n Instrument) read(r color.Reflectance) color.Reflectance {
	if n == (Instrument{}) {
		return r
	}
	mean := 0.0
	for _, v := range r {
		mean += v / color.Bands
	}
	var out color.Reflectance
	share := math.Abs(n.ShiftNM) / color.StepNM
	for b := range r {
		next := b + 1
		if n.ShiftNM < 0 {
			next = b - 1
		}
		next = min(max(next, 0), color.Bands-1)
		v := (1-share)*r[b] + share*r[next]
		out[b] = (1 + n.Scale) * ((1-n.Stray)*v + n.Stray*mean)
	}
	return out
}

// Piece is one casting of a mixture of these loadings as the instrument that
// reads parts would read it without noise: portions, thickness and surface miss
// as they do in this shop.
func (s *Shop) Piece(rng *rand.Rand, loadings map[string]calibrate.PHR, in calibrate.Setting) color.Reflectance {
	cup := map[string]calibrate.PHR{}
	for _, code := range s.sorted(loadings) {
		cup[code] = loadings[code] * calibrate.PHR(s.portion(rng))
	}
	in.Thickness *= calibrate.ThicknessMM(s.thickness(rng))
	r := s.surface(rng, s.Reflectance(cup, in))
	return s.Crooked.Drift.read(s.Crooked.Instrument.read(r))
}

// portion is how many times as strong as usual one portion of paste is.
func (s *Shop) portion(rng *rand.Rand) float64 { return math.Exp(s.StrengthSD * rng.NormFloat64()) }

// thickness is how many times as thick as written one casting is.
func (s *Shop) thickness(rng *rand.Rand) float64 {
	if s.Crooked.ThicknessShare == 0 {
		return 1
	}
	return math.Max(1+s.Crooked.ThicknessShare*rng.NormFloat64(), 0.1)
}

func (s *Shop) surface(rng *rand.Rand, r color.Reflectance) color.Reflectance {
	if s.Crooked.SurfaceSD == 0 {
		return r
	}
	off := s.Crooked.SurfaceSD * rng.NormFloat64()
	for b := range r {
		r[b] = math.Max(r[b]+off, 0)
	}
	return r
}

// Warp is one way in which a shop is crooked.
type Warp string

// The ways, and all that a shop may have at once.
const (
	Pastes     Warp = "crooked pastes"
	Portions   Warp = "uneven portions"
	Thickness  Warp = "uneven thickness"
	Surfaces   Warp = "uneven surfaces"
	Aperture   Warp = "light lost past the aperture"
	OffReading Warp = "instrument off"
	Drifting   Warp = "instrument drifts"
)

// Warps lists all ways.
func Warps() []Warp {
	return []Warp{Pastes, Portions, Thickness, Surfaces, Aperture, OffReading, Drifting}
}

// Warped is the shop made crooked in some ways, by chance within what is usual.
func (s *Shop) Warped(rng *rand.Rand, warps ...Warp) *Shop {
	out := *s
	w := &out.Crooked
	between := func(lo, hi float64) float64 { return lo + rng.Float64()*(hi-lo) }
	for _, warp := range warps {
		out.Name += ", " + string(warp)
		switch warp {
		case Pastes:
			low := between(0.8, 1)
			w.Exponents = nil
			for range s.Codes {
				w.Exponents = append(w.Exponents, between(low, 1))
			}
			w.Crowding = between(0, 0.15)
		case Portions:
			out.StrengthSD = between(0.01, 0.06)
		case Thickness:
			w.ThicknessShare = between(0.01, 0.05)
		case Surfaces:
			w.SurfaceSD = between(0.001, 0.005)
		case Aperture:
			w.Aperture = between(3, 8)
		case OffReading:
			w.Instrument = Instrument{ShiftNM: between(-1.5, 1.5), Scale: between(-0.015, 0.015), Stray: between(0, 0.003)}
		case Drifting:
			w.Drift = Instrument{ShiftNM: between(-0.3, 0.3), Scale: between(-0.006, 0.006)}
		default:
			panic(fmt.Sprintf("no such warp: %q", warp)) // a mistake in the test
		}
	}
	return &out
}

// CrookedPastes is a shop on whose pastes no law of mixing holds: strength goes
// as c^p, p from 0.88 to 1 by pigment; all scattering is divided by 1 + 0.12 x
// the total phr; every portion is 4 % off in strength, every part 3 % off in
// thickness, every surface off by 0.003.
func CrookedPastes(world uint64, pigments int) *Shop {
	s := Painted(world, pigments)
	s.Name = fmt.Sprintf("crooked pastes %d", world)
	rng := rand.New(rand.NewPCG(world, 'E'))
	for range s.Codes {
		s.Crooked.Exponents = append(s.Crooked.Exponents, 0.88+0.12*rng.Float64())
	}
	s.Crooked.Crowding, s.Crooked.ThicknessShare, s.Crooked.SurfaceSD = 0.12, 0.03, 0.003
	s.StrengthSD = 0.04
	return s
}

// PastAperture is a radiative shop whose instrument sees 8 mm: R (1 - d/2 / (d +
// 4 mm)).
func PastAperture(world uint64, pigments int) *Shop {
	s := Radiative(world, pigments)
	s.Name = fmt.Sprintf("past the aperture %d", world)
	s.Crooked.Aperture = 4
	return s
}

// OffInstrument is a shop whose instrument is 1 nm off, 1 % low, and spills
// 0.2 % of stray light, for chips and parts alike.
func OffInstrument(world uint64, pigments int) *Shop {
	s := Painted(world, pigments)
	s.Name = fmt.Sprintf("instrument off %d", world)
	s.Crooked.Instrument = Instrument{ShiftNM: 1, Scale: -0.01, Stray: 0.002}
	return s
}

// Films is a shop of thin films after those of water colours on paper: 13
// pigments, one of them a weak white, 1 mm over paper, read at 45/0, portions
// 15 % off, coats uneven by 10 %, exponents from 0.7 to 1.
func Films(world uint64) *Shop {
	slab, err := layer.NewSlab(layer.Optics{Index: 1.5, Anisotropy: 0.6, Directions: 16, ViewDegrees: 45})
	if err != nil {
		panic(err) // the optics are fixed and in range
	}
	s := &Shop{
		Name:  fmt.Sprintf("films %d", world),
		Light: slab,
		Level: 2.4,
		Setting: calibrate.Setting{
			Thickness: 1, Backing: color.Constant(0.85), Specular: color.SpecularExcluded,
		},
		Dark: color.Constant(0.04),
		// nothing is known of how these were weighed
		Noise: calibrate.Noise{LabSD: 0.1, SpectrumSD: 0.002},
	}
	rng := rand.New(rand.NewPCG(world, 'F'))
	s.invent(rng, 13)
	for b := range color.Bands {
		s.Pigments[0].S[b] *= 0.25
	}
	for range s.Codes {
		s.Crooked.Exponents = append(s.Crooked.Exponents, 0.7+0.3*rng.Float64())
	}
	s.Crooked.ThicknessShare, s.Crooked.SurfaceSD = 0.10, 0.003
	s.StrengthSD = 0.15
	return s
}

// Singles are the films of each pigment alone at 11 loadings from 0.2 to 2.4
// phr, not yet cast, and with tints a film of each but the white in it.
func (s *Shop) Singles(tints bool) []calibrate.Chip {
	var out []calibrate.Chip
	film := func(name string, m map[string]calibrate.PHR) {
		c := s.Chip(name, m)
		c.BackingName, c.Measurement.Geometry = "paper", color.Directional
		out = append(out, c)
	}
	for _, code := range s.Codes {
		for k := range 11 {
			film(fmt.Sprintf("%s-%d", code, k+1), map[string]calibrate.PHR{code: calibrate.PHR(0.2 + 0.22*float64(k))})
		}
	}
	if tints {
		for _, code := range s.Codes[1:] {
			film(code+"-tint", map[string]calibrate.PHR{s.Codes[0]: 1.2, code: 0.6})
		}
	}
	return out
}

// Pairs draws n mixtures of two pigments within the singles' loadings.
func (s *Shop) Pairs(rng *rand.Rand, n int) []map[string]calibrate.PHR {
	out := make([]map[string]calibrate.PHR, n)
	for i := range out {
		two := rng.Perm(len(s.Codes))[:2]
		out[i] = map[string]calibrate.PHR{}
		for _, k := range two {
			out[i][s.Codes[k]] = calibrate.PHR(0.2 + rng.Float64())
		}
	}
	return out
}
