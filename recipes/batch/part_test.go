package batch_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/recipes/batch"
)

// The density of water, g/ml, as handbooks print it (CRC Handbook of Chemistry
// and Physics, "Standard density of water", after Kell 1975; from memory).
func TestWaterDensity(t *testing.T) {
	for celsius, want := range map[float64]float64{
		0: 0.999843, 4: 0.999975, 10: 0.999703, 15: 0.999103, 20: 0.998207, 25: 0.997048, 30: 0.995650, 40: 0.992219,
	} {
		got, err := batch.WaterDensity(celsius)
		require.NoError(t, err)
		require.InDelta(t, want, got.GramsPerML(), 5e-6, "%g °C", celsius)
	}
	for _, celsius := range []float64{-1, 41, math.NaN(), math.Inf(1)} {
		_, err := batch.WaterDensity(celsius)
		require.ErrorContains(t, err, "give 0 to 40 °C")
	}
}

// By hand: 2.90 g of 1.21 g/ml are 2.3967 ml; 2.40 g of water at 20 °C are
// 2.40/0.998207 = 2.40431 ml, at 35 °C (0.994032, the same handbook) 2.41441 ml;
// 2.90 g that displace them have 1.20617 g/ml.
func TestMeasuredPart(t *testing.T) {
	g := batch.Grams
	for _, c := range []struct {
		w           batch.Weighing
		ml, density float64
		by          string
	}{
		{batch.Weighing{Original: g(2.9), Density: batch.GramsPerML(1.21)}, 2.39669, 1.21, "an original of 2.9 g at 1.21 g/ml"},
		{batch.Weighing{Filled: g(2.4), Celsius: 20}, 2.40431, 0, "2.4 g of water at 20 °C that fill the mould"},
		{batch.Weighing{Filled: g(2.4), Celsius: 35}, 2.41441, 0, "2.4 g of water at 35 °C that fill the mould"},
		{batch.Weighing{Displaced: g(2.4), Celsius: 20}, 2.40431, 0, "2.4 g of water at 20 °C that the original displaces"},
		{batch.Weighing{Original: g(2.9), Displaced: g(2.4), Celsius: 20}, 2.40431, 1.20617, "2.4 g of water at 20 °C that the original displaces"},
	} {
		p, err := c.w.Measured()
		require.NoError(t, err)
		require.InDelta(t, c.ml, p.Volume.Millilitres(), 2e-5)
		require.InDelta(t, c.density, p.Density.GramsPerML(), 2e-5)
		require.Equal(t, c.by, p.By)
	}
	for what, w := range map[string]batch.Weighing{
		"is of unknown density":          {Original: g(2.9)},
		"give one of":                    {},
		"give the grams of the original": {Density: batch.GramsPerML(1.2)},
		"give either the original":       {Original: g(2.9), Filled: g(2)},
		"density of the original":        {Original: g(2.9), Density: batch.GramsPerML(1210)},
		"weigh both again":               {Original: g(2.9), Displaced: g(24), Celsius: 20},
		"negative":                       {Original: g(-1), Filled: g(2)},
		"0 to 40":                        {Filled: g(2), Celsius: 80},
	} {
		_, err := w.Measured()
		require.ErrorContains(t, err, what)
	}
	_, err := batch.Weighing{Displaced: g(2), Filled: g(2)}.Measured()
	require.ErrorContains(t, err, "give one of")
}

// By hand: 2.4 ml that shrink by 4 % are fed with 2.5 ml, and 0.8 ml of sprue
// and 0.3 ml of syringe make 3.6 ml a shot; 30 of them and a tenth of waste at
// 1.025707 g/ml (see TestCupsByPotLife) are 121.854 g.
func TestShotWithSprue(t *testing.T) {
	r := request(0, nil)
	r.Order = batch.Order{Cavity: batch.Millilitres(2.4), Shots: 30, Waste: 0.1, Sprue: batch.Millilitres(0.8), Syringe: batch.Millilitres(0.3), Shrinkage: 0.04}
	s, err := batch.Plan(r)
	require.NoError(t, err)
	require.InDelta(t, 121.854, s.Ordered.Grams(), 0.0101)
	require.InDelta(t, 3.6, s.Shot.Volume.Millilitres(), 1e-9)
	require.Equal(t, 30, s.Shot.Parts)

	s, err = batch.Plan(request(100, nil))
	require.NoError(t, err)
	require.Nil(t, s.Shot, "no shots ordered")

	for what, spoil := range map[string]func(*batch.Order){
		"sprue and vents of": func(o *batch.Order) { o.Sprue = batch.Millilitres(-1) },
		"syringe of":         func(o *batch.Order) { o.Syringe = batch.Millilitres(1e9) },
		"shrinkage of":       func(o *batch.Order) { o.Shrinkage = 0.5 },
	} {
		o := r.Order
		spoil(&o)
		_, err := o.Mass(batch.GramsPerML(1))
		require.ErrorContains(t, err, what)
	}
	_, err = batch.Order{Total: batch.Grams(10), Sprue: batch.Millilitres(1)}.Mass(batch.GramsPerML(1))
	require.ErrorContains(t, err, "both a mass and a cavity")
}

// What is measured by displacement is what fills the mould made of it, and a
// batch never holds less than its shots take.
func TestPartVolumes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ml := rapid.Float64Range(0.2, 500).Draw(t, "ml")
		celsius := rapid.Float64Range(1, 40).Draw(t, "celsius")
		water, err := batch.WaterDensity(celsius)
		require.NoError(t, err)
		for _, w := range []batch.Weighing{
			{Displaced: batch.Grams(ml * water.GramsPerML()), Celsius: celsius},
			{Filled: batch.Grams(ml * water.GramsPerML()), Celsius: celsius},
		} {
			p, err := w.Measured()
			require.NoError(t, err)
			require.InDelta(t, ml, p.Volume.Millilitres(), 2e-6)
		}
		o := batch.Order{Cavity: batch.Millilitres(ml), Shots: rapid.IntRange(1, 50).Draw(t, "shots"), Sprue: batch.Millilitres(rapid.Float64Range(0, 5).Draw(t, "sprue"))}
		rho := batch.GramsPerML(rapid.Float64Range(0.9, 1.4).Draw(t, "rho"))
		m, err := o.Mass(rho)
		require.NoError(t, err)
		require.InDelta(t, (ml+o.Sprue.Millilitres())*float64(o.Shots)*rho.GramsPerML(), m.Grams(), 1e-5)
	})
}
