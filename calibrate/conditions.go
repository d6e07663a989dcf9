package calibrate

import (
	"fmt"
	"slices"
	"strings"

	"masstone/calibrate/layer"
	"masstone/color"
)

// Reading is what was read of a piece that is no chip: a part to match, or one
// that was poured.
type Reading struct {
	Labs        []color.Lab        // means, one per condition
	Spectrum    *color.Reflectance // nil if none was read
	Measurement color.Measurement
	Aperture    ApertureMM // 0 where nobody says
}

// Under returns the reading's colour under a condition: as it was read, else of
// its spectrum; nil if it has neither.
func (r Reading) Under(c color.Condition) (*color.Lab, error) {
	for i := range r.Labs {
		if r.Labs[i].Under == c {
			return &r.Labs[i], nil
		}
	}
	if r.Spectrum == nil {
		return nil, nil
	}
	w, err := color.WeightsFor(c)
	if err != nil {
		return nil, err
	}
	lab := w.Lab(r.Spectrum)
	return &lab, nil
}

// usualLights are how many lights a calibration of colours alone must have been
// read under to tell colours under others. Common practice, no source.
const usualLights = 3

// Knows reports whether the evidence of the calibration can tell a colour under
// a condition: spectra can tell any, colours those they were read under, and
// colours under three lights the rest.
func (c *Calibration) Knows(under color.Condition) bool {
	spectra := c.Spectral || len(c.Lights) == 0
	return spectra || len(c.Lights) >= usualLights || under == c.Main || slices.Contains(c.Lights, under)
}

// Admit returns a reading as it may be compared with the calibration, and what
// was done to it in plain words. Its colour under the calibration's main
// condition comes first, from the spectrum where it was not read; colours that
// the evidence cannot tell are left out beside those it can; alone they stay, and
// predictions under their light stand on the curves, whose bars are wider there.
// The error is a reading that no physics here brings to the calibration: another
// geometry.
//
// The specular mode stays as it is: a prediction is made in the mode of the
// reading, by the surface of the layer model.
func (c *Calibration) Admit(r Reading) (Reading, []string, error) {
	var done, foreign []string
	if err := c.sameGeometry(r.Measurement.Geometry); err != nil {
		return r, nil, err
	}
	out := Reading{Spectrum: r.Spectrum, Measurement: r.Measurement, Aperture: c.Through(r.Aperture)}
	at := -1
	for _, lab := range r.Labs {
		switch {
		case lab.Under == c.Main:
			at = len(out.Labs)
			out.Labs = append(out.Labs, lab)
		case c.Knows(lab.Under):
			out.Labs = append(out.Labs, lab)
		default:
			foreign = append(foreign, lab.Under.String())
		}
	}
	if at < 0 && r.Spectrum != nil {
		main, err := r.Under(c.Main)
		if err != nil {
			return r, nil, err
		}
		at, out.Labs = len(out.Labs), append(out.Labs, *main)
		done = append(done, fmt.Sprintf("its colour under %s comes from its spectrum", c.Main))
	}
	if at > 0 {
		main := out.Labs[at]
		out.Labs = slices.Insert(slices.Delete(out.Labs, at, at+1), 0, main)
	}
	if len(foreign) > 0 {
		known := "the chips of this calibration were read under " + conditionNames(c.Lights)
		if len(out.Labs) == 0 {
			out.Labs = slices.Clone(r.Labs)
			done = append(done, fmt.Sprintf("it was read under %s, %s: it is matched under %s by the curves they gave", strings.Join(foreign, ", "), known, r.Labs[0].Under))
		} else {
			done = append(done, fmt.Sprintf("its colour under %s is not used, as %s", strings.Join(foreign, ", "), known))
		}
	}
	if s := r.Measurement.Specular; s != "" && len(c.Measurements) > 0 && !slices.ContainsFunc(c.Measurements, func(m color.Measurement) bool { return m.Specular == "" || m.Specular == s }) {
		how := "are made without"
		if s == color.SpecularIncluded {
			how = "are made with"
		}
		done = append(done, fmt.Sprintf("it was read with specular %s, the chips with specular %s: predictions %s the surface's mirror reflection (%.3f), as for a smooth surface",
			s, c.Measurements[0].Specular, how, c.Mirror()))
	}
	if note := c.throughNote(r.Aperture); note != "" {
		done = append(done, note)
	}
	return out, done, nil
}

// sameGeometry refuses a reading whose geometry is not that of the chips.
func (c *Calibration) sameGeometry(g color.Geometry) error {
	for _, m := range c.Measurements {
		if m.Geometry != "" && g != "" && m.Geometry != g {
			return fmt.Errorf("was read in %s, the chips of this calibration in %s; the surface looks different to the two and nothing here turns one into the other: read it in %s", g, m.Geometry, m.Geometry)
		}
	}
	return nil
}

// Mirror returns what the surface of the calibration's layer adds to a reading
// that includes the specular reflection: Saunderson's k1, or Fresnel's share of
// the exact layer.
func (c *Calibration) Mirror() float64 {
	var k, s, backing [color.Bands]float64
	var with, without layer.Partials
	c.model.Bands(&k, &s, 1, &backing, color.SpecularIncluded, &with)
	c.model.Bands(&k, &s, 1, &backing, color.SpecularExcluded, &without)
	return with.R[0] - without.R[0]
}

// As returns a reading as if it had been taken another way, and what was done
// to it in plain words, empty if nothing had to be. A smooth surface reflects
// the same share k1 at all wavelengths (Saunderson 1942), so
//
//	R included = R excluded + k1, and XYZ likewise by k1 times the white    (1)
//
// The error is a reading in another geometry, which nothing here converts, and
// one that is darker than its surface alone would be.
func (c *Calibration) As(r Reading, how color.Measurement) (Reading, string, error) {
	from, to := r.Measurement, how
	if from.Geometry != "" && to.Geometry != "" && from.Geometry != to.Geometry {
		return r, "", fmt.Errorf("was read in %s, not in %s; the surface looks different to the two and nothing here turns one into the other: read it in %s", from.Geometry, to.Geometry, to.Geometry)
	}
	if from.Specular == "" || to.Specular == "" || from.Specular == to.Specular {
		return r, "", nil
	}
	mirror, verb := c.Mirror(), "added to"
	if to.Specular == color.SpecularExcluded {
		mirror, verb = -mirror, "taken off"
	}
	dark := fmt.Errorf("was read with specular %s and is darker than the surface alone; read it with specular %s", from.Specular, to.Specular)
	out := Reading{Measurement: color.Measurement{Geometry: from.Geometry, Specular: to.Specular}, Aperture: r.Aperture}
	if r.Spectrum != nil {
		s := *r.Spectrum
		for b := range s {
			if s[b] += mirror; s[b] < -0.005 { // (1); what noise explains is no fault
				return r, "", dark
			}
			s[b] = max(s[b], 0)
		}
		out.Spectrum = &s
	}
	for _, lab := range r.Labs {
		xyz, err := lab.XYZ()
		if err != nil {
			return r, "", err
		}
		white, err := color.Lab{L: 100, Under: lab.Under}.XYZ()
		if err != nil {
			return r, "", err
		}
		xyz.X, xyz.Y, xyz.Z = xyz.X+mirror*white.X, xyz.Y+mirror*white.Y, xyz.Z+mirror*white.Z // (1)
		if xyz.Y < 0 {
			return r, "", dark
		}
		if lab, err = xyz.Lab(); err != nil {
			return r, "", err
		}
		out.Labs = append(out.Labs, lab)
	}
	return out, fmt.Sprintf("read with specular %s; the surface's mirror reflection (%.3f) was %s the reading, as for a smooth surface", from.Specular, c.Mirror(), verb), nil
}

// measurementsOf lists the ways chips were read, in the order they come. Chips
// of two geometries are refused: the model has one surface, which looks
// different to them.
func measurementsOf(chips []Chip) ([]color.Measurement, error) {
	var all []color.Measurement
	var first *Chip
	for i := range chips {
		m := chips[i].Measurement
		if m.Geometry != "" {
			if first == nil {
				first = &chips[i]
			} else if m.Geometry != first.Measurement.Geometry {
				return nil, fmt.Errorf("chip %s was read in %s, chip %s in %s; one calibration takes readings of one geometry: read them alike, or withdraw those of the other", chips[i].Name, m.Geometry, first.Name, first.Measurement.Geometry)
			}
		}
		if m != (color.Measurement{}) && !slices.Contains(all, m) {
			all = append(all, m)
		}
	}
	return all, nil
}

func conditionNames(all []color.Condition) string {
	var names []string
	for _, c := range all {
		names = append(names, c.String())
	}
	return strings.Join(names, ", ")
}
