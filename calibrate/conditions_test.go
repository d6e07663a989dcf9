package calibrate_test

import (
	"context"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/color"
)

// twoPastes is a calibration of eight chips read under D65, made once a model.
var (
	twoPastes = sync.OnceValues(func() (*calibrate.Calibration, error) {
		return calibrate.Fit(context.Background(), []string{"WH", "BL"}, exampleChips(), calibrate.Options{Layer: calibrate.KubelkaMunk})
	})
	twoPastesExact = sync.OnceValues(func() (*calibrate.Calibration, error) {
		return calibrate.Fit(context.Background(), []string{"WH", "BL"}, exampleChips(), calibrate.Options{Layer: calibrate.ExactLayer})
	})
	included    = color.Measurement{Geometry: color.Sphere, Specular: color.SpecularIncluded}
	excluded    = color.Measurement{Geometry: color.Sphere, Specular: color.SpecularExcluded}
	directional = color.Measurement{Geometry: color.Directional, Specular: color.SpecularExcluded}
)

func TestAdmit(t *testing.T) {
	cal, err := twoPastes()
	require.NoError(t, err)
	require.Equal(t, []color.Measurement{included}, cal.Measurements)
	require.InDelta(t, cal.Layer.K1, cal.Mirror(), 1e-12)
	d65 := color.Lab{L: 60, A: 5, B: 5, Under: color.D65Ten()}
	a := color.Lab{L: 61, A: 9, B: 8, Under: color.Under(color.A, color.TenDegree)}
	flat := color.Constant(0.4)
	for _, c := range []struct {
		name  string
		in    calibrate.Reading
		labs  []color.Lab
		done  string
		fails string
	}{
		{name: "as the chips", in: calibrate.Reading{Labs: []color.Lab{d65}, Measurement: included}, labs: []color.Lab{d65}},
		{name: "another light is left out", in: calibrate.Reading{Labs: []color.Lab{a, d65}, Measurement: included}, labs: []color.Lab{d65}, done: "under A/10 is not used"},
		{name: "another light only", in: calibrate.Reading{Labs: []color.Lab{a}, Measurement: included}, labs: []color.Lab{a}, done: "it was read under A/10, the chips of this calibration were read under D65/10: it is matched under A/10"},
		{name: "another light with a spectrum", in: calibrate.Reading{Labs: []color.Lab{a}, Spectrum: &flat, Measurement: included},
			labs: []color.Lab{{L: 69.4695, Under: color.D65Ten()}}, done: "comes from its spectrum"}, // L* of Y = 40: 116 0.4^(1/3) - 16
		{name: "specular excluded", in: calibrate.Reading{Labs: []color.Lab{d65}, Measurement: excluded}, labs: []color.Lab{d65}, done: "predictions are made without the surface's mirror reflection (0.039"},
		{name: "45/0", in: calibrate.Reading{Labs: []color.Lab{d65}, Measurement: directional}, fails: "was read in 45/0, the chips of this calibration in d/8"},
		{name: "no word of how", in: calibrate.Reading{Labs: []color.Lab{d65}}, labs: []color.Lab{d65}},
	} {
		t.Run(c.name, func(t *testing.T) {
			out, done, err := cal.Admit(c.in)
			if c.fails != "" {
				require.ErrorContains(t, err, c.fails)
				require.NotContains(t, err.Error(), "\n")
				return
			}
			require.NoError(t, err)
			require.Len(t, out.Labs, len(c.labs))
			for i := range c.labs {
				require.Equal(t, c.labs[i].Under, out.Labs[i].Under)
				for k, v := range c.labs[i].Values() {
					require.InDelta(t, v, out.Labs[i].Values()[k], 1e-3)
				}
			}
			require.Equal(t, c.in.Measurement, out.Measurement)
			if c.done == "" {
				require.Empty(t, done)
				return
			}
			require.Contains(t, strings.Join(done, "; "), c.done)
		})
	}
}

// A mixture predicted in one mode and brought to the other is the mixture
// predicted in the other, whatever the layer: a smooth surface adds the same to
// every band.
func TestAsAgreesWithThePrediction(t *testing.T) {
	for name, shop := range map[string]func() (*calibrate.Calibration, error){"kubelka-munk": twoPastes, "exact": twoPastesExact} {
		t.Run(name, func(t *testing.T) {
			cal, err := shop()
			require.NoError(t, err)
			at := func(m color.Measurement) calibrate.Reading {
				p, err := cal.Predict(calibrate.Sample{Loadings: phr{"WH": 0.5, "BL": 0.5},
					Setting: calibrate.Setting{Thickness: 3, Backing: color.Constant(0.9), Specular: m.Specular}},
					color.D65Ten(), color.Under(color.A, color.TwoDegree))
				require.NoError(t, err)
				return calibrate.Reading{Labs: []color.Lab{p.Colors[0].Lab, p.Colors[1].Lab}, Spectrum: &p.Reflectance, Measurement: m}
			}
			for _, way := range [][2]color.Measurement{{included, excluded}, {excluded, included}} {
				want := at(way[1])
				got, done, err := cal.As(at(way[0]), way[1])
				require.NoError(t, err)
				require.Contains(t, done, "as for a smooth surface")
				require.Equal(t, way[1], got.Measurement)
				for b := range want.Spectrum {
					require.InDelta(t, want.Spectrum[b], got.Spectrum[b], 1e-9)
				}
				for i := range want.Labs {
					require.Equal(t, want.Labs[i].Under, got.Labs[i].Under)
					de, err := want.Labs[i].DeltaE00(got.Labs[i])
					require.NoError(t, err)
					require.InDelta(t, 0, de, 1e-6)
				}
			}
		})
	}
}

func TestAsRefuses(t *testing.T) {
	cal, err := twoPastes()
	require.NoError(t, err)
	lab := []color.Lab{{L: 5, Under: color.D65Ten()}} // Y = 0.55 %: a surface alone reflects 4 %
	_, done, err := cal.As(calibrate.Reading{Labs: lab, Measurement: included}, included)
	require.NoError(t, err)
	require.Empty(t, done)
	_, _, err = cal.As(calibrate.Reading{Labs: lab, Measurement: included}, excluded)
	require.ErrorContains(t, err, "darker than the surface alone")
	black := color.Constant(0.01)
	_, _, err = cal.As(calibrate.Reading{Spectrum: &black, Measurement: included}, excluded)
	require.ErrorContains(t, err, "darker than the surface alone")
	_, _, err = cal.As(calibrate.Reading{Labs: lab, Measurement: directional}, included)
	require.ErrorContains(t, err, "was read in 45/0, not in d/8")
}

func TestChipsOfTwoGeometries(t *testing.T) {
	chips := exampleChips()
	chips[3].Measurement = directional
	_, err := calibrate.Fit(context.Background(), []string{"WH", "BL"}, chips, calibrate.Options{Layer: calibrate.KubelkaMunk})
	require.ErrorContains(t, err, "chip C-04 was read in 45/0, chip C-01 in d/8")
}
