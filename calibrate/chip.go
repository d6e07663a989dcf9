package calibrate

import (
	"fmt"
	"math"
	"sort"

	"masstone/color"
)

// A Chip is a casting of known loadings that was read with an instrument.
type Chip struct {
	Name string
	// Casting is the casting that this is a reading of, where the same casting was
	// read more than once, as over another backing: readings with the same loadings
	// and the same Casting share what was in the cup and how thick it came out.
	// Empty for one of its own.
	Casting string
	// Part tells parts of one casting apart, such as those cast out of one pot, which
	// share what was weighed into it: each came out as thick as it did.
	Part        string
	Loadings    map[string]PHR // by pigment code; absent or 0 means none
	Thickness   ThicknessMM    // > 0
	BackingName string
	Backing     color.Reflectance // reflectance factor of what lay under the chip
	Measurement color.Measurement

	// Evidence: any number of Lab readings, each under its own condition, or a
	// spectrum on the model's bands. With a spectrum the Labs are not used:
	// they would count the same light twice.
	Labs     []color.Lab
	Spectrum *color.Reflectance

	// ChipGrams and ScaleGrams give the weighing error: mass of mixed resin in
	// the chip's cup and the smallest step of the scale. Either 0 means the
	// loadings are taken as exact.
	ChipGrams  Grams
	ScaleGrams Grams
	// PasteStrength is the fraction of paste in what was weighed, for pigments
	// weighed as a pre-dilution; absent or 0 means neat paste (1).
	PasteStrength map[string]float64
	// Aperture is what it was read through: light that scatters past it is lost. 0
	// where nobody says, for that of most chips.
	Aperture ApertureMM
	narrow   float64 // against the aperture of most chips, per mm^2
	// ThicknessSD is the standard deviation of Thickness in mm, 0 for exact.
	ThicknessSD ThicknessMM
	// OpenSD is how far L*, a*, b* may lie from what was read, beside the noise, as
	// of a part that still changes: a standard deviation, of each alike and the same
	// under all lights. It is for chips read as Lab.
	OpenSD float64
}

// WeighSD returns the standard deviation in phr of a loading weighed on the
// chip's scale: a reading rounded to a step s is uniform within +-s/2, so its
// standard deviation is s/sqrt(12).
func (c *Chip) WeighSD(pigment string) PHR {
	if c.ChipGrams <= 0 || c.ScaleGrams <= 0 || c.Loadings[pigment] <= 0 {
		return 0
	}
	strength := c.PasteStrength[pigment]
	if strength <= 0 || strength > 1 {
		strength = 1
	}
	return PHR(float64(c.ScaleGrams) / math.Sqrt(12) * strength * 100 / float64(c.ChipGrams))
}

// pigments lists the codes with a positive loading, sorted.
func (c *Chip) pigments() []string {
	var codes []string
	for code, phr := range c.Loadings {
		if phr > 0 {
			codes = append(codes, code)
		}
	}
	sort.Strings(codes)
	return codes
}

// Check returns an error that names the chip and what is impossible about it.
func (c *Chip) Check() error {
	fail := func(format string, a ...any) error {
		return fmt.Errorf("chip %s: %s", c.Name, fmt.Sprintf(format, a...))
	}
	if !(c.Thickness > 0) || math.IsInf(float64(c.Thickness), 0) {
		return fail("thickness %g mm; give a thickness above 0", float64(c.Thickness))
	}
	if !(c.Aperture >= 0) || math.IsInf(float64(c.Aperture), 0) {
		return fail("aperture of radius %g mm; give a radius, or 0 where nobody says", float64(c.Aperture))
	}
	if !(c.OpenSD >= 0) || math.IsInf(c.OpenSD, 0) {
		return fail("L*, a*, b* open by %g; give a standard deviation, 0 where they stand", c.OpenSD)
	}
	total := PHR(0)
	for code, phr := range c.Loadings {
		if !(phr >= 0) || phr > 100 {
			return fail("loading of %s is %g phr; give 0 to 100", code, float64(phr))
		}
		total += phr
	}
	if total > 100 {
		return fail("loadings add up to %g phr; more paste than resin", float64(total))
	}
	for b, r := range c.Backing {
		if !(r >= 0 && r <= 1.2) {
			return fail("backing %s reflects %g at %d nm; give a reflectance factor from 0 to 1", c.BackingName, r, color.FirstNM+b*color.StepNM)
		}
	}
	if c.Spectrum == nil && len(c.Labs) == 0 {
		return fail("no reading; give a Lab or a spectrum")
	}
	if c.Spectrum != nil {
		for b, r := range c.Spectrum {
			if !(r >= -0.01 && r <= 1.2) {
				return fail("reflectance factor %g at %d nm; give a fraction from 0 to 1", r, color.FirstNM+b*color.StepNM)
			}
		}
	}
	for _, l := range c.Labs {
		if !(l.L >= 0 && l.L <= 110) || !(math.Abs(l.A) <= 200) || !(math.Abs(l.B) <= 200) {
			return fail("Lab %g, %g, %g is not a surface colour; read it again", l.L, l.A, l.B)
		}
	}
	return nil
}
