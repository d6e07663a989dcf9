package readings

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/color"
)

// optimal gives the two-transition reflectance of MacAdam 1935: 1 from the
// first transition to the second, both in fractions of bands, and 0 elsewhere;
// outer turns it inside out.
func optimal(from, to float64, outer bool) color.Reflectance {
	var r color.Reflectance
	for i := range r {
		r[i] = math.Max(0, math.Min(to, float64(i+1))-math.Max(from, float64(i)))
		if outer {
			r[i] = 1 - r[i]
		}
	}
	return r
}

// Any reflectance from 0 to 1 lies in the solid: its definition.
func TestSolidHoldsEverySurface(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		under := rapid.SampledFrom(color.Illuminants()).Draw(t, "illuminant")
		s, err := solidOf(color.Under(under, 10))
		require.NoError(t, err)
		var r color.Reflectance
		for i := range r {
			r[i] = rapid.Float64Range(0, 1).Draw(t, "r")
		}
		xyz := s.weights.XYZ(&r)
		require.True(t, s.holds([3]float64{xyz.X, xyz.Y, xyz.Z}))
	})
}

// Optimal colours lie on its surface: pushed away from grey by one part in a
// hundred, they are outside (MacAdam, J. Opt. Soc. Am. 25, 249 (1935)). The
// folded 10 nm weights have a few bands that are slightly negative or out of
// angular order, hence not every pair of transitions is optimal to the digit.
func TestSolidEndsAtOptimalColours(t *testing.T) {
	for _, under := range []color.Condition{color.D65Ten(), color.Under(color.A, 10), color.Under(color.D65, 2), color.Under(color.FL11, 10)} {
		s, err := solidOf(under)
		require.NoError(t, err)
		white := s.weights.White
		tried := 0
		for from := 4.0; from < 26; from += 1.5 {
			for to := from + 2; to < 28; to += 2.5 {
				for _, outer := range []bool{false, true} {
					r := optimal(from, to, outer)
					xyz := s.weights.XYZ(&r)
					var in, out [3]float64
					for k, v := range []float64{xyz.X, xyz.Y, xyz.Z} {
						in[k] = white[k]/2 + 0.99*(v-white[k]/2)
						out[k] = white[k]/2 + 1.01*(v-white[k]/2)
					}
					require.True(t, s.holds(in))
					require.False(t, s.holds(out), "%v %v %v %v", under, from, to, outer)
					tried++
				}
			}
		}
		require.Greater(t, tried, 100)
	}
}

// The limit told to the user is the largest chroma among optimal colours of
// that lightness and hue, found here by trying their transitions.
func TestLimitAgainstSearch(t *testing.T) {
	for _, want := range []color.Lab{
		{L: 50, A: 120, B: -120, Under: color.D65Ten()},
		{L: 75, A: 10, B: 190, Under: color.D65Ten()},
		{L: 40, A: -150, B: 60, Under: color.Under(color.A, 10)},
	} {
		s, err := solidOf(want.Under)
		require.NoError(t, err)
		limit, err := s.limit(want)
		require.NoError(t, err)
		hue := math.Atan2(want.B, want.A)
		best := math.Inf(1)
		for from := 0.0; from <= 31; from += 0.125 {
			for to := from; to <= 31; to += 0.125 {
				for _, outer := range []bool{false, true} {
					r := optimal(from, to, outer)
					lab := s.weights.Lab(&r)
					turn := math.Abs(math.Remainder(math.Atan2(lab.B, lab.A)-hue, 2*math.Pi))
					if d := math.Hypot(lab.L-want.L, turn*math.Hypot(lab.A, lab.B)); d < 1 {
						best = math.Min(best, math.Abs(math.Hypot(lab.A, lab.B)-limit))
					}
				}
			}
		}
		require.Less(t, best, 1.5, "limit %.1f of %v", limit, want)
	}
}

func samplesOf(t *testing.T, data string, o Options) (Table, error) {
	t.Helper()
	o.File = "f"
	return Samples(strings.NewReader(data), o)
}

func TestSanity(t *testing.T) {
	for _, c := range []struct{ name, rows, warning, refuse string }{
		{name: "ordinary", rows: "Lamp;50;10;20"},
		{name: "dark white tile", rows: "White tile;71.5;0;1", warning: "f:2: White tile: a white tile of L* 71.5 is dark; clean it, calibrate the instrument and read again"},
		{name: "good white tile", rows: "White tile;96;0;1"},
		{name: "white lamp is no tile", rows: "White lamp;60;0;1"},
		{name: "pasted twice", rows: "A;50;10;20\nB;50;10;20", warning: "f:3: B: is the reading of row 2 (A) to the last digit; was it pasted twice?"},
		{name: "read twice", rows: "A;50;10;20\nA;50;10;20"},
		{name: "just beyond", rows: "A;99.9;-3;3", warning: "f:2: A: chroma 4.2 at L* 99.9: no surface passes 2.1 there under D65/10; read the piece again; does it fluoresce?"},
		{name: "far beyond", rows: "A;95;-60;0", refuse: "f:2: A: chroma 60.0 at L* 95.0: no surface passes 36.0 there under D65/10; check columns and illuminant; a piece that fluoresces cannot be used"},
		{name: "brighter than white", rows: "A;100.4;0;0", refuse: "f:2: A: column L_D65: L* 100.4 is outside 0..100; check the column order and the calibration of the instrument"},
	} {
		table, err := samplesOf(t, "name;L_D65;a_D65;b_D65\n"+c.rows+"\n", Options{})
		if c.refuse != "" {
			require.EqualError(t, err, c.refuse, c.name)
			continue
		}
		require.NoError(t, err, c.name)
		told := ""
		for _, w := range table.Warnings {
			told += w.Error()
		}
		require.Equal(t, c.warning, told, c.name)
	}
}

// Where a doubt is told and where it is refused: 1 and 5 of chroma beyond what a
// surface can have there, L* 85 of a white tile, 200 of a* and b* (from memory,
// as sanity.go has them). What a surface can have is that of
// TestLimitAgainstSearch.
func TestLimitsOfDoubt(t *testing.T) {
	under := color.D65Ten()
	s, err := solidOf(under)
	require.NoError(t, err)
	const lightness = 75.0
	hue := math.Atan2(190, 10)
	most, err := s.limit(color.Lab{L: lightness, A: 200 * math.Cos(hue), B: 200 * math.Sin(hue), Under: under})
	require.NoError(t, err)
	beyond := func(excess float64) color.Lab {
		return color.Lab{L: lightness, A: (most + excess) * math.Cos(hue), B: (most + excess) * math.Sin(hue), Under: under}
	}
	grey := func(l float64) color.Lab { return color.Lab{L: l, Under: under} }
	flat := func(r float64) *color.Spectrum {
		return &color.Spectrum{FirstNM: 400, StepNM: 10, R: slices.Repeat([]float64{r}, 31)}
	}
	for _, c := range []struct {
		name, of string
		row      Row
		warning  string
		refuse   string
	}{
		{"chroma within", "A", Row{Labs: []color.Lab{beyond(-0.1)}}, "", ""},
		{"chroma 0.9 beyond", "A", Row{Labs: []color.Lab{beyond(0.9)}}, "", ""},
		{"chroma 1.1 beyond", "A", Row{Labs: []color.Lab{beyond(1.1)}}, "does it fluoresce?", ""},
		{"chroma 4.9 beyond", "A", Row{Labs: []color.Lab{beyond(4.9)}}, "does it fluoresce?", ""},
		{"chroma 5.1 beyond", "A", Row{Labs: []color.Lab{beyond(5.1)}}, "", "cannot be used"},
		{"a* of 200", "A", Row{Labs: []color.Lab{{L: 50, A: -200, Under: under}}}, "", "no surface passes"},
		{"a* beyond 200", "A", Row{Labs: []color.Lab{{L: 50, A: -200.1, Under: under}}}, "", "L* a* b* of 50, -200.1, 0 is impossible"},
		{"b* beyond 200", "A", Row{Labs: []color.Lab{{L: 50, B: 200.1, Under: under}}}, "", "is impossible"},
		{"a tile of L* 85", "White tile", Row{Labs: []color.Lab{grey(85)}}, "", ""},
		{"a tile below", "White tile", Row{Labs: []color.Lab{grey(84.9)}}, "a white tile of L* 84.9 is dark", ""},
		{"a white lamp below", "White lamp", Row{Labs: []color.Lab{grey(84.9)}}, "", ""},
		// Y of L* 85 is 100 (101/116)^3 = 66.01, CIE 15:2018 8.2.1
		{"a tile's spectrum", "White tile", Row{Spectrum: flat(0.662)}, "", ""},
		{"a tile's dark spectrum", "White tile", Row{Spectrum: flat(0.659)}, "is dark", ""},
	} {
		c.row.Name, c.row.Line = c.of, 2
		warnings, err := Judge("f", []Row{c.row})
		if c.refuse != "" {
			require.ErrorContains(t, err, c.refuse, c.name)
			continue
		}
		require.NoError(t, err, c.name)
		if c.warning == "" {
			require.Empty(t, warnings, c.name)
			continue
		}
		require.Len(t, warnings, 1, c.name)
		require.Contains(t, warnings[0].Error(), c.warning, c.name)
	}
	for value, want := range map[string]string{"-200": "no surface passes", "-200.1": "column a_D65: value -200.1 is impossible for a surface"} {
		_, err := samplesOf(t, "name;L_D65;a_D65;b_D65\nA;50;"+value+";0\n", Options{})
		require.ErrorContains(t, err, want)
	}
}

// lampSpectrum is an invented orange; its Lab under each light comes from
// package color.
func lampSpectrum() color.Spectrum {
	s := color.Spectrum{FirstNM: 400, StepNM: 10, R: make([]float64, 31)}
	for i := range s.R {
		s.R[i] = 0.05 + 0.6/(1+math.Exp(-float64(i-18)))
	}
	return s
}

func TestSpectrumAgainstLab(t *testing.T) {
	s := lampSpectrum()
	d65, err := s.Lab(color.D65Ten())
	require.NoError(t, err)
	a, err := s.Lab(color.Under(color.A, 2))
	require.NoError(t, err)
	judge := func(lab color.Lab) ([]*RowError, error) {
		return Judge("f", []Row{{Line: 7, Name: "Lamp", Labs: []color.Lab{lab}, Spectrum: &s}})
	}
	warnings, err := judge(d65)
	require.NoError(t, err)
	require.Empty(t, warnings)

	off := d65
	off.L += 0.8
	warnings, err = judge(off)
	require.NoError(t, err)
	require.Len(t, warnings, 1)
	require.Regexp(t, `^f:7: Lamp: Lab under D65/10 and spectrum differ by CIEDE2000 0\.[67]\d; both are used`, warnings[0].Error())

	wrong := color.Lab{L: a.L, A: a.A, B: a.B, Under: color.D65Ten()}
	_, err = judge(wrong)
	require.ErrorContains(t, err, "the Lab fits A/2: correct the header or say ⟦illuminant=A⟧ ⟦observer=2⟧")

	off.L += 20
	_, err = judge(off)
	require.ErrorContains(t, err, "they are of two pieces or two specular modes; delete the wrong one")
}

// The weights the checker keeps give what package color computes.
func TestWeigherAgainstColor(t *testing.T) {
	c := newChecker(&problems{})
	for _, grid := range [][3]int{{400, 10, 31}, {380, 10, 36}, {360, 5, 95}, {400, 20, 16}} {
		s := color.Spectrum{FirstNM: grid[0], StepNM: grid[1]}
		for i := range grid[2] {
			s.R = append(s.R, 0.3+0.25*math.Sin(float64(i*grid[1])/40))
		}
		for _, under := range []color.Condition{color.D65Ten(), color.Under(color.FL11, 2)} {
			want, err := s.Lab(under)
			require.NoError(t, err)
			got, err := c.lab(s, under)
			require.NoError(t, err)
			for k := range 3 {
				require.InDelta(t, want.Values()[k], got.Values()[k], 1e-9)
			}
		}
	}
}

func TestManyDoubtsAreSummedUp(t *testing.T) {
	s := lampSpectrum()
	lab, err := s.Lab(color.D65Ten())
	require.NoError(t, err)
	var rows []Row
	for i := range 30 {
		l := lab
		l.L += 0.8 + 0.001*float64(i)
		rows = append(rows, Row{Line: i + 2, Name: "Lamp", Labs: []color.Lab{l}, Spectrum: &s})
	}
	warnings, err := Judge("f", rows)
	require.NoError(t, err)
	require.Len(t, warnings, shown+1)
	require.Contains(t, warnings[shown].Error(), "f: Lab and spectrum differ by more than 0.3 in 30 rows, most in row 31 (Lamp, 0.")
}

func TestJudgeRefusesWhatIsNoReading(t *testing.T) {
	for _, lab := range []color.Lab{
		{L: math.NaN(), Under: color.D65Ten()}, {L: 50, A: math.Inf(1), Under: color.D65Ten()}, {L: 101, Under: color.D65Ten()}, {L: 50},
	} {
		_, err := Judge("f", []Row{{Name: "x", Labs: []color.Lab{lab}}})
		require.Error(t, err)
	}
	_, err := Judge("f", []Row{{Name: "x", Spectrum: &color.Spectrum{FirstNM: 400, StepNM: 10, R: []float64{1}}}})
	require.Error(t, err)
}
