package calibrate_test

import (
	"context"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

// The sensitivity to what the fit does not know, put through its covariance, is
// the covariance of Lab that the evaluator answers; the sensitivity to what is
// in the cup agrees with differences.
func TestSensitivity(t *testing.T) {
	s := virtualshop.Painted(2, 4)
	chips := s.CastAll(rand.New(rand.NewPCG(1, 'v')), s.Study(virtualshop.Tint))
	for _, layer := range []string{calibrate.KubelkaMunk, calibrate.ExactLayer} {
		c, err := calibrate.Fit(context.Background(), s.Codes, virtualshop.Spectra.Of(chips), calibrate.Options{Layer: layer})
		require.NoError(t, err)
		c.ModelError = calibrate.ModelError{Widen: 1}
		c.CastingError = calibrate.CastingError{K: 0.02, S: 0.03} // as of a crooked shop
		c.Noise.ScaleSD, c.Noise.OffsetSD = 0.004, 0.002
		pigments, phr := []int{1, 3}, []float64{0.8, 0.3}
		in := s.Setting
		in.Thickness = 1.5 // so that it shows
		e, err := c.Evaluator(in, color.D65Ten())
		require.NoError(t, err)
		e.Set(pigments, phr)
		sens := e.Sensitivity()
		require.Len(t, sens.Blocks, map[string]int{calibrate.KubelkaMunk: 7, calibrate.ExactLayer: 6}[layer], layer)

		w, err := color.WeightsFor(color.D65Ten())
		require.NoError(t, err)
		r := e.Reflectance()
		var lab [3]float64
		var jac [3][color.Bands]float64
		w.LabWithJacobian(&r, &lab, &jac)
		unknowns := e.Unknowns()
		width, _ := unknowns.Dims()
		g := mat.NewDense(3, width, nil)
		at := 0
		for _, b := range sens.Blocks {
			for i := range b.Len {
				for k := range 3 {
					sum := 0.0
					for band := range color.Bands {
						sum += jac[k][band] * sens.Unknown.At(band, at)
					}
					g.Set(k, b.First+i, sum)
				}
				at++
			}
		}
		_, columns := sens.Unknown.Dims()
		require.Equal(t, columns, at)
		var gc, got mat.Dense
		gc.Mul(g, unknowns)
		got.Mul(&gc, g.T())
		see := mat.NewDense(3, color.Bands, nil)
		for k := range 3 {
			see.SetRow(k, jac[k][:])
		}
		var own, square mat.Dense
		own.Mul(see, sens.Casting)
		square.Mul(&own, own.T())
		got.Add(&got, &square)
		grad := make([][3]float64, 2)
		e.LabGradient(0, grad)
		want := e.Covariance()
		for a := range 3 {
			for b := range 3 {
				require.InDelta(t, want[a][b], got.At(a, b), 1e-9*(1+want[a][a]+want[b][b]), "%s", layer)
			}
		}

		const h = 1e-5
		read := func(phr []float64, thickness calibrate.ThicknessMM) color.Reflectance {
			in.Thickness = thickness
			e, err := c.Evaluator(in)
			require.NoError(t, err)
			e.Set(pigments, phr)
			return e.Reflectance()
		}
		for k := range pigments {
			up, down := append([]float64(nil), phr...), append([]float64(nil), phr...)
			up[k] += h
			down[k] -= h
			more, less := read(up, 1.5), read(down, 1.5)
			for b := range color.Bands {
				require.InDelta(t, (more[b]-less[b])/(2*h), sens.Loading.At(b, k), 1e-5, "%s, pigment %d", layer, k)
			}
		}
		more, less := read(phr, 1.5+h), read(phr, 1.5-h)
		for b := range color.Bands {
			require.InDelta(t, (more[b]-less[b])/(2*h), sens.Thickness[b], 1e-5, layer)
		}
	}
}
