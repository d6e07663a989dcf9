package recipes

import (
	"masstone/calibrate"
	"masstone/color"
)

// The backings over which opacity is judged: reflectance factors of a usual
// white and black tile. From memory.
const (
	whiteBacking = 0.90
	blackBacking = 0.03
)

// hiding is the contrast ratio at which a layer counts as opaque (ISO 6504-3,
// ASTM D2805).
const hiding = 0.98

// Opacity returns the contrast ratio of a mixture at a thickness, its luminance
// Y over black to that over white, and the thickness at which the ratio
// reaches 0.98, or 0 if no thickness up to a metre does.
func Opacity(cal *calibrate.Calibration, loadings map[string]calibrate.PHR, thickness calibrate.ThicknessMM) (ratio float64, hides calibrate.ThicknessMM, err error) {
	pigments, phr, err := cal.Resolve(loadings)
	if err != nil {
		return 0, 0, err
	}
	over := func(backing float64, x calibrate.ThicknessMM) calibrate.Setting {
		return calibrate.Setting{Thickness: x, Backing: color.Constant(backing), Specular: color.SpecularIncluded}
	}
	prepared, err := cal.Evaluator(over(whiteBacking, thickness))
	if err != nil {
		return 0, 0, err
	}
	at := func(x calibrate.ThicknessMM) (float64, error) {
		var y [2]float64
		for i, backing := range [2]float64{blackBacking, whiteBacking} {
			e, err := prepared.In(over(backing, x))
			if err != nil {
				return 0, err
			}
			e.Set(pigments, phr)
			y[i], _ = luminance(e.Lab(0).L)
		}
		return y[0] / y[1], nil
	}
	if ratio, err = at(thickness); err != nil {
		return 0, 0, err
	}
	lo, hi := calibrate.ThicknessMM(1e-3), calibrate.ThicknessMM(1000)
	if top, err := at(hi); err != nil || top < hiding {
		return ratio, 0, err
	}
	for hi/lo > 1.0005 {
		mid := (lo + hi) / 2
		if hi/lo > 4 {
			mid = lo * 2
		}
		r, err := at(mid)
		if err != nil {
			return 0, 0, err
		}
		if r >= hiding {
			hi = mid
		} else {
			lo = mid
		}
	}
	return ratio, hi, nil
}
