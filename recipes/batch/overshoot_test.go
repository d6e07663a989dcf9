package batch_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/recipes/batch"
)

func remedy(t *testing.T, r batch.Rescue, w batch.Way) batch.Remedy {
	t.Helper()
	for _, x := range r.Remedies {
		if x.Way == w {
			return x
		}
	}
	t.Fatalf("no remedy %q among %d", w, len(r.Remedies))
	return batch.Remedy{}
}

func adds(r batch.Remedy) map[string]string {
	m := map[string]string{}
	for _, l := range r.Lines {
		m[l.Item] = l.Add.At(batch.Grams(0.01))
	}
	return m
}

// By hand, the sheet of 250 g (B 117.02, RD 0.49, WH 2.47, A 130.02) with
// 0.60 g of RD in the cup. B, above it, counts as poured.
//
//	as planned:     total 250 + 0.11 = 250.11 g
//	in proportion:  g = 0.60/0.49 = 1.224490, resin 247.04 g = 302.498
//	                WH 2.47 g = 3.0245   -> 3.02 (adding 3.02)
//	                B = 302.498 x 9/19   = 143.288 -> 143.29, adding 26.27
//	                A = 143.29 x 100/90  = 159.211 -> 159.21
//	                total 0.60 + 3.02 + 143.29 + 159.21 = 306.12, 56.12 extra,
//	                resin 302.50 - 247.04 = 55.46 of it, paste 0.66
func TestOvershootByHand(t *testing.T) {
	r := request(250, map[string]batch.PHR{"WH": 1, "RD": 0.2})
	s, err := batch.Plan(r)
	require.NoError(t, err)
	out, err := batch.Overshoot(r, s, batch.Poured{"RD": batch.Grams(0.60)})
	require.NoError(t, err)
	require.Equal(t, []batch.Overshot{{Item: "RD", Planned: batch.Grams(0.49), Poured: batch.Grams(0.60)}}, out.Over)
	require.Len(t, out.Remedies, 2, "nothing to judge by: no solved remedy")

	left := remedy(t, out, batch.AsPlanned)
	require.Equal(t, map[string]string{"B": "0.00", "RD": "0.00", "WH": "2.47", "A": "130.02"}, adds(left))
	require.Equal(t, "0.11 g", left.Extra.String())

	grown := remedy(t, out, batch.InProportion)
	require.Equal(t, map[string]string{"B": "26.27", "RD": "0.00", "WH": "3.02", "A": "159.21"}, adds(grown))
	require.Equal(t, "306.12 g", grown.Total.String())
	require.Equal(t, "56.12 g", grown.Extra.String())
	require.Equal(t, "55.46 g", grown.Resin.String())
	require.Equal(t, "0.66 g", grown.Paste.String())
	// the cup holds 117.02 + 0.60; then the running sum by additions
	require.Equal(t, "143.89", grown.Lines[0].Cumulative.At(s.Step))
	require.Equal(t, "306.12", grown.Lines[3].Cumulative.At(s.Step))
}

func TestOvershootBeyondATonne(t *testing.T) {
	r := request(250, map[string]batch.PHR{"WH": 1, "RD": 0.2})
	s, err := batch.Plan(r)
	require.NoError(t, err)
	out, err := batch.Overshoot(r, s, batch.Poured{"RD": batch.Grams(9e5)})
	require.NoError(t, err)
	require.Len(t, out.Remedies, 1)
	require.Contains(t, out.Remedies[0].Notes[1], "raise the cup size")
}

// With colour to judge by: 20 % too much RD. More white and yellow against it
// at the same resin is better than doing nothing and costs grams of paste; in
// proportion restores the colour and costs a fifth of the batch; the least
// growth that keeps the tolerance lies between.
func TestOvershootSolved(t *testing.T) {
	recipe := map[string]batch.PHR{"WH": 1.2, "RD": 0.213, "YE": 0.347}
	r := request(250, recipe)
	r.Outcome, r.Tolerance, r.ScaleCost = target(recipe, 0.3), 0.7, 1
	s, err := batch.Plan(r)
	require.NoError(t, err)
	out, err := batch.Overshoot(r, s, batch.Poured{"RD": batch.Grams(0.62)})
	require.NoError(t, err)
	require.Len(t, out.Remedies, 4)
	left, same := remedy(t, out, batch.AsPlanned), remedy(t, out, batch.SameResin)
	least, full := remedy(t, out, batch.GrowLeast), remedy(t, out, batch.InProportion)

	require.Equal(t, s.Expected.Sheet, *out.Planned)
	require.Greater(t, *left.Expected, 2.0)
	require.Less(t, *same.Expected, *left.Expected-0.5)
	require.False(t, same.Keeps)
	require.InDelta(t, 0, same.Resin.Grams(), 0.0101, "the resin stays")
	require.Less(t, same.Extra.Grams(), 2.0)
	require.True(t, least.Keeps)
	require.True(t, full.Keeps)
	require.Less(t, *full.Expected, *out.Planned+0.1)
	require.Less(t, same.Extra.Grams(), least.Extra.Grams())
	require.Less(t, least.Extra.Grams(), full.Extra.Grams())
	require.InDelta(t, 250*(0.62/0.52-1), full.Extra.Grams(), 0.5)

	again, err := batch.Overshoot(r, s, batch.Poured{"RD": batch.Grams(0.62)})
	require.NoError(t, err)
	require.Equal(t, out, again, "the same question has the same answer")
}

// The search against a plain scan: two pigments, one overshot, every amount
// of the other tried.
func TestSameResinIsTheBestAddition(t *testing.T) {
	recipe := map[string]batch.PHR{"WH": 1, "RD": 0.5}
	r := request(300, recipe)
	r.Outcome = exactly(recipe, 0.2)
	r.Resin.MaxPHR = 10
	s, err := batch.Plan(r)
	require.NoError(t, err)
	for _, rd := range []float64{1.52, 1.6, 1.8, 2.4} {
		out, err := batch.Overshoot(r, s, batch.Poured{"RD": batch.Grams(rd)})
		require.NoError(t, err)
		same := remedy(t, out, batch.SameResin)
		resin := s.MixedResin.Grams()
		least := 1e9
		for n := range 1200 {
			v, _ := r.Outcome(batch.Mixture{Loadings: map[string]batch.PHR{
				"RD": batch.PHR(100 * rd / resin), "WH": batch.PHR(float64(n) / resin)}})
			least = min(least, v)
		}
		require.InDelta(t, least, *same.Expected, 0.002, "RD %g g", rd)
	}
}

// Paste the resin does not bear is not added: 3.9 phr of 4 leaves hardly room.
func TestOvershootKeepsTheResinsLimit(t *testing.T) {
	recipe := map[string]batch.PHR{"WH": 3.5, "RD": 0.4}
	r := request(250, recipe)
	r.Outcome = target(recipe, 0.2)
	s, err := batch.Plan(r)
	require.NoError(t, err)
	out, err := batch.Overshoot(r, s, batch.Poured{"RD": batch.Grams(1.1)})
	require.NoError(t, err)
	sum := batch.PHR(0)
	for _, c := range remedy(t, out, batch.SameResin).Weighed {
		sum += c
	}
	require.LessOrEqual(t, float64(sum), 4.004)

	out, err = batch.Overshoot(r, s, batch.Poured{"RD": batch.Grams(4)})
	require.NoError(t, err)
	require.Contains(t, remedy(t, out, batch.AsPlanned).Notes[0], "over the 4 the resin bears")
	require.Empty(t, remedy(t, out, batch.SameResin).Notes, "white gives way: 4 g of RD leave room for 2.4 phr")

	out, err = batch.Overshoot(r, s, batch.Poured{"RD": batch.Grams(11)}) // 4.6 phr by itself
	require.NoError(t, err)
	require.Equal(t, "0.00", adds(remedy(t, out, batch.SameResin))["WH"], "no more paste on top")
}

// A dilution poured over: 0.60 instead of 0.42 g carries 0.571 of B instead of
// 0.400, the B line is in the cup, so A follows: by hand
// A = (46.49 + 0.60 x 20/21) x 100/90 = 52.2905 -> 52.29 (52.10 planned).
func TestOvershotDilution(t *testing.T) {
	r := request(100, map[string]batch.PHR{"WH": 1, "BK": 0.02})
	s, err := batch.Plan(r)
	require.NoError(t, err)
	for _, name := range []string{"BK", "BK 1:20"} {
		out, err := batch.Overshoot(r, s, batch.Poured{name: batch.Grams(0.60)})
		require.NoError(t, err)
		require.Equal(t, map[string]string{"B": "0.00", "BK 1:20": "0.00", "WH": "0.99", "A": "52.29"}, adds(remedy(t, out, batch.AsPlanned)))
	}
	out, err := batch.Overshoot(r, s, batch.Poured{"BK": batch.Grams(8)})
	require.NoError(t, err)
	require.Contains(t, remedy(t, out, batch.AsPlanned).Notes[0], "more than the 6.3 g made")
}

// Too much of the first side: the other follows, and so do the pigments.
// B 120.00 belongs to 253.33 g of resin; A = 133.33, RD = 0.49 x 253.333/247.04
// = 0.5025 -> 0.50, WH 2.5329 -> 2.53.
func TestOvershotResin(t *testing.T) {
	r := request(250, map[string]batch.PHR{"WH": 1, "RD": 0.2})
	s, err := batch.Plan(r)
	require.NoError(t, err)
	out, err := batch.Overshoot(r, s, batch.Poured{"B": batch.Grams(120)})
	require.NoError(t, err)
	require.Equal(t, map[string]string{"B": "0.00", "RD": "0.50", "WH": "2.53", "A": "133.33"}, adds(remedy(t, out, batch.InProportion)))

	// and of the second, everything already in: B = 135 x 90/100 = 121.50
	out, err = batch.Overshoot(r, s, batch.Poured{"A": batch.Grams(135)})
	require.NoError(t, err)
	require.Equal(t, "4.48", adds(remedy(t, out, batch.AsPlanned))["B"])

	// a single step over is no reason to add anything
	out, err = batch.Overshoot(r, s, batch.Poured{"A": batch.Grams(130.03)})
	require.NoError(t, err)
	require.Equal(t, map[string]string{"B": "0.01", "RD": "0.00", "WH": "0.00", "A": "0.00"}, adds(remedy(t, out, batch.AsPlanned)))
}

func TestUnderpoured(t *testing.T) {
	r := request(250, map[string]batch.PHR{"WH": 1, "RD": 0.2})
	r.Outcome = target(r.Recipe, 0.3)
	s, err := batch.Plan(r)
	require.NoError(t, err)
	out, err := batch.Overshoot(r, s, batch.Poured{"RD": batch.Grams(0.40), "B": batch.Mass{}})
	require.NoError(t, err)
	require.Empty(t, out.Over)
	require.Len(t, out.Remedies, 1, "topping up is all there is")
	require.Equal(t, s.Lines[1].Grams.Minus(batch.Grams(0.40)), out.Remedies[0].Lines[1].Add)
	require.Equal(t, s.Total, out.Remedies[0].Total)
	require.InDelta(t, s.Expected.Sheet, *out.Remedies[0].Expected, 1e-9)
}

func TestOvershootRefuses(t *testing.T) {
	r := request(1500, map[string]batch.PHR{"WH": 1, "RD": 0.2})
	s, err := batch.Plan(r)
	require.NoError(t, err)
	try := func(change func(*batch.Sheet), p batch.Poured, says string) {
		t.Helper()
		bad := s
		bad.Lines = append([]batch.Line{}, s.Lines...)
		change(&bad)
		_, err := batch.Overshoot(r, bad, p)
		require.ErrorContains(t, err, says)
		require.NotContains(t, err.Error(), "\n")
	}
	none := func(*batch.Sheet) {}
	try(none, batch.Poured{"GN": batch.Grams(1)}, "its lines are B, RD, WH, A")
	try(none, batch.Poured{"RD": batch.Grams(-1)}, "what the scale showed")
	try(none, batch.Poured{"A": batch.Grams(3)}, "already in the cups")
	try(func(s *batch.Sheet) { s.PigmentSide = batch.SideA }, nil, "not planned for this resin")
	try(func(s *batch.Sheet) { s.Lines = nil }, nil, "damaged")
	try(func(s *batch.Sheet) { s.Lines[1].Grams = batch.Mass{} }, nil, "damaged")
	try(func(s *batch.Sheet) { s.Lines[1].Pigment = "GN" }, nil, "sheet has a line for GN")
	try(func(s *batch.Sheet) { s.Lines[1].Pigment = "WH" }, nil, "two lines for WH")
	small := request(100, map[string]batch.PHR{"WH": 1, "BK": 0.02})
	d, err := batch.Plan(small)
	require.NoError(t, err)
	_, err = batch.Overshoot(small, d, batch.Poured{"BK": batch.Grams(1), "BK 1:20": batch.Grams(1)})
	require.ErrorContains(t, err, "given twice")
}

func TestRescueJSON(t *testing.T) {
	r := request(250, five)
	r.Outcome, r.Tolerance = target(five, 0.3), 0.9
	s, err := batch.Plan(r)
	require.NoError(t, err)
	written, err := json.Marshal(s)
	require.NoError(t, err)
	var stored batch.Sheet
	require.NoError(t, json.Unmarshal(written, &stored))
	a, err := batch.Overshoot(r, s, batch.Poured{"RD": batch.Grams(0.62)})
	require.NoError(t, err)
	b, err := batch.Overshoot(r, stored, batch.Poured{"RD": batch.Grams(0.62)})
	require.NoError(t, err)
	left, _ := json.Marshal(a.Remedies[1].Lines)
	right, _ := json.Marshal(b.Remedies[1].Lines)
	require.JSONEq(t, string(left), string(right), "a stored sheet is as good as a fresh one")
	require.Contains(t, string(left), `"add_grams"`)
}
