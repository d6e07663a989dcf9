package color

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// ASTM E308, Table 5, A/10: three decimals printed.
func TestWeightsReproduceThePrintedTable(t *testing.T) {
	w := stepWeights(Condition{A, TenDegree}, 360, 10, 48)
	rows := readFigures(t, "astm-e308/weights_A_10deg_10nm.csv")
	require.Len(t, rows, 48)
	for i, row := range rows {
		for k, want := range row.triple(t, "WX", "WY", "WZ") {
			assert.InDelta(t, want, w[i][k], 5.001e-4, "%s nm, row %d", row["nm"], k)
		}
	}
}

// ASTM E2022 as another program computes it: four decimals.
func TestWeightsOfOtherLights(t *testing.T) {
	rows := readFigures(t, "astm-e2022/weights_10nm.csv")
	require.Len(t, rows, 48)
	for _, name := range []string{"D65_10", "FL2_10", "FL7_10", "FL11_10", "LED_B3_10", "D50_2"} {
		cut := strings.LastIndex(name, "_")
		c, err := ParseCondition(name[:cut] + "/" + name[cut+1:])
		require.NoError(t, err)
		w := stepWeights(c, 360, 10, 48)
		for i, row := range rows {
			for k, want := range row.triple(t, "WX_"+name, "WY_"+name, "WZ_"+name) {
				assert.InDelta(t, want, w[i][k], 5.1e-5, "%s, %s nm, row %d", c, row["nm"], k)
			}
		}
	}
}

// CIE 15:2018 prints two decimals; the file's sums of the 5 nm tables four.
func TestWhitePoints(t *testing.T) {
	published := 0
	rows := readFigures(t, "cie15/whitepoints.csv")
	require.Len(t, rows, 2*len(Illuminants()))
	for _, row := range rows {
		c, err := ParseCondition(row["illuminant"] + "/" + row["observer"])
		require.NoError(t, err)
		got, err := WhitePoint(c)
		require.NoError(t, err)
		if row["X_cie15"] != "" {
			published++
			assert.InDelta(t, row.num(t, "X_cie15"), got.X, 0.01, c)
			assert.InDelta(t, row.num(t, "Y_cie15"), got.Y, 0.01, c)
			assert.InDelta(t, row.num(t, "Z_cie15"), got.Z, 0.01, c)
		}
		assert.InDelta(t, row.num(t, "X_sum5"), got.X, 6e-5, c)
		assert.InDelta(t, row.num(t, "Z_sum5"), got.Z, 6e-5, c)
	}
	assert.Equal(t, 8, published)
}

// The white of the weights must not depend on the step or range of a reading,
// or Lab of one part by two instruments would differ by their grids.
func TestWhiteOfWeightsIsOneForEveryStep(t *testing.T) {
	for c, w := range allWeights() {
		for _, g := range []struct{ first, step, bands int }{
			{400, 10, 31}, {360, 10, 48}, {380, 5, 81}, {400, 20, 16}, {300, 20, 31}, {390, 10, 36},
		} {
			var sum [3]float64
			for _, v := range stepWeights(c, g.first, g.step, g.bands) {
				for k := range v {
					sum[k] += v[k]
				}
			}
			for k := range sum {
				assert.InDelta(t, w.White[k], sum[k], 1e-9, "%s %v", c, g)
			}
		}
		assert.InDelta(t, 100, w.White[1], 1e-9, c)
	}
}

func TestWeightsForGivesACopy(t *testing.T) {
	w, err := WeightsFor(D65Ten())
	require.NoError(t, err)
	w.W[0][0], w.White[0] = 1e9, 1e9
	again, err := WeightsFor(D65Ten())
	require.NoError(t, err)
	assert.Less(t, again.W[0][0], 1.0)
	assert.Less(t, again.White[0], 100.0)

	_, err = WeightsFor(Condition{"E", TenDegree})
	assert.ErrorContains(t, err, "unknown illuminant")
	_, err = WeightsFor(Condition{D65, 4})
	assert.ErrorContains(t, err, "unknown observer")
}

// Illuminant A, the table of ISO/CIE 11664-2 against its formula (3).
func TestIlluminantAFormula(t *testing.T) {
	column := tables().tabled[A]
	for i, want := range column.values {
		got := planckA(float64(column.firstNM + i*lightStep))
		assert.InEpsilon(t, want, got, 1e-5)
	}
}

func TestLabWithJacobianAgainstFiniteDifferences(t *testing.T) {
	conditions := []Condition{D65Ten(), {A, TwoDegree}, {FL11, TenDegree}}
	rapid.Check(t, func(t *rapid.T) {
		w, err := WeightsFor(rapid.SampledFrom(conditions).Draw(t, "condition"))
		if err != nil {
			t.Fatal(err)
		}
		r := drawReflectance(t)
		var lab [3]float64
		var jac [3][Bands]float64
		w.LabWithJacobian(&r, &lab, &jac)
		if plain := w.Lab(&r); lab != plain.Values() {
			t.Fatalf("Lab %v, with derivatives %v", plain, lab)
		}
		band := rapid.IntRange(0, Bands-1).Draw(t, "band")
		const h = 1e-6
		up, down := r, r
		up[band] += h
		down[band] -= h
		high, low := w.Lab(&up).Values(), w.Lab(&down).Values()
		for k := range 3 {
			got := (high[k] - low[k]) / (2 * h)
			if !(math.Abs(got-jac[k][band]) <= 1e-4*(1+math.Abs(got))) {
				t.Fatalf("band %d, value %d: %g, differences give %g", band, k, jac[k][band], got)
			}
		}
	})
}

func TestLabOfFlatCurves(t *testing.T) {
	for c, w := range allWeights() {
		white, black, grey := Constant(1), Constant(0), Constant(0.5)
		for r, want := range map[*Reflectance]float64{&white: 100, &black: 0, &grey: 116*math.Cbrt(0.5) - 16} {
			lab := w.Lab(r)
			assert.InDelta(t, want, lab.L, 1e-9, c)
			assert.InDelta(t, 0, lab.A, 1e-9, c)
			assert.InDelta(t, 0, lab.B, 1e-9, c)
			assert.Equal(t, c, lab.Under)
		}
	}
}

// drawReflectance draws a curve that stays off the kink of CIELAB near black,
// where differences straddle two formulas.
func drawReflectance(t *rapid.T) Reflectance {
	var r Reflectance
	for i := range r {
		r[i] = rapid.Float64Range(0.02, 1).Draw(t, "R"+strconv.Itoa(WavelengthNM(i)))
	}
	return r
}

func BenchmarkLabWithJacobian(b *testing.B) {
	w, err := WeightsFor(D65Ten())
	require.NoError(b, err)
	r := Constant(0.4)
	var lab [3]float64
	var jac [3][Bands]float64
	b.ReportAllocs()
	for b.Loop() {
		w.LabWithJacobian(&r, &lab, &jac)
	}
}

func BenchmarkLab(b *testing.B) {
	w, err := WeightsFor(D65Ten())
	require.NoError(b, err)
	r := Constant(0.4)
	b.ReportAllocs()
	for b.Loop() {
		sink = w.Lab(&r).L
	}
}

func TestHotFunctionsDoNotAllocate(t *testing.T) {
	w, err := WeightsFor(D65Ten())
	require.NoError(t, err)
	r := Constant(0.4)
	var lab [3]float64
	var jac [3][Bands]float64
	x, y := [3]float64{50, 20, 10}, [3]float64{51, 21, 9}
	assert.Zero(t, testing.AllocsPerRun(100, func() {
		w.LabWithJacobian(&r, &lab, &jac)
		sink = w.Lab(&r).L + w.XYZ(&r).X
		sink = Delta00(x, y) + Delta76(x, y) + Delta94(x, y, true) + DeltaCMC(x, y, 2, 1)
		m := Metric00(x)
		sink = m[0][0]
	}))
}
