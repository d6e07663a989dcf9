package color

import (
	"math"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var chartConditions = map[string]Condition{"D50_2": {D50, TwoDegree}, "D65_10": {D65, TenDegree}}

// Ohta 1997, 380-730 nm at 10 nm; Lab by the 10 nm weights.
func TestChartToLabAt10NM(t *testing.T) {
	worst := 0.0
	for _, row := range readFigures(t, "ohta1997/chart_10nm.csv") {
		s := row.spectrum(t, 380, 730, 10)
		for name, c := range chartConditions {
			got, err := s.Lab(c)
			require.NoError(t, err)
			for k, want := range row.triple(t, "L_"+name+"_w10", "a_"+name+"_w10", "b_"+name+"_w10") {
				worst = math.Max(worst, math.Abs(got.Values()[k]-want))
				assert.InDelta(t, want, got.Values()[k], 0.01, "patch %s %s", row["patch"], c)
			}
		}
	}
	t.Logf("largest difference %.4f", worst)
}

// Ohta 1997, 380-780 nm at 5 nm; Lab by plain sums of the 5 nm tables, another
// route than the 5 nm weights taken here.
func TestChartToLabAt5NM(t *testing.T) {
	worst := 0.0
	wants := map[string]figures{}
	for _, row := range readFigures(t, "ohta1997/chart_10nm.csv") {
		wants[row["patch"]] = row
	}
	for _, row := range readFigures(t, "ohta1997/chart_5nm.csv") {
		s := row.spectrum(t, 380, 780, 5)
		for name, c := range chartConditions {
			got, err := s.Lab(c)
			require.NoError(t, err)
			for k, want := range wants[row["patch"]].triple(t, "L_"+name+"_s5", "a_"+name+"_s5", "b_"+name+"_s5") {
				worst = math.Max(worst, math.Abs(got.Values()[k]-want))
				assert.InDelta(t, want, got.Values()[k], 0.01, "patch %s %s", row["patch"], c)
			}
		}
	}
	t.Logf("largest difference %.4f", worst)
}

// The chart at 20 nm, brought to 10 nm, against its own 10 nm values: Sprague's
// polynomial leaves 0.0027 rms, the cubic of ASTM E2022 0.0029.
func TestReflectanceFrom20NM(t *testing.T) {
	square, n := 0.0, 0.0
	for _, row := range readFigures(t, "ohta1997/chart_10nm.csv") {
		want, err := row.spectrum(t, 380, 730, 10).Reflectance()
		require.NoError(t, err)
		coarse := Spectrum{FirstNM: 400, StepNM: 20}
		for i := 0; i < Bands; i += 2 {
			coarse.R = append(coarse.R, want[i])
		}
		got, err := coarse.Reflectance()
		require.NoError(t, err)
		for i := range got {
			if i%2 == 0 {
				assert.Equal(t, want[i], got[i])
				continue
			}
			square += (got[i] - want[i]) * (got[i] - want[i])
			n++
		}
	}
	assert.Less(t, math.Sqrt(square/n), 0.0028)
}

func TestReflectanceFrom5NMTakesEverySecondBand(t *testing.T) {
	for _, row := range readFigures(t, "ohta1997/chart_5nm.csv") {
		got, err := row.spectrum(t, 380, 780, 5).Reflectance()
		require.NoError(t, err)
		for i := range got {
			assert.Equal(t, row.num(t, "R"+strconv.Itoa(WavelengthNM(i))), got[i])
		}
	}
}

// A reading on exactly the model grid must give one Lab by either door.
func TestSpectrumAndWeightsAgreeOnTheModelGrid(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := drawReflectance(t)
		for c, w := range allWeights() {
			want := w.Lab(&r).Values()
			got, err := Spectrum{FirstNM, StepNM, r[:]}.Lab(c)
			if err != nil {
				t.Fatal(err)
			}
			xyz, err := Spectrum{FirstNM, StepNM, r[:]}.XYZ(c)
			if err != nil {
				t.Fatal(err)
			}
			byXYZ, err := xyz.Lab()
			if err != nil {
				t.Fatal(err)
			}
			for k := range want {
				if !(math.Abs(got.Values()[k]-want[k]) <= 1e-9) || !(math.Abs(byXYZ.Values()[k]-want[k]) <= 1e-9) {
					t.Fatalf("%s: %v, %v by XYZ, weights %v", c, got, byXYZ, want)
				}
			}
		}
	})
}

// Cubic curves are what (4) interpolates exactly, so a cubic read at any step
// and range must have one colour. Only the ends differ: beyond 400-700 nm the
// folded weights hold the end value, and (4) is quadratic beside 360 nm.
func TestLabDoesNotDependOnTheStep(t *testing.T) {
	cubic := func(nm int) float64 {
		x := float64(nm-595) / 235
		return 0.5 + 0.2*x - 0.15*x*x + 0.1*x*x*x
	}
	read := func(first, last, step int) Spectrum {
		s := Spectrum{FirstNM: first, StepNM: step}
		for nm := first; nm <= last; nm += step {
			s.R = append(s.R, cubic(nm))
		}
		return s
	}
	for _, c := range []Condition{D65Ten(), {FL11, TenDegree}, {A, TwoDegree}} {
		fine, err := read(360, 830, 5).Lab(c)
		require.NoError(t, err)
		for _, step := range []int{10, 20} {
			coarse, err := read(360, 830, step).Lab(c)
			require.NoError(t, err)
			assert.InDelta(t, 0, Delta76(fine.Values(), coarse.Values()), 2e-4, "%s at %d nm", c, step)
		}
	}
}

func TestSpectrumRefuses(t *testing.T) {
	flat := func(first, step, bands int) Spectrum {
		s := Spectrum{FirstNM: first, StepNM: step, R: make([]float64, bands)}
		for i := range s.R {
			s.R[i] = 0.5
		}
		return s
	}
	with := func(v float64) Spectrum {
		s := flat(400, 10, 31)
		s.R[4] = v
		return s
	}
	for _, c := range []struct {
		s    Spectrum
		says string
	}{
		{flat(400, 7, 60), "bands are 7 nm apart"},
		{flat(400, 2, 151), "bands are 2 nm apart"},
		{flat(400, 0, 31), "bands are 0 nm apart"},
		{flat(400, -10, 31), "bands are -10 nm apart"},
		{flat(400, 10, 0), "400-700 nm are needed"},
		{flat(420, 20, 15), "bands cover 420-700 nm"},
		{flat(400, 10, 30), "bands cover 400-690 nm"},
		{flat(395, 10, 40), "pass by 400 nm"},
		{flat(390, 20, 20), "pass by 400 nm"},
		{flat(100, 10, 80), "do not lie within"},
		{flat(400, 5, 1000), "do not lie within"},
		{flat(math.MinInt, 5, 100), "do not lie within"},
		{with(math.NaN()), "at 440 nm is not a number"},
		{with(math.Inf(1)), "at 440 nm is not a number"},
		{with(-0.01), "at 440 nm is negative"},
		{with(62.1), "divide by 100"},
	} {
		assert.ErrorContains(t, c.s.Check(), c.says)
		_, err := c.s.Reflectance()
		assert.ErrorContains(t, err, c.says)
		_, err = c.s.Lab(D65Ten())
		assert.ErrorContains(t, err, c.says)
		_, err = c.s.XYZ(D65Ten())
		assert.ErrorContains(t, err, c.says)
	}
	_, err := flat(400, 10, 31).Lab(Condition{"E", 10})
	assert.ErrorContains(t, err, "unknown illuminant")
}

func FuzzSpectrum(f *testing.F) {
	f.Add(400, 10, 31, 0.5, 0.1)
	f.Add(380, 5, 81, 0.0, 2.0)
	f.Add(360, 20, 24, 1.0, math.NaN())
	f.Add(math.MaxInt, 20, 24, 1.0, 1.0)
	f.Fuzz(func(t *testing.T, first, step, bands int, low, high float64) {
		s := Spectrum{FirstNM: first, StepNM: step, R: make([]float64, min(max(bands, 0), 4096))}
		for i := range s.R {
			s.R[i] = low
			if i%3 == 0 {
				s.R[i] = high
			}
		}
		r, err := s.Reflectance()
		lab, labErr := s.Lab(D65Ten())
		require.Equal(t, err == nil, labErr == nil)
		if err != nil {
			return
		}
		for _, v := range append(r[:], lab.L, lab.A, lab.B) {
			require.False(t, math.IsNaN(v) || math.IsInf(v, 0), "%v gave %v %v", s, r, lab)
		}
	})
}

func BenchmarkSpectrumLab(b *testing.B) {
	r := Constant(0.4)
	s := Spectrum{FirstNM, StepNM, r[:]}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := s.Lab(D65Ten()); err != nil {
			b.Fatal(err)
		}
	}
}
