package calibrate

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/calibrate/layer"
	"masstone/color"
)

// invented is a calibration of two pigments made up for a test: nothing fitted,
// every curve open in three directions, with the surface's or without.
func invented(surface bool) *Calibration {
	c := &Calibration{
		Layer: LayerModel{Name: KubelkaMunk, K1: 0.04, K2: 0.6}, model: layer.KubelkaMunk{K1: 0.04, K2: 0.6},
		Main: color.D65Ten(), Noise: usualNoise, ModelError: ModelError{Widen: 1.2, Floor: 0.1},
		Posterior: &posterior{},
	}
	p := c.Posterior
	for q, code := range []string{"", "WH", "RD"} {
		curve := Curve{Code: code}
		for b := range color.Bands {
			x := float64(b) / color.Bands
			curve.K[b] = []float64{0.01, 0.002, 3 * math.Exp(-6*x)}[q]
			curve.S[b] = []float64{0.02, 4 - x, 0.5}[q]
			curve.KSD[b], curve.SSD[b] = 0.1, 0.1
		}
		c.Curves = append(c.Curves, curve)
		p.Rank = append(p.Rank, 3)
		for r := range 3 {
			for i := range perCurve {
				p.Basis = append(p.Basis, 0.05*math.Cos(float64(i*(r+1)+q)/9))
			}
		}
	}
	if surface {
		p.Rank = append(p.Rank, 2)
		p.Basis = append(p.Basis, 1, 0, 0, 1)
	}
	n := p.width()
	for i := range n {
		for k := i; k < n; k++ {
			v := 0.3 * math.Exp(-float64(k-i)/2)
			if i == k {
				v = 1
			}
			if k >= 9 { // k1 and k2 are small
				v *= 0.01
			}
			if i >= 9 {
				v *= 0.01
			}
			p.Cov = append(p.Cov, v)
		}
	}
	return c
}

// J is the derivative of h, for every kind of reading and unknown.
func TestUpdateJacobian(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := invented(rapid.Bool().Draw(t, "surface"))
		c, err := c.NewLot(map[string]float64{"": 0.1, "RD": 0.1})
		require.NoError(t, err)
		var chips []Chip
		for i := range rapid.IntRange(1, 3).Draw(t, "chips") {
			chip := Chip{
				Name: fmt.Sprint("N", i), Thickness: 2, Backing: color.Constant(0.6), ThicknessSD: 0.1,
				Loadings:    map[string]PHR{"WH": PHR(rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(1e-9, 1)).Draw(t, "WH")), "RD": PHR(rapid.Float64Range(0.02, 1).Draw(t, "RD"))},
				Measurement: color.Measurement{Specular: rapid.SampledFrom([]color.Specular{color.SpecularIncluded, color.SpecularExcluded}).Draw(t, "specular")},
				ChipGrams:   50, ScaleGrams: 0.01,
				Labs: []color.Lab{{L: 50, Under: color.D65Ten()}, {L: 50, Under: color.Under(color.A, color.TenDegree)}},
			}
			if rapid.Bool().Draw(t, "spectrum") {
				r := color.Constant(0.4)
				chip.Spectrum = &r
			}
			chips = append(chips, chip)
		}
		l, err := newUpdate(c, chips, LearnOptions{
			Bias:     rapid.SampledFrom([]float64{0, 0.3}).Draw(t, "bias"),
			Scatter:  rapid.SampledFrom([]float64{0, 0.05}).Draw(t, "scatter"),
			Readings: map[string]int{"N0": 3},
		})
		require.NoError(t, err)
		x := make([]float64, l.n)
		for i := range x {
			x[i] = rapid.Float64Range(-1, 1).Draw(t, "x")
		}
		l.linearise(x)
		jac := append([]float64(nil), l.jac.RawMatrix().Data...)
		const h = 1e-5
		for k := range x {
			step := append([]float64(nil), x...)
			step[k] = x[k] + h
			up := l.linearise(step)
			step[k] = x[k] - h
			down := l.linearise(step)
			for i := range l.rows {
				want := (down.AtVec(i) - up.AtVec(i)) / (2 * h)
				if got := jac[i*l.n+k]; !(math.Abs(got-want) <= 1e-4*(1+math.Abs(want))) {
					t.Fatalf("row %d by unknown %d of %d: %g, differences say %g", i, k, l.n, got, want)
				}
			}
		}
	})
}

// Where readings are exact and plenty the posterior goes where they say; where
// they are hopeless it stays.
func TestUpdateBetweenPriorAndReadings(t *testing.T) {
	c, err := invented(false).NewLot(map[string]float64{"RD": 0.2})
	require.NoError(t, err)
	truth, err := c.WithLots(map[string]Strength{"RD": {Ln: 0.25}})
	require.NoError(t, err)
	var chips []Chip
	for i, phr := range []PHR{0.02, 0.05, 0.1, 0.2, 0.5, 1} {
		chip := Chip{Name: fmt.Sprint("N", i), Thickness: 3, Backing: color.Constant(0.9), Measurement: color.Measurement{Specular: color.SpecularIncluded}, Loadings: map[string]PHR{"WH": 1, "RD": phr}}
		p, err := truth.Predict(Sample{Loadings: chip.Loadings, Setting: Setting{Thickness: 3, Backing: chip.Backing, Specular: color.SpecularIncluded}})
		require.NoError(t, err)
		chip.Spectrum = &p.Reflectance
		chips = append(chips, chip)
	}
	learn := func(noise float64) Strength {
		d := *c
		d.Noise.SpectrumSD = noise
		d.ModelError.Floor = 0
		_, learned, err := d.Learn(chips, LearnOptions{})
		require.NoError(t, err)
		return learned.Strengths["RD"]
	}
	sharp, blind := learn(1e-5), learn(10)
	require.InDelta(t, 0.25, sharp.Ln, 3*sharp.SD)
	require.Less(t, sharp.SD, 0.05)
	require.InDelta(t, 0, blind.Ln, 0.01)
	require.InDelta(t, 0.2, blind.SD, 0.001)
}

// What a discrepancy of a given size does to a colour is that size.
func TestDiscrepancySize(t *testing.T) {
	w, err := color.WeightsFor(color.D65Ten())
	require.NoError(t, err)
	for _, r := range []float64{0.03, 0.2, 0.8} {
		refl := color.Constant(r)
		d := discrepancy{Size: discrepancySize(0.3, (*[color.Bands]float64)(&refl), w)}
		var lab [3]float64
		var jac [3][color.Bands]float64
		w.LabWithJacobian(&refl, &lab, &jac)
		sum := 0.0 // E dE00^2 of three directions
		for k := range discrepancyRank {
			moved := lab
			for i := range moved {
				moved[i] += 1e-3 * d.slope(k, &jac[i], (*[color.Bands]float64)(&refl))
			}
			sum += math.Pow(color.Delta00(lab, moved)*1e3, 2)
		}
		require.InDelta(t, 3*0.3*0.3, sum, 0.03*sum, "reflectance %g", r)
	}
}

// NIST/SEMATECH e-Handbook of Statistical Methods, table 1.3.6.7.4: upper
// critical values of chi-square; the normal deviates are those of 1.3.6.7.1.
func TestRarity(t *testing.T) {
	for _, tt := range []struct{ n, chi2, want float64 }{
		{3, 7.815, 1.645}, {3, 16.266, 3.090}, {9, 16.919, 1.645}, {9, 27.877, 3.090}, {31, 44.985, 1.645}, {31, 61.098, 3.090}, {3, 1, 0},
	} {
		require.InDelta(t, tt.want, rarity(tt.chi2, tt.n), 0.04, "%g of %g", tt.chi2, tt.n)
	}
}
