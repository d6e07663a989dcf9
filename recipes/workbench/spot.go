package workbench

import (
	"cmp"
	"fmt"

	"masstone/color/readings"
	"masstone/color/remedy"
	"masstone/recipes/figure"
)

// around is how much flat surface an aperture needs beyond its edge on every side,
// mm, and flatEnough the side of a chip that serves every handheld (common practice,
// no source).
const (
	around     = 1.0
	flatEnough = 25.0
)

// A Spot is what of a part is flat, and what the instrument sees of it. A zero is not
// known.
type Spot struct {
	FlatMM     float64 // width of the flat spot that was read
	ApertureMM float64 // its diameter; as the file or the instrument's card says if 0
}

// tooSmall says that the instrument saw more than the flat spot, empty if it did
// not or nobody knows.
func (s Spot) tooSmall(p readings.Piece) string {
	aperture := cmp.Or(s.ApertureMM, diameterOf(p.Circumstances.Aperture))
	if s.FlatMM == 0 || aperture == 0 || s.FlatMM >= aperture+2*around {
		return ""
	}
	return fmt.Sprintf("a flat spot of %s mm is too small for an aperture of %s mm and %s mm around it: what lies beside it was read too", figure.Short(s.FlatMM), figure.Short(aperture), figure.Short(around))
}

// check refuses what is no width.
func (s Spot) check() error {
	if err := checkMM("flat-mm", s.FlatMM); err != nil {
		return err
	}
	return checkMM("aperture-mm", s.ApertureMM)
}

func checkMM(field string, mm float64) error {
	if !(mm >= 0 && mm <= 1000) {
		return outOfRange(field, mm, "0 to 1000 mm")
	}
	return nil
}

// Companion is what to do about a part that an instrument cannot read.
func companion() string {
	return fmt.Sprintf("cast a flat chip of %s mm or more, as thick as the part, from the same cup, read that, and say %s", figure.Short(flatEnough), remedy.Input("companion"))
}

// signs warns of a piece that is no surface as the calibration knows them, and says
// what follows. That readings lie apart is said elsewhere.
func (r *Remarks) signs(signs []readings.Sign, then string) {
	for _, s := range signs {
		if s.Case == readings.Uneven {
			r.warn("where reading it again does not help, it is %s: %s", s.Case, then)
		} else {
			r.warn("%s; it is %s: %s", s.Why, s.Case, then)
		}
	}
}

// unmatched is what follows of such a target.
func unmatched() string {
	return fmt.Sprintf("pigments that absorb and scatter do not make it, so %s asks for %s", remedy.Verb("match"), remedy.Input("anyway"))
}

// saying is signs in words.
func saying(signs []readings.Sign) string {
	text := ""
	for i, s := range signs {
		if i > 0 {
			text += "; "
		}
		text += fmt.Sprintf("%s (%s)", s.Why, s.Case)
	}
	return text
}
