package batch_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/calibrate"
	"masstone/recipes"
	"masstone/recipes/batch"
)

// What a sheet's own lines hold is what the sheet says they hold,
// pre-dilutions included.
func TestHeldIsWhatTheSheetSays(t *testing.T) {
	for _, recipe := range []map[string]batch.PHR{five, {"WH": 1.1, "BK": 0.004}, {"RD": 0.5}} {
		s, err := batch.Plan(request(100, recipe))
		require.NoError(t, err)
		amounts, err := s.Amounts(nil)
		require.NoError(t, err)
		h := batch.ContentsOf(amounts, s.PigmentSide, s.Predilutions)
		require.InDelta(t, s.MixedResin.Grams(), h.Resin(), 1e-6)
		require.InDelta(t, s.Total.Grams(), h.Tinted()+h.Other, 1e-6)
		got, err := h.Loadings()
		require.NoError(t, err)
		for code, c := range s.Weighed {
			require.InDelta(t, float64(c), float64(got[code]), 1e-9, code)
		}
		for _, p := range s.Predilutions {
			require.InDelta(t, 1/float64(1+p.Ratio), h.Strength[p.Pigment], 1e-12)
		}
		require.Len(t, h.Strength, len(s.Predilutions))
	}
}

func TestAmountsAsWeighed(t *testing.T) {
	s, err := batch.Plan(request(250, map[string]batch.PHR{"WH": 1, "RD": 0.2, "BK": 0.001}))
	require.NoError(t, err)
	dilution := s.Predilutions[0].Item
	shown := batch.Poured{"RD": batch.Grams(0.62), "BK": batch.Grams(0.5), "YE": batch.Grams(0.1), "A": batch.Grams(131)}
	amounts, err := s.Amounts(shown)
	require.NoError(t, err)
	by := map[string]float64{}
	for _, a := range amounts {
		by[a.Item] = a.Grams.Grams()
	}
	require.Equal(t, 0.62, by["RD"])
	require.Equal(t, 0.5, by[dilution])
	require.Equal(t, 0.1, by["YE"])
	require.Equal(t, 131.0, by["A"])
	require.InDelta(t, 2.47, by["WH"], 0.02)
	h := batch.ContentsOf(amounts, s.PigmentSide, s.Predilutions)
	require.InDelta(t, 0.5/float64(1+s.Predilutions[0].Ratio), h.Paste["BK"], 1e-9)

	_, err = s.Amounts(batch.Poured{"BK": batch.Grams(0.5), dilution: batch.Grams(0.5)})
	require.ErrorContains(t, err, "given twice")
	_, err = s.Amounts(batch.Poured{"RD": batch.Grams(-1)})
	require.ErrorContains(t, err, "from 0 g")
}

// By hand: 3 g of BK let down 1:9 hold 0.3 g of paste and 2.7 g of side B. What
// was weighed of BK was a tenth paste; with 0.05 g of neat paste beside it, it
// was no longer, and the error of weighing is that of neat paste.
func TestNeatPasteBesideADilutedOne(t *testing.T) {
	made := []batch.Predilution{{Pigment: "BK", Item: "BK 1:9", Side: batch.SideB, Ratio: 9}}
	cup := []batch.Amount{{"B", batch.Grams(47)}, {"BK 1:9", batch.Grams(3)}, {"WH", batch.Grams(1)}, {"A", batch.Grams(50)}}
	h := batch.ContentsOf(cup, batch.SideB, made)
	require.InDelta(t, 49.7, h.Side, 1e-9)
	require.InDelta(t, 0.3, h.Paste["BK"], 1e-9)
	require.Equal(t, map[string]float64{"BK": 0.1}, h.Strength)
	for at := range len(cup) + 1 { // before or after it
		h = batch.ContentsOf(slices.Insert(slices.Clone(cup), at, batch.Amount{Item: "BK", Grams: batch.Grams(0.05)}), batch.SideB, made)
		require.InDelta(t, 0.35, h.Paste["BK"], 1e-9)
		require.Empty(t, h.Strength)
	}
}

// By hand: 120 g of side B with 6 g of WH and 1 g of RD, and 130 g of side A.
// 63.5 g of the tinted side, of 127 g, hold half of everything in it.
func TestPotByHand(t *testing.T) {
	h := batch.ContentsOf([]batch.Amount{{"B", batch.Grams(120)}, {"RD", batch.Grams(1)}, {"WH", batch.Grams(6)}, {"A", batch.Grams(130)}}, batch.SideB, nil)
	p, err := h.Pot(batch.Grams(63.5), false)
	require.NoError(t, err)
	require.InDelta(t, 60, float64(p.Resin), 1e-9)
	require.InDelta(t, 120.0/250, p.Share, 1e-12)
	require.InDelta(t, 3, float64(p.Pigments["WH"]), 1e-9)
	p, err = h.Pot(batch.Grams(257), true)
	require.NoError(t, err)
	require.InDelta(t, 250, float64(p.Resin), 1e-9)
	require.InDelta(t, 1, p.Share, 1e-12)
	for _, g := range []float64{0, 128, -3} {
		_, err = h.Pot(batch.Grams(g), false)
		require.ErrorContains(t, err, "127 g were weighed of the tinted side", "%g", g)
	}
	_, err = batch.Contents{}.Pot(batch.Grams(1), true)
	require.ErrorContains(t, err, "empty")
	_, err = batch.Contents{}.Loadings()
	require.ErrorContains(t, err, "no resin")
}

// Filling a pot up keeps what was in it, and the ratio of the sides.
func TestRefilled(t *testing.T) {
	pot := recipes.Pot{Resin: 60, Share: 0.48, Pigments: map[string]calibrate.Grams{"WH": 3, "RD": 0.5}}
	mix := batch.Ratio{A: 52, B: 48}
	h := batch.Refilled(pot, []batch.Amount{{"RD", batch.Grams(0.1)}, {"B", batch.Grams(12)}}, batch.SideB, mix)
	require.InDelta(t, 72, h.Side, 1e-9)
	require.InDelta(t, 78, h.Other, 1e-9)
	require.InDelta(t, 0.6, h.Paste["RD"], 1e-9)
	require.InDelta(t, 3, h.Paste["WH"], 1e-9)
	pot.Share = 1
	h = batch.Refilled(pot, nil, batch.SideB, mix)
	require.InDelta(t, 60, h.Resin(), 1e-9)
	require.InDelta(t, 60*0.48, h.Side, 1e-9)
}

// By hand: WH 1 and RD 0.2 phr in 100:90, pigments in B, 1000 g of tinted
// side: R = 1000 / (90/190 + 0.012) = 2058.95 g of mixed resin.
func TestTintByHand(t *testing.T) {
	lines, _, err := batch.Tint(map[string]batch.PHR{"WH": 1, "RD": 0.2}, clearResin(), batch.Scale{Step: batch.Grams(0.1)}, batch.Grams(1000))
	require.NoError(t, err)
	require.Equal(t, []batch.Amount{{"B", batch.Grams(975.3)}, {"RD", batch.Grams(4.1)}, {"WH", batch.Grams(20.6)}}, lines)
	_, _, err = batch.Tint(map[string]batch.PHR{"WH": 1, "RD": 0.0001}, clearResin(), batch.Scale{Step: batch.Grams(0.1)}, batch.Grams(100))
	require.ErrorContains(t, err, "tint 483685.3 g or more") // 1 g, ten steps, x 100/0.0001 x (90/190 + 0.010001)
	_, _, err = batch.Tint(map[string]batch.PHR{"WH": 1}, clearResin(), batch.Scale{Step: batch.Grams(0.1)}, batch.Grams(0))
	require.ErrorContains(t, err, "more than 0")
	_, _, err = batch.Tint(map[string]batch.PHR{"WH": -1}, clearResin(), batch.Scale{Step: batch.Grams(0.1)}, batch.Grams(10))
	require.ErrorContains(t, err, "0 to 100")
}

// A shot from a pail tinted to a recipe has the recipe's loadings, as near as
// the pail's scale allows.
func TestShotHoldsTheRecipe(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := clearResin()
		r.Mix = batch.Ratio{A: rapid.Float64Range(20, 200).Draw(t, "a"), B: rapid.Float64Range(20, 200).Draw(t, "b")}
		recipe := map[string]batch.PHR{"WH": batch.PHR(rapid.Float64Range(0.5, 3).Draw(t, "wh")), "RD": batch.PHR(rapid.Float64Range(0.1, 1).Draw(t, "rd"))}
		pail := rapid.Float64Range(1000, 10000).Draw(t, "pail")
		lines, _, err := batch.Tint(recipe, r, batch.Scale{Step: batch.Grams(0.01)}, batch.Grams(pail))
		require.NoError(t, err)
		h := batch.ContentsOf(lines, r.PigmentSide, nil)
		require.InDelta(t, pail, h.Tinted(), 0.01)
		shot, err := h.Shot(batch.Grams(rapid.Float64Range(50, 1000).Draw(t, "shot")), r.PigmentSide, r.Mix, batch.Grams(0.01))
		require.NoError(t, err)
		require.Equal(t, "A", shot[len(shot)-1].Item)
		got, err := batch.ContentsOf(shot, r.PigmentSide, nil).Loadings()
		require.NoError(t, err)
		for code, c := range recipe {
			require.InEpsilon(t, float64(c), float64(got[code]), 0.01, code)
		}
	})
	_, err := batch.Contents{}.Shot(batch.Grams(1), batch.SideB, batch.Ratio{A: 1, B: 1}, batch.Grams(0.01))
	require.ErrorContains(t, err, "tint it first")
}

func TestAdditions(t *testing.T) {
	way := recipes.PotRoute{Add: map[string]calibrate.Grams{"WH": 1.2, "RD": 0.304, "BK": 0.001}, Resin: 19}
	step, mix := batch.Grams(0.01), batch.Ratio{A: 100, B: 90}
	require.Equal(t, []batch.Amount{{"B", batch.Grams(19)}, {"RD", batch.Grams(0.30)}, {"WH", batch.Grams(1.2)}},
		batch.Additions(way, recipes.Pot{Share: 90.0 / 190}, batch.SideB, mix, step))
	require.Equal(t, []batch.Amount{{"B", batch.Grams(9)}, {"A", batch.Grams(10)}, {"RD", batch.Grams(0.30)}, {"WH", batch.Grams(1.2)}},
		batch.Additions(way, recipes.Pot{Share: 1}, batch.SideB, mix, step))
}
