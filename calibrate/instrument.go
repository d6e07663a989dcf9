package calibrate

import (
	"fmt"
	"slices"
	"strings"

	"masstone/color"
)

// Evidence is which of the chips' readings a fit is to use. Asking for less
// than was read shows what a simpler instrument would have given.
type Evidence string

// The kinds of evidence.
const (
	AllEvidence      Evidence = "all"     // spectra, and Labs of chips without one
	SpectralEvidence Evidence = "spectra" // spectra alone
	LabsEvidence     Evidence = "labs"    // Lab under every light that was read
	LabEvidence      Evidence = "lab"     // Lab under the main light
)

// ParseEvidence reads the name of a kind of evidence.
func ParseEvidence(s string) (Evidence, error) {
	all := []Evidence{LabEvidence, LabsEvidence, SpectralEvidence, AllEvidence}
	if e := Evidence(strings.ToLower(strings.TrimSpace(s))); slices.Contains(all, e) {
		return e, nil
	}
	return "", fmt.Errorf("is no kind of evidence; give lab, labs, spectra or all")
}

// ThreeLights are what a simple instrument reads Lab under: daylight, tungsten
// and a fluorescent lamp. Common practice, no source.
func ThreeLights(o color.Observer) []color.Condition {
	return []color.Condition{color.Under(color.D65, o), color.Under(color.A, o), color.Under(color.FL11, o)}
}

// Of returns the chips with the readings an instrument of this kind gives, and
// the names of those it leaves nothing of. A Lab that was not read comes from
// the chip's spectrum. main is the light of LabEvidence; for LabsEvidence the
// lights are those that any chip was read under or, where all have spectra only,
// ThreeLights of main's observer.
func (e Evidence) Of(chips []Chip, main color.Condition) (kept []Chip, without []string, err error) {
	lights := []color.Condition{main}
	if e == LabsEvidence {
		lights = nil
		for i := range chips {
			for _, lab := range chips[i].Labs {
				if !slices.Contains(lights, lab.Under) {
					lights = append(lights, lab.Under)
				}
			}
		}
		if lights == nil {
			lights = ThreeLights(main.Observer)
		}
	}
	for _, c := range chips {
		switch e {
		case SpectralEvidence:
			c.Labs = nil
		case LabsEvidence, LabEvidence:
			if c.Labs, err = c.Under(lights); err != nil {
				return nil, nil, err
			}
			c.Spectrum = nil
		}
		if c.Spectrum == nil && len(c.Labs) == 0 {
			without = append(without, c.Name)
			continue
		}
		kept = append(kept, c)
	}
	return kept, without, nil
}

// Changed returns the chip as one that reads by so much else in L*, a*, b*, openSD of
// which is not known. What a change of these does to a spectrum is not known: of one
// its colours remain, under three lights where it has none.
func (c Chip) Changed(by [3]float64, openSD float64) (Chip, error) {
	lights := ThreeLights(color.TenDegree)
	if len(c.Labs) > 0 {
		lights = nil
		for _, l := range c.Labs {
			lights = append(lights, l.Under)
		}
	}
	if c.Spectrum != nil { // what the fit goes by
		c.Labs = nil
	}
	labs, err := c.Under(lights)
	if err != nil {
		return c, err
	}
	c.Labs, c.Spectrum, c.OpenSD = nil, nil, openSD
	for _, l := range labs {
		v := l.Values()
		for i := range v {
			v[i] += by[i]
		}
		c.Labs = append(c.Labs, color.LabFrom(v, l.Under))
	}
	return c, nil
}

// Under returns the chip's Labs under some lights, as far as they can be told.
func (c *Chip) Under(lights []color.Condition) ([]color.Lab, error) {
	var out []color.Lab
	for _, under := range lights {
		if i := slices.IndexFunc(c.Labs, func(l color.Lab) bool { return l.Under == under }); i >= 0 {
			out = append(out, c.Labs[i])
			continue
		}
		if c.Spectrum == nil {
			continue
		}
		w, err := color.WeightsFor(under)
		if err != nil {
			return nil, fmt.Errorf("chip %s: %w", c.Name, err)
		}
		out = append(out, w.Lab(c.Spectrum))
	}
	return out, nil
}
