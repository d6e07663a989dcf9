package batch_test

import (
	"errors"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/recipes/batch"
)

var atLeast = regexp.MustCompile(`make ([0-9.]+) g or more`)

// least is the batch an error of Plan says to make.
func least(t *testing.T, err error) float64 {
	t.Helper()
	require.ErrorContains(t, err, "too little for this recipe in steps of 0.01 g")
	require.NotContains(t, err.Error(), "\n")
	m := atLeast.FindStringSubmatch(err.Error())
	require.NotNil(t, m, err.Error())
	g, err := strconv.ParseFloat(m[1], 64)
	require.NoError(t, err)
	return g
}

// refuses is an outcome that cannot judge more paste than resin, as a
// calibration cannot.
func refuses(o batch.Outcome) batch.Outcome {
	return func(m batch.Mixture) (float64, error) {
		sum := 0.0
		for _, phr := range m.Loadings {
			sum += float64(phr)
		}
		if sum > 100 {
			return 0, errors.New("loadings add up to more paste than resin")
		}
		return o(m)
	}
}

// Whatever the order, what is refused as too little is told the batch that
// works, and it does: it can be planned, holds every pigment and keeps the
// tolerance.
func TestTooLittleSaysWhatWorks(t *testing.T) {
	recipes := map[string]map[string]batch.PHR{
		"one pigment": {"WH": 2}, "five": five, "a trace": {"WH": 2, "BK": 0.0031},
	}
	for name, recipe := range recipes {
		for _, x := range []struct {
			judged, never bool
			tolerance     float64
		}{{false, false, 0}, {false, true, 0}, {true, false, 0.8}, {true, true, 0.8}, {true, false, 0}, {true, false, 0.2}} {
			refused := 0
			for _, grams := range []float64{0.01, 0.02, 0.03, 0.05, 0.1, 0.2, 0.5, 1, 2, 5} {
				r := request(grams, recipe)
				if x.judged {
					r.Outcome, r.Tolerance = refuses(target(recipe, 0.3)), x.tolerance
				}
				if x.never {
					r.Dilution = batch.DiluteNever
				}
				s, err := batch.Plan(r)
				if err == nil {
					if !(x.tolerance > 0 && s.Expected.Sheet <= x.tolerance) {
						require.Len(t, s.Lines, 2+len(recipe), "%s, %+v, %g g: every pigment has a line", name, x, grams)
					}
					continue
				}
				refused++
				enough := least(t, err)
				require.Greater(t, enough, grams, "%s, %+v", name, x)
				r.Order.Total = batch.Grams(enough)
				s, err = batch.Plan(r)
				require.NoError(t, err, "%s, %+v: %g g was said to do", name, x, enough)
				require.Len(t, s.Lines, 2+len(recipe))
				if x.tolerance > 0.3 { // the recipe itself keeps it
					require.LessOrEqual(t, s.Expected.Sheet, x.tolerance)
				}
			}
			require.Positive(t, refused, "%s, %+v", name, x)
		}
	}
}

// By hand: the least neat line is ten steps, 0.1 g. Of 0.03 phr beside 2 phr
// that is 0.1 x 102.03 / 0.03 = 340.1 g.
func TestTooLittleByHand(t *testing.T) {
	r := request(10, map[string]batch.PHR{"WH": 2, "BK": 0.03})
	r.Dilution = batch.DiluteNever
	_, err := batch.Plan(r)
	require.InEpsilon(t, 340.1, least(t, err), 0.006)
	require.ErrorContains(t, err, "the smallest batch that can be weighed, or use a finer scale")
	require.NotContains(t, err.Error(), "pre-dilution", "it was not wanted")

	// Neat in 1020 kg. Let down 1:100 it is 0.095 g, which shows as ten steps, in
	// 0.095 / 101 / 0.0000001 x 1.02 = 9594 g.
	r.Recipe = map[string]batch.PHR{"WH": 2, "BK": 0.00001}
	_, err = batch.Plan(r)
	require.ErrorContains(t, err, "use a finer scale, or allow pre-dilutions and make")
	require.InEpsilon(t, 9594, least(t, err), 0.006)

	r.Recipe = map[string]batch.PHR{"WH": 2, "BK": 0.03}
	r.Order.Total, r.Dilution = batch.Grams(0.3), batch.DiluteWhenNeeded
	_, err = batch.Plan(r)
	require.Less(t, least(t, err), 20.0)
	require.ErrorContains(t, err, "g without pre-dilutions)")
}

// A pigment that the tolerance does not need may come to nothing, and that is
// said.
func TestTooLittleToMatter(t *testing.T) {
	r := request(10, map[string]batch.PHR{"WH": 2, "BK": 0.03})
	r.Dilution, r.Tolerance = batch.DiluteNever, 1
	r.Outcome = func(batch.Mixture) (float64, error) { return 0.4, nil }
	s, err := batch.Plan(r)
	require.NoError(t, err)
	items, _, _ := grams(s)
	require.Equal(t, []string{"B", "WH", "A"}, items)
	require.Zero(t, s.Weighed["BK"])
	require.Contains(t, strings.Join(s.Notes, "\n"), "BK is left out: 0.0029 g cannot be weighed in steps of 0.01 g, and the tolerance is kept without it.")
}

// A sheet that can be weighed but not within tolerance says what would help,
// where it would.
func TestOverToleranceSaysWhatHelps(t *testing.T) {
	r := request(20, five)
	r.Dilution, r.Tolerance = batch.DiluteNever, 0.8
	r.Outcome = target(five, 0.3)
	s, err := batch.Plan(r)
	require.NoError(t, err)
	require.Greater(t, s.Expected.Sheet, r.Tolerance)
	require.Contains(t, strings.Join(s.Notes, "\n"), "the recipe weighed without error has 0.30: make a larger batch or use a finer scale.")

	r.Outcome = target(five, 0.9)
	s, err = batch.Plan(r)
	require.NoError(t, err)
	require.Contains(t, strings.Join(s.Notes, "\n"), "the recipe weighed without error has 0.90.")
}
