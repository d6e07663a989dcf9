package calibrate_test

import (
	"math/rand/v2"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

// pieces casts one piece of each mixture; its colour is the truth to foretell.
func pieces(s *virtualshop.Shop, rng *rand.Rand, mixtures []map[string]calibrate.PHR) []unseen {
	var out []unseen
	w, err := color.WeightsFor(color.D65Ten())
	if err != nil {
		panic(err)
	}
	for _, m := range mixtures {
		r := s.Piece(rng, m, s.Setting)
		out = append(out, unseen{calibrate.Sample{Loadings: m, Setting: s.Setting}, w.Lab(&r)})
	}
	return out
}

// seen takes readings for the truth to foretell.
func seen(readings []calibrate.Chip) []unseen {
	var out []unseen
	w, err := color.WeightsFor(color.D65Ten())
	if err != nil {
		panic(err)
	}
	for _, c := range readings {
		set := calibrate.Setting{Thickness: c.Thickness, Backing: c.Backing, Specular: c.Measurement.Specular, ThicknessSD: c.ThicknessSD}
		out = append(out, unseen{calibrate.Sample{Loadings: c.Loadings, Setting: set}, w.Lab(c.Spectrum)})
	}
	return out
}
