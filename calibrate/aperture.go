package calibrate

import (
	"fmt"
	"math"
	"slices"

	"masstone/color"
)

// ApertureMM is the radius of what an instrument lights and sees, in millimetres,
// half of what instruments are sold by. 0 is for one that nobody said: it is taken
// for that of the chips.
type ApertureMM float64

// Diameter is what instruments are sold by, in mm.
func (r ApertureMM) Diameter() float64 { return 2 * float64(r) }

// ApertureOf is the aperture of a diameter in mm.
func ApertureOf(diameter float64) ApertureMM { return ApertureMM(diameter / 2) }

// against is by how much more is lost past the aperture than past that of most chips,
// whose losses are in the curves: 1 / r^2 less 1 / theirs^2, per mm^2. 0 where either is
// not known.
func (r ApertureMM) against(usual ApertureMM) float64 {
	if r <= 0 || usual <= 0 || r == usual {
		return 0
	}
	return 1/float64(r*r) - 1/float64(usual*usual)
}

// usualAperture is what most of the chips that say it were read through, the first of
// equals; 0 where none says.
func usualAperture(chips []Chip) (most ApertureMM) {
	count := map[ApertureMM]int{}
	for i := range chips {
		count[chips[i].Aperture]++
	}
	for i := range chips {
		if r := chips[i].Aperture; r > 0 && (most == 0 || count[r] > count[most]) {
			most = r
		}
	}
	return most
}

// through are the chips for a problem whose curves hold what is lost past an aperture.
func through(chips []Chip, usual ApertureMM) []Chip {
	if usual == 0 {
		return chips
	}
	out := slices.Clone(chips)
	for i := range out {
		out[i].narrow = out[i].Aperture.against(usual)
	}
	return out
}

// Through is the aperture that a reading counts by of which this one is stated, 0 for
// none: that of the chips where nothing is, and none where the chips say none.
func (c *Calibration) Through(stated ApertureMM) ApertureMM {
	if stated == 0 || c.Aperture == 0 {
		return c.Aperture
	}
	return stated
}

// throughNote says how the aperture of a reading counts, empty where that needs no
// word.
func (c *Calibration) throughNote(stated ApertureMM) string {
	switch {
	case stated == c.Aperture, c.Aperture == 0: // what most benches have
		return ""
	case stated == 0:
		return fmt.Sprintf("it does not say through what aperture it was read: taken for that of the chips, %.3g mm", c.Aperture.Diameter())
	}
	return fmt.Sprintf("it was read through an aperture of %.3g mm, the chips through %.3g mm: what scatters past each is counted", stated.Diameter(), c.Aperture.Diameter())
}

// AsThrough returns the reading of a part as if it had been read through another
// aperture, and what was done to it in plain words: what the calibration says of its
// mixture through either is taken for the difference.
func (c *Calibration) AsThrough(r Reading, to ApertureMM, of Sample) (Reading, string, error) {
	from := c.Through(r.Aperture)
	to = c.Through(to)
	var under []color.Condition
	for _, lab := range r.Labs {
		under = append(under, lab.Under)
	}
	of.Aperture = from
	is, err := c.Predict(of, under...)
	if err != nil {
		return r, "", err
	}
	of.Aperture = to
	would, err := c.Predict(of, under...)
	if err != nil {
		return r, "", err
	}
	out := Reading{Measurement: r.Measurement, Aperture: to}
	if r.Spectrum != nil {
		s := *r.Spectrum
		for b := range s {
			s[b] *= would.Reflectance[b] / math.Max(is.Reflectance[b], 1e-6)
		}
		out.Spectrum = &s
	}
	for i, lab := range r.Labs {
		v, was, will := lab.Values(), is.Colors[i].Lab.Values(), would.Colors[i].Lab.Values()
		for t := range v {
			v[t] += will[t] - was[t]
		}
		out.Labs = append(out.Labs, color.LabFrom(v, lab.Under))
	}
	return out, fmt.Sprintf("read through an aperture of %.3g mm, its target through %.3g mm; what scatters past each was counted", from.Diameter(), to.Diameter()), nil
}
