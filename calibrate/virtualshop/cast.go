package virtualshop

import (
	"maps"
	"math"
	"math/rand/v2"
	"slices"

	"masstone/calibrate"
	"masstone/color"
)

// Chip is a chip of this shop that is not yet cast: loadings to weigh, on the
// shop's bench, in the shop's usual setting. Change what should differ, then
// Cast it.
func (s *Shop) Chip(name string, loadings map[string]calibrate.PHR) calibrate.Chip {
	return calibrate.Chip{
		Name: name, Loadings: maps.Clone(loadings),
		Thickness: s.Setting.Thickness, BackingName: "white", Backing: s.Setting.Backing,
		Measurement: color.Measurement{Geometry: color.Sphere, Specular: s.Setting.Specular},
		ChipGrams:   s.ChipGrams, ScaleGrams: s.ScaleGrams, Aperture: s.Setting.Aperture,
	}
}

// Pour answers what is really in the cup of a chip: each loading misses what is
// written by up to half a step of the chip's scale, evenly, and the paste is as
// strong as this pour happens to have it.
func (s *Shop) Pour(rng *rand.Rand, chip calibrate.Chip) map[string]calibrate.PHR {
	cup := map[string]calibrate.PHR{}
	for _, code := range s.sorted(chip.Loadings) {
		// WeighSD is that of an even error, which reaches out sqrt(3) times as far
		miss := (2*rng.Float64() - 1) * math.Sqrt(3) * float64(chip.WeighSD(code))
		cup[code] = calibrate.PHR(math.Max(float64(chip.Loadings[code])+miss, 0) * s.portion(rng))
	}
	return cup
}

// Cast pours and reads a chip, and answers it as a user has it: the written
// loadings with a noisy Lab under each of Lights and a noisy spectrum. Where the
// chip states a ThicknessSD its thickness misses by that.
func (s *Shop) Cast(rng *rand.Rand, chip calibrate.Chip) calibrate.Chip {
	cup := s.Pour(rng, chip)
	thickness := float64(chip.Thickness) + float64(chip.ThicknessSD)*rng.NormFloat64()
	r := s.Reflectance(cup, calibrate.Setting{
		Thickness: calibrate.ThicknessMM(math.Max(thickness, 0.05) * s.thickness(rng)),
		Backing:   chip.Backing, Specular: chip.Measurement.Specular, Aperture: chip.Aperture,
	})
	return s.Read(rng, chip, s.Crooked.Instrument.read(s.surface(rng, r)))
}

// Read reads a part of true reflectance factor r into a chip, as Cast does.
func (s *Shop) Read(rng *rand.Rand, chip calibrate.Chip, r color.Reflectance) calibrate.Chip {
	chip.Loadings = maps.Clone(chip.Loadings)
	chip.Labs = nil
	for _, light := range Lights() {
		lab := weights(light).Lab(&r)
		lab.L += s.Noise.LabSD * rng.NormFloat64()
		lab.A += s.Noise.LabSD * rng.NormFloat64()
		lab.B += s.Noise.LabSD * rng.NormFloat64()
		chip.Labs = append(chip.Labs, lab)
	}
	for b := range r {
		r[b] += s.Noise.SpectrumSD * rng.NormFloat64()
	}
	chip.Spectrum = &r
	return chip
}

// CastAll casts each chip in turn.
func (s *Shop) CastAll(rng *rand.Rand, chips []calibrate.Chip) []calibrate.Chip {
	out := make([]calibrate.Chip, len(chips))
	for i, c := range chips {
		out[i] = s.Cast(rng, c)
	}
	return out
}

// Lights are the conditions every chip is read under, all of the 10 degree
// observer: daylight, tungsten, a fluorescent lamp.
func Lights() []color.Condition {
	return []color.Condition{
		color.Under(color.D65, color.TenDegree),
		color.Under(color.A, color.TenDegree),
		color.Under(color.FL11, color.TenDegree),
	}
}

// sorted lists the codes with a loading above 0 in the order of the shop, so
// that chance falls the same way each time.
func (s *Shop) sorted(loadings map[string]calibrate.PHR) []string {
	var codes []string
	for code, phr := range loadings {
		if phr > 0 {
			codes = append(codes, code)
		}
	}
	slices.SortFunc(codes, func(a, b string) int { return s.index(a) - s.index(b) })
	return codes
}
