package layer_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/calibrate/layer"
	"masstone/color"
)

// table reads a reference table: comment lines, a heading, numbers. An empty
// field reads as NaN.
func table(t *testing.T, path string) []map[string]float64 {
	t.Helper()
	f, err := os.Open("../../testdata/" + path)
	require.NoError(t, err)
	defer f.Close()
	c := csv.NewReader(f)
	c.Comment = '#'
	rows, err := c.ReadAll()
	require.NoError(t, err)
	var out []map[string]float64
	for _, row := range rows[1:] {
		m := map[string]float64{}
		for i, field := range row {
			v := math.NaN()
			if field != "" {
				v, err = strconv.ParseFloat(field, 64)
				require.NoError(t, err)
			}
			m[rows[0][i]] = v
		}
		out = append(out, m)
	}
	require.NotEmpty(t, out)
	return out
}

// halfDigit8 is half of the eighth printed decimal.
const halfDigit8 = 0.5e-8 + 1e-15

// Kubelka 1948: a layer over five backings.
func TestFiniteLayer(t *testing.T) {
	for _, row := range table(t, "kubelka1948/km_finite.csv") {
		for name, g := range map[string]float64{"R_over_0": 0, "R_over_0.05": 0.05, "R_over_0.5": 0.5, "R_over_0.8": 0.8, "R_over_1": 1} {
			r := layer.InternalReflectance(row["K"], row["S"], row["X"], g)
			require.InDelta(t, row[name], r, halfDigit8, "%s of %v", name, row)
		}
		deep := layer.InternalReflectance(row["K"], row["S"], math.Inf(1), 0.3)
		if row["S"] > 0 {
			require.InDelta(t, row["R_inf"], deep, 2e-8, "R_inf of %v", row)
		}
	}
}

// Kubelka and Munk 1931: infinite depth.
func TestInfiniteLayer(t *testing.T) {
	for _, row := range table(t, "kubelka1948/km_infinite.csv") {
		for _, s := range []float64{1e-3, 1, 1e3} {
			r := layer.InternalReflectance(row["K_over_S"]*s, s, 1e9/s, 0.7)
			// The printed K/S has eight decimals, which is what limits R here.
			tol := halfDigit8 + halfDigit8/math.Max(row["K_over_S"], 1e-3)
			require.InDelta(t, row["R_inf"], r, tol, "%v at S %g", row, s)
		}
	}
}

// ISO 6504-3 criterion: contrast ratio 0.98 over 0 and 0.80.
func TestHiding(t *testing.T) {
	for _, row := range table(t, "kubelka1948/km_hiding.csv") {
		r0 := layer.InternalReflectance(row["K_over_S"], 1, row["SX_at_CR0.98"], 0)
		r8 := layer.InternalReflectance(row["K_over_S"], 1, row["SX_at_CR0.98"], 0.8)
		require.InDelta(t, 0.98, r0/r8, 1e-6, "%v", row)
		require.InDelta(t, row["R0_at_CR0.98"], r0, 0.6e-6, "%v", row)
	}
}

// Saunderson 1942: the surface. A layer without thickness passes its backing.
func TestSurface(t *testing.T) {
	for _, row := range table(t, "saunderson1942/saunderson_values.csv") {
		m := layer.KubelkaMunk{K1: row["k1"], K2: row["k2"]}
		require.InDelta(t, row["R_spin"], one(m, 1, 1, 0, row["R_internal"], color.SpecularIncluded).r, halfDigit8, "%v", row)
		require.InDelta(t, row["R_spex"], one(m, 1, 1, 0, row["R_internal"], color.SpecularExcluded).r, halfDigit8, "%v", row)
	}
}

type values struct{ r, dk, ds, dx, dg float64 }

// one puts the same input on every band and returns the last band's answer.
func one(l layer.Layer, k, s, x, g float64, specular color.Specular) values {
	var ks, ss, gs [color.Bands]float64
	for i := range ks {
		ks[i], ss[i], gs[i] = k, s, g
	}
	var p layer.Partials
	l.Bands(&ks, &ss, x, &gs, specular, &p)
	i := color.Bands - 1
	return values{p.R[i], p.DK[i], p.DS[i], p.DX[i], p.DG[i]}
}

// slope is the central difference of fourth order of f at x with a relative step.
func slope(f func(float64) float64, x, relative float64) float64 {
	h := x * relative
	return (8*(f(x+h)-f(x-h)) - (f(x+2*h) - f(x-2*h))) / (12 * h)
}

func drawLog(t *rapid.T, name string, lo, hi float64) float64 {
	return math.Exp(rapid.Float64Range(math.Log(lo), math.Log(hi)).Draw(t, name))
}

func drawSpecular(t *rapid.T) color.Specular {
	return rapid.SampledFrom([]color.Specular{color.SpecularIncluded, color.SpecularExcluded}).Draw(t, "specular")
}

// The partials, times their input (what a fit in logarithms sees), against
// differences of the reflectance.
func TestKubelkaMunkPartials(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k, s := drawLog(t, "K", 1e-6, 1e3), drawLog(t, "S", 1e-6, 1e3)
		x, g := drawLog(t, "X", 0.05, 20), rapid.Float64Range(0.01, 0.99).Draw(t, "Rg")
		m := layer.KubelkaMunk{K1: rapid.Float64Range(0, 0.1).Draw(t, "k1"), K2: rapid.Float64Range(0, 0.8).Draw(t, "k2")}
		sp := drawSpecular(t)
		v := one(m, k, s, x, g, sp)
		// At 1e-4 what the differences leave out passes 1e-9 where a white ground
		// under a strong white bends R within a hundredth of Rg.
		const h, tol = 3e-5, 1e-9
		for _, c := range []struct {
			name      string
			at, slope float64
			f         func(float64) float64
		}{
			{"K", k, v.dk, func(k float64) float64 { return one(m, k, s, x, g, sp).r }},
			{"S", s, v.ds, func(s float64) float64 { return one(m, k, s, x, g, sp).r }},
			{"X", x, v.dx, func(x float64) float64 { return one(m, k, s, x, g, sp).r }},
			{"Rg", g, v.dg, func(g float64) float64 { return one(m, k, s, x, g, sp).r }},
		} {
			require.InDelta(t, slope(c.f, c.at, h)*c.at, c.slope*c.at, tol, c.name)
		}
	})
}

// The partials to k1 and k2 against differences.
func TestSurfacePartials(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k1, k2 := rapid.Float64Range(0.01, 0.1).Draw(t, "k1"), rapid.Float64Range(0.1, 0.8).Draw(t, "k2")
		r, sp := rapid.Float64Range(0, 1).Draw(t, "R"), drawSpecular(t)
		at := func(k1, k2 float64) float64 {
			return one(layer.KubelkaMunk{K1: k1, K2: k2}, 0, 0, 0, r, sp).r
		}
		d1, d2 := layer.KubelkaMunk{K1: k1, K2: k2}.SurfacePartials(at(k1, k2), sp)
		require.InDelta(t, slope(func(k1 float64) float64 { return at(k1, k2) }, k1, 3e-4), d1, 1e-9)
		require.InDelta(t, slope(func(k2 float64) float64 { return at(k1, k2) }, k2, 3e-4), d2, 1e-9)
	})
}

// Limits with a known answer, and none that is not finite.
func TestKubelkaMunkLimits(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		name               string
		k, s, x, g, r, tol float64
	}{
		{"no thickness", 3, 2, 0, 0.4, 0.4, 1e-15},
		{"nothing in the resin", 0, 0, 5, 0.4, 0.4, 1e-15},
		{"nothing, infinitely deep", 0, 0, inf, 0.4, 0.4, 1e-15},
		{"only absorption", 0.7, 0, 1.5, 0.6, 0.6 * math.Exp(-2*0.7*1.5), 1e-15},
		{"only absorption, infinitely deep", 0.7, 0, inf, 0.6, 0, 1e-15},
		{"only scattering", 0, 2, 3, 0.3, (6*0.7 + 0.3) / (6*0.7 + 1), 1e-15},
		{"only scattering, infinitely deep", 0, 2, inf, 0.3, 1, 1e-8},
		{"backing of 1 under scattering", 0, 2, 3, 1, 1, 1e-15},
		{"below nothing is nothing", -1, -2, -3, 0.3, 0.3, 1e-15},
		{"huge", 1e6, 1e6, 1e6, 0.5, 2 - math.Sqrt(3), 1e-15},
	} {
		require.InDelta(t, c.r, layer.InternalReflectance(c.k, c.s, c.x, c.g), c.tol, c.name)
	}
	// The same number on both sides of the two switches of form.
	for _, z := range []float64{0.25, 40} {
		s := 2.0
		k := math.Sqrt(s*s+z*z) - s // X = 1
		a, b := one(layer.NewKubelkaMunk(), k*(1-1e-15), s, 1, 0.3, color.SpecularIncluded), one(layer.NewKubelkaMunk(), k*(1+1e-15), s, 1, 0.3, color.SpecularIncluded)
		require.InDelta(t, a.r, b.r, 1e-14)
		require.InDelta(t, a.dk, b.dk, 1e-13)
		require.InDelta(t, a.ds, b.ds, 1e-13)
		require.InDelta(t, a.dx, b.dx, 1e-13)
	}
	requireFinite(t, layer.NewKubelkaMunk(), 1e-12)
}

// requireFinite walks every corner a search could step into.
func requireFinite(t *testing.T, l layer.Layer, over float64) {
	t.Helper()
	coefficients := []float64{0, 5e-324, 1e-300, 1e-30, 1e-12, 1e-6, 1e-3, 1, 1e3, 1e6, 1e12}
	for _, k := range coefficients {
		for _, s := range coefficients {
			for _, x := range []float64{0, 1e-300, 1e-9, 0.05, 1, 20, 1e4, 1e9, math.Inf(1)} {
				for _, g := range []float64{0, 1e-9, 0.5, 1} {
					v := one(l, k, s, x, g, color.SpecularIncluded)
					for _, y := range []float64{v.r, v.dk, v.ds, v.dx, v.dg} {
						require.False(t, math.IsNaN(y) || math.IsInf(y, 0), "K %g S %g X %g Rg %g: %+v", k, s, x, g, v)
					}
					require.True(t, v.r >= 0 && v.r <= 1+over, "K %g S %g X %g Rg %g: %+v", k, s, x, g, v)
				}
			}
		}
	}
}
