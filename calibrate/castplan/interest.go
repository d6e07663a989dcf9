package castplan

import (
	"fmt"
	"maps"
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
// to three of the pigments, from a fiftieth of the strongest chip to all of it,
// seven in eight of them in a white of up to half as much again as its strongest
// chip, and no more paste in all than the resin bears (see Candidates). They are seen as the bench's chips are, over its usual backing, and
// are the same every time.
func Gamut(c *calibrate.Calibration, b *Bench, whites []string, n int) ([]Interest, error) {
	if err := b.Check(); err != nil {
		return nil, err
	}
	var colours []string
	for _, code := range c.Codes() {
		if !slices.Contains(whites, code) {
			colours = append(colours, code)
		}
	}
	for _, code := range whites {
		if c.Index(code) == 0 {
			return nil, unknown(code, c)
		}
	}
	strongest := reach(c, b)
	top := func(code string, share float64) calibrate.PHR {
		return min(scaled(strongest(code), share), b.bears(code))
	}
	out := make([]Interest, n)
	for i := range out {
		mix := map[string]calibrate.PHR{}
		if len(whites) > 0 && (i%8 != 7 || len(colours) == 0) {
			white := whites[i%len(whites)]
			mix[white] = top(white, 0.15+1.35*evenly(i, 0))
		}
		// every pigment has its turn, with partners that change from turn to turn
		for k := range min(1+i%3, len(colours)) {
			code := colours[(i+k*(1+i/len(colours)))%len(colours)]
			mix[code] = top(code, math.Exp(-math.Log(50)*evenly(i, k+1)))
		}
		if total := totalOf(mix); b.MaxPHR > 0 && total > b.MaxPHR {
			for code := range mix {
				mix[code] *= b.MaxPHR / total
			}
		}
		out[i] = Interest{mix, b.setting(0)}
	}
	return out, nil
}

// totalOf adds up in a fixed order, for the last digit.
func totalOf(mix map[string]calibrate.PHR) (total calibrate.PHR) {
	for _, code := range slices.Sorted(maps.Keys(mix)) {
		total += mix[code]
	}
	return total
}

// evenly returns coordinate k of point i of a lattice that fills the unit cube
// in four dimensions evenly (Roberts 2018: powers of the root of x^5 = x + 1).
func evenly(i, k int) float64 {
	const root = 1.1673039782614187
	_, u := math.Modf(0.5 + float64(i+1)*math.Pow(root, -float64(k+1)))
	return u
}
