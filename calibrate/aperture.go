package calibrate

import (
	"fmt"
	"slices"
)

// ApertureMM is the radius of what an instrument lights and sees, in millimetres,
// half of what instruments are sold by. 0 is for one that nobody said: it is taken
// for that of the chips.
type ApertureMM float64

// Diameter is what instruments are sold by, in mm.
func (r ApertureMM) Diameter() float64 { return 2 * float64(r) }

// ApertureOf is the aperture of a diameter in mm.
func ApertureOf(diameter float64) ApertureMM { return ApertureMM(diameter / 2) }

// narrow is the inverse square of the radius, 0 where it loses no light.
func (r ApertureMM) narrow() float64 {
	if r <= 0 {
		return 0
	}
	return 1 / float64(r*r)
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

// through are chips of which those that say nothing were read through the usual
// aperture. Where that is none, no aperture counts: what scatters past it is then in
// the curves, and a few chips that say theirs would count it twice.
func through(chips []Chip, usual ApertureMM) []Chip {
	if !slices.ContainsFunc(chips, func(c Chip) bool { return c.Aperture != throughOne(c.Aperture, usual) }) {
		return chips
	}
	out := slices.Clone(chips)
	for i := range out {
		out[i].Aperture = throughOne(out[i].Aperture, usual)
	}
	return out
}

func throughOne(stated, usual ApertureMM) ApertureMM {
	if stated == 0 || usual == 0 {
		return usual
	}
	return stated
}

// Through is the aperture that a reading counts by of which this one is stated, 0 for
// none: that of the chips where nothing is, and none where the chips say none.
func (c *Calibration) Through(stated ApertureMM) ApertureMM { return throughOne(stated, c.Aperture) }

// throughNote says how the aperture of a reading counts, empty where that needs no
// word.
func (c *Calibration) throughNote(stated ApertureMM) string {
	switch {
	case stated == c.Aperture, c.Aperture == 0: // what most benches have
		return ""
	case stated == 0:
		return fmt.Sprintf("it does not say through what aperture it was read: taken for that of the chips, %.3g mm", c.Aperture.Diameter())
	}
	return fmt.Sprintf("it was read through an aperture of %.3g mm, the chips through %.3g mm: the light that scatters past either is counted", stated.Diameter(), c.Aperture.Diameter())
}
