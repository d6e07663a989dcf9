package castplan_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

// A world is a shop whose truth is known, with a way to draw what its user
// wants. Chips are cast and read with all its errors.
type world struct {
	*virtualshop.Shop
	bench  *castplan.Bench
	layer  string
	wanted []map[string]calibrate.PHR // never cast, never planned for
	truth  []color.Lab
}

func newWorld(s *virtualshop.Shop, seed uint64, layer string) *world {
	w := &world{Shop: s, layer: layer, bench: &castplan.Bench{
		ChipGrams: s.ChipGrams, ScaleGrams: s.ScaleGrams, Thickness: s.Setting.Thickness,
		Measurement: color.Measurement{Geometry: color.Sphere, Specular: s.Setting.Specular},
		Backings:    []castplan.Backing{{Name: "white", Reflectance: s.Setting.Backing}, {Name: "black", Reflectance: s.Dark}},
	}}
	w.wanted = s.Mixtures(rand.New(rand.NewPCG(seed, 'w')), 120)
	for _, m := range w.wanted {
		w.truth = append(w.truth, s.Color(m, s.Setting, color.D65Ten()))
	}
	return w
}

// start lists the starting plan of the shop, not yet cast.
func (w *world) start(t testing.TB, perColour int) []castplan.Chip {
	t.Helper()
	chips, err := castplan.Start(castplan.Shelf{Pigments: w.Codes, Whites: []string{virtualshop.White}, PerColour: perColour, Level: w.Level}, w.bench)
	require.NoError(t, err)
	return chips
}

func (w *world) cast(rng *rand.Rand, chips []castplan.Chip) []calibrate.Chip {
	var out []calibrate.Chip
	for _, c := range chips {
		out = append(out, w.Cast(rng, c.Evidence()))
	}
	return out
}

func (w *world) fit(t testing.TB, e virtualshop.Evidence, chips ...[]calibrate.Chip) *calibrate.Calibration {
	t.Helper()
	var all []calibrate.Chip
	for _, c := range chips {
		all = append(all, c...)
	}
	c, err := calibrate.Fit(context.Background(), w.Codes, e.Of(all), calibrate.Options{Layer: w.layer})
	require.NoError(t, err)
	return c
}

// miss is the mean CIEDE2000 of the unseen mixtures under D65 and 10 degrees.
func (w *world) miss(t testing.TB, c *calibrate.Calibration) float64 {
	t.Helper()
	sum := 0.0
	for i, m := range w.wanted {
		p, err := c.Predict(calibrate.Sample{Loadings: m, Setting: w.Setting}, color.D65Ten())
		require.NoError(t, err)
		d, err := p.Colors[0].Lab.DeltaE00(w.truth[i])
		require.NoError(t, err)
		require.False(t, math.IsNaN(d))
		sum += d / float64(len(w.wanted))
	}
	return sum
}

// request asks for count chips out of the usual candidates, for the gamut.
func (w *world) request(t testing.TB, c *calibrate.Calibration, count int) castplan.Request {
	t.Helper()
	whites, err := castplan.Whites(c)
	require.NoError(t, err)
	candidates, err := castplan.Candidates(c, w.bench, whites)
	require.NoError(t, err)
	gamut, err := castplan.Gamut(c, w.bench, whites, 100)
	require.NoError(t, err)
	return castplan.Request{Reading: castplan.ReadingOf(c), Candidates: candidates, Interest: gamut, Count: count}
}
