package batch_test

import (
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/recipes/batch"
)

// By hand: an outcome that sees only the proportion of two pigments, ideal
// 0.15 : 0.15 phr, which in 100 g is 0.14955 g each. Rounding gives
// 0.15 and 0.15 g, the right proportion. Ideal 0.156 : 0.148 gives
// R = 100/1.00304 = 99.6969, 0.15553 and 0.14755 g; rounded 0.16 and 0.15, a
// proportion of 1.0667 where 1.0541 is wanted. Within one step beyond the two
// nearest the lines may be 0.14..0.17 and 0.13..0.16; the 16 proportions
// nearest to 1.0541 are
//
//	15/14 = 1.0714 (+0.0174)   16/15 = 1.0667 (+0.0126)   17/16 = 1.0625 (+0.0084)
//
// so 0.17 and 0.16 g win, at 0.0084 instead of 0.0126.
func TestGridByHand(t *testing.T) {
	r := request(100, map[string]batch.PHR{"RD": 0.156, "YE": 0.148})
	r.Outcome = func(m batch.Mixture) (float64, error) {
		return math.Abs(float64(m.Loadings["RD"]/m.Loadings["YE"]) - 0.156/0.148), nil
	}
	s, err := batch.Plan(r)
	require.NoError(t, err)
	items, lines, _ := grams(s)
	require.Equal(t, []string{"B", "YE", "RD", "A"}, items)
	require.Equal(t, []string{"0.16", "0.17"}, lines[1:3])
	require.InDelta(t, 0, s.Expected.Ideal, 1e-12)
	require.InDelta(t, 0.01261, s.Expected.Rounded, 5e-6)
	require.InDelta(t, 0.00845, s.Expected.Sheet, 5e-6)
	require.InDelta(t, 0.00417, s.Expected.Gain, 5e-6)
	require.InDelta(t, s.Expected.Sheet, s.Expected.Cost, 1e-12)
}

// Plain loops over the same neighbourhood, written without the package's own
// search, find nothing better.
func TestGridIsExact(t *testing.T) {
	for _, total := range []float64{40, 61.3, 87, 120.05, 333} {
		r := request(total, five)
		r.Outcome, r.Dilution = exactly(five, 0.2), batch.DiluteNever
		r.Scale.Minimum = batch.Grams(0.01)
		s, err := batch.Plan(r)
		require.NoError(t, err)

		var sum float64
		for _, c := range five {
			sum += float64(c)
		}
		resin := total / (1 + sum/100)
		order := []string{"BK", "BL", "RD", "WH", "YE"}
		var low [5]int
		for i, code := range order {
			low[i] = max(1, int(math.Floor(float64(five[code])*resin/100/0.01))-1)
		}
		least, at := math.Inf(1), [5]int{}
		for n := range 1024 {
			var grams [5]float64
			var counts [5]int
			paste := 0.0
			for i, k := 0, n; i < 5; i, k = i+1, k/4 {
				counts[i] = low[i] + k%4
				grams[i] = float64(counts[i]) * 0.01
				paste += grams[i]
			}
			m := batch.Mixture{Loadings: map[string]batch.PHR{}}
			for i, code := range order {
				m.Loadings[code] = batch.PHR(100 * grams[i] / (total - paste))
			}
			if v, _ := r.Outcome(m); v < least {
				least, at = v, counts
			}
		}
		for i, code := range order {
			if low[i] == 1 && float64(five[code])*resin/100/0.01 < 2 {
				continue // the neighbourhood is cut at one step, the loops reach higher
			}
			require.InDelta(t, float64(at[i])*0.01, paste(s, code), 1e-9, "%s in %g g", code, total)
		}
		require.InDelta(t, least, s.Expected.Sheet, 1e-9)
		require.Less(t, s.Expected.Sheet, s.Expected.Rounded)
	}
}

func paste(s batch.Sheet, code string) float64 {
	for _, l := range s.Lines {
		if l.Pigment == code {
			return l.Paste.Grams()
		}
	}
	return 0
}

// A single pigment of 0.146 phr in 100 g is 0.14579 g, and no resin change
// within the order helps. 2.9 % more batch makes it 0.15 g:
// T = 100 x 0.15/0.14579 = 102.89 g.
func TestGrow(t *testing.T) {
	recipe := map[string]batch.PHR{"BK": 0.146}
	r := request(100, recipe)
	r.Outcome, r.Dilution = exactly(recipe, 0), batch.DiluteNever
	fixed, err := batch.Plan(r)
	require.NoError(t, err)
	require.Equal(t, "100 g", fixed.Total.String())
	require.Greater(t, fixed.Expected.Sheet, 0.4)

	r.Order.Grow = 0.05
	grown, err := batch.Plan(r)
	require.NoError(t, err)
	require.InDelta(t, 102.89, grown.Total.Grams(), 0.1) // the last 0.01 of colour is not worth material
	require.InDelta(t, 0.15, paste(grown, "BK"), 1e-9)
	require.Less(t, grown.Expected.Sheet, 0.02)
	require.Equal(t, fixed.Expected.Rounded, grown.Expected.Rounded, "rounding is judged at the order")
	require.Equal(t, "100 g", grown.Ordered.String())

	r.Outcome = exactly(recipe, 20) // sqrt(400 + 0.46^2) is 0.005 above 20
	small, err := batch.Plan(r)
	require.NoError(t, err)
	require.Equal(t, "100 g", small.Total.String(), "a gain nobody sees is not worth 3 g")
}

// A pigment of 1.3 steps is weighed even when the outcome would rather be
// without, and no neat line falls below the least weighable one.
func TestGridKeepsPigments(t *testing.T) {
	r := request(100, map[string]batch.PHR{"WH": 1, "BK": 0.0132})
	r.Dilution = batch.DiluteNever
	r.Outcome = func(m batch.Mixture) (float64, error) { return float64(m.Loadings["BK"]), nil }
	s, err := batch.Plan(r)
	require.NoError(t, err)
	require.InDelta(t, 0.01, paste(s, "BK"), 1e-9)

	r.Colorants = map[string]batch.Colorant{"BK": {Drop: batch.Grams(0.01)}}
	s, err = batch.Plan(r)
	require.NoError(t, err)
	require.EqualValues(t, 1, s.Lines[1].Drops)

	r.Recipe["BK"], r.Colorants = 0.102, nil
	s, err = batch.Plan(r)
	require.NoError(t, err)
	require.InDelta(t, 0.10, paste(s, "BK"), 1e-9)
}

// An outcome that does not care keeps the plain rounding and the order.
func TestIndifferentKeepsRounding(t *testing.T) {
	r := request(250, five)
	r.Scale.Minimum = batch.Grams(0.01)
	plain, err := batch.Plan(r)
	require.NoError(t, err)
	r.Outcome = func(batch.Mixture) (float64, error) { return 0.4, nil }
	r.Order.Grow = 0.05
	judged, err := batch.Plan(r)
	require.NoError(t, err)
	require.Equal(t, plain.Lines, judged.Lines)
	require.Zero(t, judged.Expected.Gain)
}

func TestOutcomeErrorStops(t *testing.T) {
	stop := errors.New("stopped by the user")
	r := request(250, five)
	calls := 0
	r.Outcome = func(batch.Mixture) (float64, error) {
		if calls++; calls > 100 {
			return 0, stop
		}
		return 1, nil
	}
	_, err := batch.Plan(r)
	require.ErrorIs(t, err, stop)
	require.Equal(t, 101, calls)
}

// The display's error by hand: step 0.01 g, sd 0.01/sqrt(6) = 0.0040825 g off
// the running sum, 0.01/sqrt(12) = 0.0028868 g tared; 0.49 g in 247.04 g of
// resin: 0.0016526 and 0.00116854 phr. Nine drops of 0.05 g with 10 % scatter:
// 0.05 x 0.1 x 3 = 0.015 g.
func TestWeighingScatter(t *testing.T) {
	recipe := map[string]batch.PHR{"WH": 1, "RD": 0.2}
	r := request(250, recipe)
	var seen batch.PHR
	r.Outcome = func(m batch.Mixture) (float64, error) {
		if math.Abs(float64(m.Loadings["RD"])-0.49/2.4704) < 1e-9 {
			seen = m.Weighing["RD"]
		}
		return 1, nil
	}
	_, err := batch.Plan(r)
	require.NoError(t, err)
	require.InDelta(t, 0.0016526, float64(seen), 5e-8)
	r.Scale.Tared = true
	_, err = batch.Plan(r)
	require.NoError(t, err)
	require.InDelta(t, 0.00116854, float64(seen), 5e-9)

	r = request(200, map[string]batch.PHR{"BK": 0.2255})
	r.Colorants = map[string]batch.Colorant{"BK": {Drop: batch.Grams(0.05), Scatter: 0.1}}
	seen = 0
	r.Outcome = func(m batch.Mixture) (float64, error) {
		if math.Abs(float64(m.Loadings["BK"])-45/199.55) < 1e-6 {
			seen = m.Weighing["BK"]
		}
		return 1, nil
	}
	s, err := batch.Plan(r)
	require.NoError(t, err)
	require.EqualValues(t, 9, s.Lines[1].Drops)
	require.InDelta(t, 100*0.015/199.55, float64(seen), 1e-8)
}
