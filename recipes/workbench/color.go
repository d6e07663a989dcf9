package workbench

import (
	"masstone/calibrate"
	"masstone/recipes/figure"
)

// A PredictedColor is a colour predicted under a light, with its doubt.
type PredictedColor struct {
	Under    string        `json:"under"`
	Lab      figure.Lab    `json:"lab"`
	Half95   figure.Lab    `json:"half95"`
	Expected figure.Number `json:"expected_dE00"`
	Upper95  figure.Number `json:"upper95_dE00"`
	Screen   string        `json:"swatch"`
	InGamut  bool          `json:"swatch_in_gamut"`
}

func predictedColor(p calibrate.PredictedColor) PredictedColor {
	v := PredictedColor{Under: p.Lab.Under.String(), Lab: figure.LabOf(p.Lab), Half95: figure.Three(p.Half95),
		Expected: figure.Number(p.Expected), Upper95: figure.Number(p.Upper95)}
	if s, err := p.Lab.Swatch(); err == nil {
		v.Screen, v.InGamut = s.Hex(), s.InGamut
	}
	return v
}

func predictedColors(colors []calibrate.PredictedColor) []PredictedColor {
	views := make([]PredictedColor, len(colors))
	for i, c := range colors {
		views[i] = predictedColor(c)
	}
	return views
}
