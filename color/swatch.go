package color

import (
	"fmt"
	"math"

	"github.com/lucasb-eyer/go-colorful"
)

// Swatch is a colour for an sRGB screen (IEC 61966-2-1). A colour no such
// screen can show is cut off channel by channel, and InGamut is false.
type Swatch struct {
	R, G, B uint8
	InGamut bool
}

// Hex gives "#rrggbb".
func (s Swatch) Hex() string { return fmt.Sprintf("#%02x%02x%02x", s.R, s.G, s.B) }

// halfStep is what a channel may lie outside 0 to 1 and still be shown exactly
// in 8 bits.
const halfStep = 0.5 / 255

// Swatch gives the colour for a screen. The Lab is taken as it is, relative to
// its own white, which the screen shows as its white; only a D50 colour is
// brought to D65 by the Bradford transform first, as ICC files do. The error is
// a Lab that is not a number.
func (x Lab) Swatch() (Swatch, error) {
	for _, v := range x.Values() {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return Swatch{}, fmt.Errorf("colour %g %g %g has no swatch; it is not a number", x.L, x.A, x.B)
		}
	}
	c := x.srgb()
	in := true
	for _, v := range [3]float64{c.R, c.G, c.B} {
		in = in && v >= -halfStep && v <= 1+halfStep
	}
	var s Swatch
	s.R, s.G, s.B = c.Clamped().RGB255()
	s.InGamut = in
	return s, nil
}

// srgb hands the Lab to go-colorful, which keeps L* in 0 to 1 and a*, b* in
// the same hundredths.
func (x Lab) srgb() colorful.Color {
	l, a, b := x.L/100, x.A/100, x.B/100
	if x.Under.Illuminant == D50 {
		return colorful.Xyz(colorful.D50ToD65(colorful.LabToXyzWhiteRef(l, a, b, whiteD50)))
	}
	return colorful.LabWhiteRef(l, a, b, whiteSRGB)
}

// Whites as the screen transforms have them, Y = 1: sRGB's from its
// chromaticity 0.3127 0.3290, which go-colorful's matrix answers with exactly
// 1, 1, 1, and D50 from 0.3457 0.3585.
var (
	whiteSRGB = [3]float64{0.3127 / 0.3290, 1, (1 - 0.3127 - 0.3290) / 0.3290}
	whiteD50  = [3]float64{0.3457 / 0.3585, 1, (1 - 0.3457 - 0.3585) / 0.3585}
)
