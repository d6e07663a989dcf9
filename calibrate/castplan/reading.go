package castplan

import (
	"masstone/calibrate"
	"masstone/color"
)

// Reading is what the shop's instrument tells of a chip: a spectrum, or Lab
// under each of Lights.
type Reading struct {
	Spectrum bool
	Lights   []color.Condition
}

// ReadingOf is the kind of reading the calibration was made from, the better
// one where there were several.
func ReadingOf(c *calibrate.Calibration) Reading {
	if c.Spectral {
		return Reading{Spectrum: true}
	}
	return Reading{Lights: c.Lights}
}
