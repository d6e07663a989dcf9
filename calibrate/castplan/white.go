package castplan

import (
	"math"

	"masstone/calibrate"
	"masstone/color"
)

// Whites lists the pigments that are white in a thick layer: L* of 80 and more
// and a chroma up to 12 under the calibration's main condition. Common
// practice, no source.
func Whites(c *calibrate.Calibration) ([]string, error) {
	thick := calibrate.Setting{Thickness: 1000, Backing: color.Constant(0.5), Specular: color.SpecularIncluded}
	e, err := c.Evaluator(thick)
	if err != nil {
		return nil, err
	}
	var out []string
	for i, code := range c.Codes() {
		e.Set([]int{i + 1}, []float64{100})
		if lab := e.Lab(0); lab.L >= 80 && math.Hypot(lab.A, lab.B) <= 12 {
			out = append(out, code)
		}
	}
	return out, nil
}
