package castplan

import (
	"fmt"
	"math"
	"slices"

	"masstone/calibrate"
)

// Interest is a mixture whose colour should be known well.
type Interest struct {
	Loadings map[string]calibrate.PHR
	calibrate.Setting
}

func unknown(code string, c *calibrate.Calibration) error {
	return fmt.Errorf("pigment %s is not in this calibration; it knows %v", code, c.Codes())
}

// Gamut spreads n mixtures over what the calibration's pigments can make: one
// to three of the pigments, from a fiftieth of their strongest chip to all of
// it, three in four of them in a white. It is the same every time.
func Gamut(c *calibrate.Calibration, in calibrate.Setting, whites []string, n int) []Interest {
	var colours, whitesHere []string
	for _, code := range c.Codes() {
		if slices.Contains(whites, code) {
			whitesHere = append(whitesHere, code)
		} else {
			colours = append(colours, code)
		}
	}
	top := func(code string) float64 { return float64(c.Curves[c.Index(code)].MaxPHR) }
	var out []Interest
	turn := 0 // every pigment has its turn
	for i := range n {
		mix := map[string]calibrate.PHR{}
		if len(whitesHere) > 0 && (i%4 != 3 || len(colours) == 0) {
			white := whitesHere[i%len(whitesHere)]
			mix[white] = calibrate.PHR(top(white) * (0.1 + 0.9*evenly(i, 0)))
		}
		if len(colours) > 0 {
			stride := 1 + i/len(colours)
			for k := range 1 + i%3 {
				code := colours[(turn+k*stride)%len(colours)]
				mix[code] = calibrate.PHR(top(code) * math.Exp(-math.Log(50)*evenly(i, k+1)))
			}
			turn++
		}
		out = append(out, Interest{mix, in})
	}
	return out
}

// evenly returns coordinate k of point i of a lattice that fills the unit cube
// in four dimensions evenly (Roberts 2018: powers of the root of x^5 = x + 1).
func evenly(i, k int) float64 {
	const root = 1.1673039782614187
	_, u := math.Modf(0.5 + float64(i+1)*math.Pow(root, -float64(k+1)))
	return u
}
