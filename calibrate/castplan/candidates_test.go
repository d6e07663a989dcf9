package castplan_test

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

// Whatever is wanted, what is to be weighed is a whole number of steps, at
// least five, nearest to it, and the loadings are what it makes in the cup.
func TestWeighedInWholeSteps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := &castplan.Bench{ChipGrams: calibrate.Grams(rapid.Float64Range(5, 500).Draw(t, "cup")),
			ScaleGrams: rapid.SampledFrom([]calibrate.Grams{0.001, 0.002, 0.01, 0.02, 0.05, 0.1}).Draw(t, "step")}
		wanted := map[string]calibrate.PHR{
			"A": calibrate.PHR(rapid.Float64Range(0, 5).Draw(t, "A")),
			"B": calibrate.PHR(rapid.Float64Range(0, 5).Draw(t, "B")),
		}
		chip, ok := b.Weigh(wanted, castplan.Backing{Name: "white"})
		require.True(t, ok || chip.Loadings["A"]+chip.Loadings["B"] > 100)
		for code, phr := range wanted {
			grams := chip.Grams[code]
			if phr == 0 {
				require.NotContains(t, chip.Grams, code)
				continue
			}
			steps := float64(grams / b.ScaleGrams)
			require.InDelta(t, math.Round(steps), steps, 1e-6)
			require.GreaterOrEqual(t, math.Round(steps), 5.0)
			asked := float64(phr) / 100 * float64(b.ChipGrams/b.ScaleGrams)
			if asked >= 5 {
				require.InDelta(t, asked, steps, 0.5+1e-6)
			}
			require.InDelta(t, float64(grams/b.ChipGrams)*100, float64(chip.Loadings[code]), 1e-6)
		}
	})
}

// Every candidate can be weighed and borne, and among them is every pigment
// alone, every pigment in white, and every two pigments together.
func TestCandidates(t *testing.T) {
	w, all := small()
	c := all[virtualshop.Spectra]
	b := *w.bench
	b.MaxPHR = 2 * w.Level
	chips, err := castplan.Candidates(c, &b, []string{virtualshop.White})
	require.NoError(t, err)
	seen := map[string]bool{}
	for _, chip := range chips {
		total := calibrate.PHR(0)
		var in []string
		for _, code := range w.Codes {
			if chip.Loadings[code] > 0 {
				in = append(in, code)
				total += chip.Loadings[code]
				steps := float64(chip.Grams[code] / b.ScaleGrams)
				require.InDelta(t, math.Round(steps), steps, 1e-6, chip.Name)
			}
		}
		require.LessOrEqual(t, float64(total), float64(b.MaxPHR)*1.0001, chip.Name)
		seen[strings.Join(append(in, chip.Backing.Name), "-")] = true
	}
	colours := w.Codes[1:]
	for i, one := range colours {
		for _, over := range []string{"white", "black"} {
			require.Contains(t, seen, one+"-"+over)
			require.Contains(t, seen, "WH-"+one+"-"+over)
		}
		for _, other := range colours[i+1:] {
			require.Contains(t, seen, one+"-"+other+"-white")
			require.Contains(t, seen, "WH-"+one+"-"+other+"-white")
		}
	}
	_, err = castplan.Candidates(c, &b, []string{"ZZ"})
	require.ErrorContains(t, err, "pigment ZZ is not in this calibration")
}

// Without a white there are still chips to cast.
func TestCandidatesWithoutWhite(t *testing.T) {
	w, all := small()
	chips, err := castplan.Candidates(all[virtualshop.Spectra], w.bench, nil)
	require.NoError(t, err)
	require.NotEmpty(t, chips)
	gamut, err := castplan.Gamut(all[virtualshop.Spectra], w.bench, nil, 30)
	require.NoError(t, err)
	require.Len(t, gamut, 30)
}

// The gamut uses every pigment, most of it in white, never more than the resin
// bears, and is the same every time.
func TestGamut(t *testing.T) {
	w, all := small()
	c := all[virtualshop.OneLight]
	b := *w.bench
	b.MaxPHR = 1.5 * w.Level
	gamut, err := castplan.Gamut(c, &b, []string{virtualshop.White}, 100)
	require.NoError(t, err)
	again, err := castplan.Gamut(c, &b, []string{virtualshop.White}, 100)
	require.NoError(t, err)
	require.True(t, reflect.DeepEqual(gamut, again))
	uses := map[string]int{}
	for _, m := range gamut {
		total := calibrate.PHR(0)
		for code, phr := range m.Loadings {
			require.Greater(t, float64(phr), 0.0)
			uses[code]++
			total += phr
		}
		require.Greater(t, float64(total), 0.0)
		require.LessOrEqual(t, float64(total), float64(b.MaxPHR)*1.0001)
	}
	require.InDelta(t, 87, uses[virtualshop.White], 2)
	for _, code := range w.Codes[1:] {
		require.Greater(t, uses[code], 20, code)
	}
	_, err = castplan.Gamut(c, &b, []string{"ZZ"}, 10)
	require.ErrorContains(t, err, "pigment ZZ")
}

// Of a shop's pigments only its white is taken for one, whatever the evidence.
func TestWhites(t *testing.T) {
	_, all := small()
	for e, c := range all {
		whites, err := castplan.Whites(c)
		require.NoError(t, err)
		require.Equal(t, []string{virtualshop.White}, whites, "%s", e)
	}
}

func TestBenchErrors(t *testing.T) {
	white := []castplan.Backing{{Name: "white", Reflectance: color.Constant(0.9)}}
	good := castplan.Bench{ChipGrams: 50, ScaleGrams: 0.01, Thickness: 3, Backings: white}
	require.NoError(t, good.Check())
	nan := math.NaN()
	for name, k := range map[string]struct {
		change func(*castplan.Bench)
		want   string
	}{
		"cup":          {func(b *castplan.Bench) { b.ChipGrams = 0 }, "chip of 0 g"},
		"cup nan":      {func(b *castplan.Bench) { b.ChipGrams = calibrate.Grams(nan) }, "chip of NaN g"},
		"scale":        {func(b *castplan.Bench) { b.ScaleGrams = 0 }, "scale step of 0 g"},
		"scale coarse": {func(b *castplan.Bench) { b.ScaleGrams = 60 }, "scale step of 60 g"},
		"thickness":    {func(b *castplan.Bench) { b.Thickness = 0 }, "thickness 0 mm"},
		"thickness sd": {func(b *castplan.Bench) { b.ThicknessSD = -1 }, "thickness known to -1 mm"},
		"max":          {func(b *castplan.Bench) { b.MaxPHR = -1 }, "at most -1 phr"},
		"max nan":      {func(b *castplan.Bench) { b.MaxPHR = calibrate.PHR(nan) }, "at most NaN phr"},
		"backings":     {func(b *castplan.Bench) { b.Backings = nil }, "no backing"},
		"backing": {func(b *castplan.Bench) {
			b.Backings = []castplan.Backing{{Name: "odd", Reflectance: color.Constant(90)}}
		}, "backing odd: backing reflects 90"},
	} {
		b := good
		k.change(&b)
		require.ErrorContains(t, b.Check(), k.want, name)
	}
}
