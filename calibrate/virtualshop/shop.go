package virtualshop

import (
	"fmt"
	"math/rand/v2"
	"slices"

	"masstone/calibrate"
	"masstone/calibrate/layer"
	"masstone/color"
)

// Light is the measured reflectance factor of a layer in one band: K and S per
// mm, thickness in mm, the backing's reflectance factor. A *layer.Slab is one.
type Light interface {
	Reflectance(k, s, thicknessMM, backing float64, specular color.Specular) float64
}

// Curve is one absorber and scatterer: the resin, per mm, or a pigment, per mm
// and phr.
type Curve struct {
	K, S [color.Bands]float64
}

// A Shop is a resin with pigments, the light in them, and a bench.
type Shop struct {
	Name     string
	Codes    []string // the white first, the black second
	Resin    Curve
	Pigments []Curve // by the position of their code
	Light    Light

	// Level is the loading of a masstone chip; the strengths of the pigments go
	// with it.
	Level calibrate.PHR
	// Setting is how chips are cast and read unless they say otherwise; Dark is
	// the other backing.
	Setting calibrate.Setting
	Dark    color.Reflectance

	ChipGrams, ScaleGrams calibrate.Grams
	Noise                 calibrate.Noise
	// StrengthSD is the standard deviation of the ln of a paste's strength from
	// pour to pour, 0 for none.
	StrengthSD float64
	Crooked    Crooked
}

// White and Black are the codes every shop starts with.
const (
	White = "WH"
	Black = "BK"
)

// Painted is a Kubelka-Munk shop with its own surface, levels, noise and scale,
// chips 5 mm thick. pigments is at least 2.
func Painted(seed uint64, pigments int) *Shop {
	rng := rand.New(rand.NewPCG(seed, 'P'))
	between := func(lo, hi float64) float64 { return lo + rng.Float64()*(hi-lo) }
	s := &Shop{
		Name:       fmt.Sprintf("painted %d", seed),
		Light:      TwoFlux{K1: between(0.035, 0.045), K2: between(0.55, 0.65)},
		Level:      calibrate.PHR([]float64{1.5, 2, 3}[rng.IntN(3)]),
		Setting:    calibrate.Setting{Thickness: 5, Backing: color.Constant(between(0.80, 0.92)), Specular: color.SpecularIncluded},
		Dark:       color.Constant(between(0.02, 0.06)),
		ChipGrams:  calibrate.Grams([]float64{40, 60, 80}[rng.IntN(3)]),
		ScaleGrams: 0.01,
		Noise:      calibrate.Noise{LabSD: between(0.04, 0.15), SpectrumSD: between(0.0007, 0.002)},
	}
	s.invent(rng, pigments)
	return s
}

// Radiative is a shop whose light follows radiative transfer: refractive index
// 1.47, Henyey-Greenstein scattering of mean cosine 0.6, 32 directions a
// hemisphere, each band solved anew. Chips are 3 mm thick, 50 g on a scale of
// 0.01 g. pigments is at least 2.
func Radiative(seed uint64, pigments int) *Shop {
	slab, err := layer.NewSlab(layer.Optics{Index: 1.47, Anisotropy: 0.6, Directions: 32, ViewDegrees: 8})
	if err != nil {
		panic(err) // the optics are fixed and in range
	}
	s := &Shop{
		Name:       fmt.Sprintf("radiative %d", seed),
		Light:      slab,
		Level:      1,
		Setting:    calibrate.Setting{Thickness: 3, Backing: color.Constant(0.90), Specular: color.SpecularIncluded},
		Dark:       color.Constant(0.03),
		ChipGrams:  50,
		ScaleGrams: 0.01,
		Noise:      calibrate.Noise{LabSD: 0.08, SpectrumSD: 0.001},
	}
	s.invent(rand.New(rand.NewPCG(seed, 'R')), pigments)
	return s
}

// InOpaqueResin is the shop with a white, hiding resin in place of the clear one.
func (s *Shop) InOpaqueResin() *Shop {
	out := *s
	out.Name += ", opaque resin"
	white := s.Pigments[0]
	for b := range color.Bands {
		out.Resin.K[b] += 0.4 * float64(s.Level) * white.K[b]
		out.Resin.S[b] += 0.4 * float64(s.Level) * white.S[b]
	}
	return &out
}

// WithLot is the shop after a new lot of a pigment, strength times as strong.
func (s *Shop) WithLot(code string, strength float64) *Shop {
	out := *s
	out.Pigments = slices.Clone(s.Pigments)
	p := &out.Pigments[s.index(code)]
	for b := range color.Bands {
		p.K[b] *= strength
		p.S[b] *= strength
	}
	return &out
}

// index panics on a code the shop does not have: a mistake in the test.
func (s *Shop) index(code string) int {
	i := slices.Index(s.Codes, code)
	if i < 0 {
		panic(fmt.Sprintf("%s has no pigment %q", s.Name, code))
	}
	return i
}

// Reflectance is the true reflectance factor of a mixture of exactly these
// loadings, as an instrument that is not off reads it.
func (s *Shop) Reflectance(loadings map[string]calibrate.PHR, in calibrate.Setting) color.Reflectance {
	mix := s.Resin
	total := 0.0
	codes := s.sorted(loadings) // in a fixed order, for the last digit
	for _, code := range codes {
		total += float64(loadings[code])
	}
	room := 1 / (1 + s.Crooked.Crowding*total)
	for _, code := range codes {
		i := s.index(code)
		c, p := s.Crooked.strength(i, float64(loadings[code])), &s.Pigments[i]
		for b := range color.Bands {
			mix.K[b] += c * p.K[b] // (1)
			mix.S[b] += c * p.S[b] * room
		}
	}
	var r color.Reflectance
	for b := range r {
		r[b] = s.Light.Reflectance(mix.K[b], mix.S[b], float64(in.Thickness), in.Backing[b], in.Specular)
		r[b] *= s.Crooked.past(mix.K[b], mix.S[b], float64(in.Thickness), in.Aperture)
	}
	return r
}

// Color is the true colour of a mixture of exactly these loadings.
func (s *Shop) Color(loadings map[string]calibrate.PHR, in calibrate.Setting, under color.Condition) color.Lab {
	r := s.Reflectance(loadings, in)
	return weights(under).Lab(&r)
}

// weights panics on a condition that is in no table: a mistake in the test.
func weights(under color.Condition) *color.Weights {
	w, err := color.WeightsFor(under)
	if err != nil {
		panic(err)
	}
	return w
}
