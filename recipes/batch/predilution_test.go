package batch_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/recipes/batch"
)

// By hand, 100 g of WH 1.00 and BK 0.02 phr, step 0.01 g, least line 0.10 g:
//
//	R    = 100 / 1.0102            = 98.9903
//	BK   = 0.0198 g, too little; 1:10 gives 0.218 g, below thirty steps;
//	       1:20 gives 0.0198 x 21  = 0.4158 -> 0.42 g, carrying 0.42 x 20/21 = 0.40 g of B
//	WH   = 0.9899                  -> 0.99 g
//	resin = 100 - 0.42 - 0.99 + 0.40 = 98.99
//	A    = 98.99 x 10/19           = 52.10
//	B    = 100 - 1.41 - 52.10      = 46.49; with the carried 0.40: 46.89
//	A:B  = 52.10 : 46.89           = 100 : 90.000
//	BK   = 0.42/21 = 0.02 g in 98.99 = 0.020204 phr
//	stir 0.30 g into 6.00 g, 6.30 g, of which 5.88 g is left
func TestPredilutionByHand(t *testing.T) {
	s, err := batch.Plan(request(100, map[string]batch.PHR{"WH": 1, "BK": 0.02}))
	require.NoError(t, err)
	items, lines, cumulative := grams(s)
	require.Equal(t, []string{"B", "BK 1:20", "WH", "A"}, items)
	require.Equal(t, []string{"46.49", "0.42", "0.99", "52.10"}, lines)
	require.Equal(t, []string{"46.49", "46.91", "47.90", "100.00"}, cumulative)
	require.Equal(t, batch.DilutionLine, s.Lines[1].Kind)
	require.Equal(t, "0.02 g", s.Lines[1].Paste.String())
	require.Equal(t, "98.99 g", s.MixedResin.String())
	require.InDelta(t, 0.020204, float64(s.Weighed["BK"]), 5e-7)
	require.Len(t, s.Predilutions, 1)
	p := s.Predilutions[0]
	require.Equal(t, 20, p.Ratio)
	require.Equal(t, "neat it is 0.0198 g, below the least line of 0.1 g", p.Why)
	require.Equal(t, "Stir 0.30 g BK into 6.00 g of side B until even; weigh 0.42 g of it, 5.88 g is left over.", p.Words(s.Step))
}

// The sd of a diluted loading by hand, tared: the dose 0.42 g and the paste
// 0.30 g and the resin 6.00 g each with sd 0.0028868 g.
//
//	x = 1/21; x sd = 0.00013746
//	0.42 x (20/21) x = 0.0190476; sqrt((0.0028868/0.30)^2 + (0.0028868/6)^2) = 0.0096346
//	sd = sqrt(0.00013746^2 + 0.00018351^2) = 0.00022929 g -> 0.00023163 phr of 98.99 g
//
// against 0.0028868 g, 14 % of the line, for neat paste.
func TestPredilutionScatter(t *testing.T) {
	r := request(100, map[string]batch.PHR{"WH": 1, "BK": 0.02})
	r.Scale.Tared = true
	seen := batch.PHR(math.Inf(1)) // the neat line, judged for comparison, scatters more
	r.Outcome = func(m batch.Mixture) (float64, error) {
		if math.Abs(float64(m.Loadings["BK"])-2/98.99) < 1e-9 {
			seen = min(seen, m.Weighing["BK"])
		}
		return 1, nil
	}
	_, err := batch.Plan(r)
	require.NoError(t, err)
	require.InDelta(t, 0.00023163, float64(seen), 5e-9)
}

// A line that can be weighed is diluted when its scatter alone costs more
// than allowed, and left alone when it does not. BK 0.13 phr in 100 g is
// 0.13 g: 3.1 % sd, which at 16 CIEDE2000 a whole loading is 0.5.
func TestPredilutionForColour(t *testing.T) {
	recipe := map[string]batch.PHR{"WH": 1, "BK": 0.13}
	r := request(100, recipe)
	r.Outcome = target(recipe, 0.1)
	s, err := batch.Plan(r)
	require.NoError(t, err)
	require.Len(t, s.Predilutions, 1)
	require.Equal(t, "BK", s.Predilutions[0].Pigment)
	require.Contains(t, s.Predilutions[0].Why, "adds about 0.4")
	require.Equal(t, "0.4 g", s.Predilutions[0].Paste.String(), "three times 0.1285 g, in tens of steps")
	require.Less(t, s.Expected.Sheet, *s.Expected.Undiluted-0.2)

	r.ScaleCost = 1
	s, err = batch.Plan(r)
	require.NoError(t, err)
	require.Empty(t, s.Predilutions)
	require.Nil(t, s.Expected.Undiluted)

	r.ScaleCost, r.Dilution = 0, batch.DiluteNever
	s, err = batch.Plan(r)
	require.NoError(t, err)
	require.Empty(t, s.Predilutions)
}

// Two drops cannot be corrected by one; the paste is let down and weighed.
func TestPredilutionInsteadOfDrops(t *testing.T) {
	r := request(100, map[string]batch.PHR{"BK": 0.06})
	r.Colorants = map[string]batch.Colorant{"BK": {Drop: batch.Grams(0.03), Scatter: 0.1}}
	s, err := batch.Plan(r)
	require.NoError(t, err)
	require.Equal(t, "BK 1:10", s.Lines[1].Item)
	require.Zero(t, s.Lines[1].Drops)
}
