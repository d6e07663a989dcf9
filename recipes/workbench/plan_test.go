package workbench

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/color"
	"masstone/recipes/archive"
)

// TestUsualCasting: what a plan is not told is as most chips of the resin were,
// the first of equals; without chips it is what shops do (common practice, no
// source).
func TestUsualCasting(t *testing.T) {
	b := newBench(t)
	chip := func(over string, thickness, grams, scale float64, geometry string) archive.Chip {
		return archive.Chip{Backing: over, ThicknessMM: thickness, ChipGrams: grams, ScaleGrams: scale, Readings: []archive.Reading{{Geometry: geometry}}}
	}
	resin := archive.Resin{Code: testResin, MaxPHR: 6}
	mixed := []archive.Chip{chip("white", 2, 30, 0.1, "d/8"), chip("black", 3, 40, 0.01, "45/0"), chip("black", 4, 40, 0.1, "45/0")}
	type casting struct {
		grams, scale, thickness float64
		over                    []string
		how                     color.Measurement
	}
	d8, directional := color.Measurement{Geometry: color.Sphere, Specular: color.SpecularIncluded}, color.Measurement{Geometry: color.Directional, Specular: color.SpecularExcluded}
	for name, c := range map[string]struct {
		asked Casting
		chips []archive.Chip
		want  casting
	}{
		"no chip":      {Casting{}, nil, casting{50, 0.01, 3, []string{"white", "black"}, d8}},
		"most chips":   {Casting{}, mixed, casting{40, 0.1, 2, []string{"black", "white"}, directional}},
		"equals":       {Casting{}, mixed[:2], casting{30, 0.1, 2, []string{"white", "black"}, d8}},
		"as asked":     {Casting{ChipGrams: 20, ScaleGrams: 0.5, ThicknessMM: 6, Over: []string{" white "}}, mixed, casting{20, 0.5, 6, []string{"white"}, directional}},
		"not on cards": {Casting{}, []archive.Chip{chip("white", 2, 0, 0, "")}, casting{50, 0.01, 2, []string{"white"}, d8}},
		"in part":      {Casting{ScaleGrams: 0.001}, mixed, casting{40, 0.001, 2, []string{"black", "white"}, directional}},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := c.asked.bench(t.Context(), b.archive, resin, c.chips)
			require.NoError(t, err)
			var over []string
			for _, k := range got.Backings {
				over = append(over, k.Name)
			}
			assert.Equal(t, c.want, casting{float64(got.ChipGrams), float64(got.ScaleGrams), float64(got.Thickness), over, got.Measurement})
			assert.Equal(t, calibrate.PHR(6), got.MaxPHR)
		})
	}
	_, err := Casting{Over: []string{"grey"}}.bench(t.Context(), b.archive, resin, nil)
	require.Equal(t, NotFound, KindOf(err))
}

// shelf puts pigments on a bench with a resin NEW that has no chip.
func shelf(t testing.TB, pigments ...archive.Pigment) *Bench {
	t.Helper()
	b := newBench(t)
	addResin(t, b, "NEW")
	_, err := b.archive.ImportPigments(t.Context(), pigments)
	require.NoError(t, err)
	return b
}

// TestWhitesByName: whites are those whose Colour Index generic name is that of
// a white that hides (Colour Index: PW6 is titanium dioxide, PW18 chalk, PR101
// iron oxide); a plain name counts only where that is not known.
func TestWhitesByName(t *testing.T) {
	b := shelf(t, archive.Pigment{Code: "T", CIName: "PW6"}, archive.Pigment{Code: "Z", CIName: "Pigment White 4"}, archive.Pigment{Code: "C", CIName: "PW18"},
		archive.Pigment{Code: "N", Name: "Snow white"}, archive.Pigment{Code: "R", CIName: "PR101", Name: "off white"}, archive.Pigment{Code: "W", Name: "whitewash"})
	all := []string{"T", "Z", "C", "N", "R", "W"}
	for name, c := range map[string]struct {
		r    PlanStartRequest
		want []string
		says string
	}{
		"by name":  {PlanStartRequest{Pigments: all}, []string{"N", "T", "Z"}, "Colours are let down in N."},
		"as told":  {PlanStartRequest{Pigments: all, Whites: []string{" R", "T"}}, []string{"R", "T"}, "Colours are let down in R."},
		"one":      {PlanStartRequest{Pigments: []string{" T ", "R"}}, []string{"T"}, "Colours are let down in T."},
		"none":     {PlanStartRequest{Pigments: []string{"R", "C"}}, []string{}, "No white is known among these pigments, so no tints are planned: say which of them is the white."},
		"shelf":    {PlanStartRequest{}, []string{"N", "T", "Z"}, "Colours are let down in N."},
		"bare one": {PlanStartRequest{Pigments: []string{"W"}}, []string{}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			c.r.Resin, c.r.Evidence = "NEW", calibrate.LabEvidence
			v, err := PlanStart(t.Context(), b, c.r)
			require.NoError(t, err)
			assert.Equal(t, c.want, v.Whites)
			require.Len(t, v.Notes, 1)
			if c.says != "" {
				assert.Equal(t, c.says, v.Notes[0])
			}
			assert.Equal(t, v.Notes, v.Paper.Notes)
		})
	}
	_, err := PlanStart(t.Context(), b, PlanStartRequest{Resin: "NEW", Pigments: []string{"R"}, Whites: []string{"T"}})
	var e *Error
	require.ErrorAs(t, err, &e)
	require.Equal(t, "whites", e.Field)
	_, err = PlanStart(t.Context(), b, PlanStartRequest{Resin: "NEW", Pigments: []string{"nix"}})
	require.Equal(t, NotFound, KindOf(err))
	for _, per := range []int{-1, 5} {
		_, err = PlanStart(t.Context(), b, PlanStartRequest{Resin: "NEW", PerColour: per})
		require.Equal(t, Invalid, KindOf(err))
	}
}

// TestFirstChips: each is weighed in its cup to the mix and the loading the card
// says, and read as asked.
func TestFirstChips(t *testing.T) {
	b := newBench(t)
	v, err := PlanStart(t.Context(), b, PlanStartRequest{Resin: testResin, Pigments: []string{"WH", "BK"}, Whites: []string{"WH"}, Level: 2, Casting: Casting{ChipGrams: 95, ScaleGrams: 0.01, Over: []string{"white", "black"}}, Evidence: calibrate.LabEvidence})
	require.NoError(t, err)
	require.Contains(t, v.Notes[1], "16 chips of CLR are on the bench already")
	require.Empty(t, v.Calibration)
	at := map[string]PlannedChip{}
	for i, c := range v.Chips {
		at[c.Chip] = c
		assert.Equal(t, c.Chip, v.Paper.Chips[i].Name)
		for code, phr := range c.Loadings { // phr is grams of paste per 100 g of mixed resin
			assert.InDelta(t, float64(phr)*95/100, float64(c.Grams[code]), 1e-6)
		}
	}
	require.Contains(t, at, "resin-black")
	bare := at["resin-white"]
	assert.Equal(t, "white", bare.Over)
	require.Len(t, bare.Weigh, 2)
	// 95 g of 100:90 are 50 g of A and 45 g of B; B takes the pigments and goes first
	assert.Equal(t, "B", bare.Weigh[0].Item)
	assert.InDelta(t, 45, bare.Weigh[0].Grams.Grams(), 1e-9)
	assert.InDelta(t, 50, bare.Weigh[1].Grams.Grams(), 1e-9)

	a2 := color.Under(color.A, color.TwoDegree)
	for name, c := range map[string]struct {
		evidence calibrate.Evidence
		under    []color.Condition
		want     castplan.Reading
	}{
		"one light":        {calibrate.LabEvidence, nil, castplan.Reading{Lights: []color.Condition{color.D65Ten()}}},
		"that light":       {calibrate.LabEvidence, []color.Condition{a2}, castplan.Reading{Lights: []color.Condition{a2}}},
		"lights":           {calibrate.LabsEvidence, nil, castplan.Reading{Lights: calibrate.ThreeLights(color.TenDegree)}},
		"not said":         {"", nil, castplan.Reading{Lights: calibrate.ThreeLights(color.TenDegree)}},
		"spectra":          {calibrate.SpectralEvidence, nil, castplan.Reading{Spectrum: true}},
		"all, and a light": {calibrate.AllEvidence, []color.Condition{a2}, castplan.Reading{Spectrum: true, Lights: []color.Condition{a2}}},
	} {
		assert.Equal(t, c.want, PlanStartRequest{Evidence: c.evidence, Under: c.under}.reading(), name)
	}
}

// TestNextChips: over the gamut, each chip lowers the mean expected error below
// what those before it left, and none was cast already.
func TestNextChips(t *testing.T) {
	b := newBench(t)
	v, err := PlanNext(t.Context(), b, PlanNextRequest{Resin: testResin, Count: 2})
	require.NoError(t, err)
	require.Equal(t, "CLR v1", v.Calibration)
	require.Equal(t, 100, v.Mixtures)
	require.Equal(t, []string{"WH"}, v.Whites)
	require.Equal(t, []string{"D65/10"}, v.Lights)
	require.False(t, v.Spectrum)
	require.Len(t, v.Chips, 2)
	shop := testShop()
	require.Equal(t, []float64{float64(shop.ChipGrams), float64(shop.ScaleGrams), float64(shop.Setting.Thickness)}, []float64{float64(v.ChipGrams), float64(v.ScaleGrams), float64(v.ThicknessMM)})
	left := *v.Before
	for i, c := range v.Chips {
		require.Less(t, *c.After, left)
		require.Less(t, c.Helps.After, c.Helps.Before)
		require.Empty(t, c.Helps.What)
		require.Contains(t, v.Paper.Chips[i].Why, "brings the mean to")
		left = *c.After
	}
	require.Equal(t, left, *v.After)
	cast, err := b.archive.Chips(t.Context(), testResin)
	require.NoError(t, err)
	for _, c := range cast {
		require.NotContains(t, []string{v.Chips[0].Chip, v.Chips[1].Chip}, c.Name)
	}
	for _, text := range v.Notes {
		require.NotRegexp(t, `--|⟦|masstone`, text)
	}
	for _, count := range []int{-1, 51} {
		_, err = PlanNext(t.Context(), b, PlanNextRequest{Resin: testResin, Count: count})
		require.Equal(t, Invalid, KindOf(err))
	}
	_, err = PlanNext(t.Context(), b, PlanNextRequest{Resin: testResin, Count: 1, For: []string{"nix"}})
	require.Equal(t, NotFound, KindOf(err))
}

// TestNextChipsForTheLotsInUse: a lot whose strength is known badly leaves more
// open than the one calibrated, and a chip of it tells.
func TestNextChipsForTheLotsInUse(t *testing.T) {
	b := newBench(t)
	request := PlanNextRequest{Resin: testResin, Count: 1}
	before, err := PlanNext(t.Context(), b, request)
	require.NoError(t, err)
	strongerBy(t, b, "BK", "K-2", 0, 0.2)
	after, err := PlanNext(t.Context(), b, request)
	require.NoError(t, err)
	require.Greater(t, float64(*after.Before), 1.1*float64(*before.Before))
	require.Contains(t, after.Chips[0].Loadings, "BK")
	require.Contains(t, after.Notes[len(after.Notes)-1], "BK lot K-2 is counted as")
	require.Equal(t, after.Notes, after.Paper.Notes)
}

// TestInterest: for a target the recipes stored for it count, of this resin and
// of pigments that were fitted, or else those a match finds.
func TestInterest(t *testing.T) {
	b := newBench(t)
	yellow := testShop().Codes[2]
	mix := map[string]float64{"WH": 1.5, "BK": 0.1, yellow: 0.4}
	addTarget(t, b, "lamp", mix)
	in := func() interest {
		t.Helper()
		k, err := know(t.Context(), b.archive, question{resin: testResin})
		require.NoError(t, err)
		resin, err := b.archive.Resin(t.Context(), testResin)
		require.NoError(t, err)
		in, err := PlanNextRequest{For: []string{"lamp"}}.interest(t.Context(), b.archive, resin, &k, nil)
		require.NoError(t, err)
		return in
	}
	add := func(resin string, loadings map[string]float64) string {
		t.Helper()
		r, err := b.archive.AddRecipes(t.Context(), archive.Recipe{Resin: resin, Client: "Tern", Target: "lamp", Loadings: loadings, ThicknessMM: 3, Backing: "white"})
		require.NoError(t, err)
		return r[0].ID()
	}
	addResin(t, b, "NEW")
	_, err := b.archive.PutPigment(t.Context(), archive.Pigment{Code: "ZN"}, archive.Refuse)
	require.NoError(t, err)
	add("NEW", mix)
	add(testResin, map[string]float64{"WH": 1, "ZN": 0.1})
	found := in()
	require.Equal(t, "lamp, match 1", found.names[0])
	require.LessOrEqual(t, len(found.mixtures), mostRecipes)
	require.Contains(t, found.mixtures[0].Loadings, yellow)

	id := add(testResin, mix)
	stored := in()
	require.Equal(t, []string{id}, stored.names)
	require.Equal(t, phrs(mix), stored.mixtures[0].Loadings)
	seen := testShop().Setting
	seen.ThicknessSD = usualThicknessSD
	require.Equal(t, seen, stored.mixtures[0].Setting, "as the target is seen")

	v, err := PlanNext(t.Context(), b, PlanNextRequest{Resin: testResin, Count: 1, For: []string{"lamp"}})
	require.NoError(t, err)
	require.Equal(t, 1, v.Mixtures)
	require.Equal(t, []string{"lamp"}, v.For)
	require.Equal(t, id, v.Chips[0].Helps.What)
	require.Contains(t, v.Notes[0], "the mean of 1 recipe for lamp")
	require.Contains(t, v.Paper.Chips[0].Why, id+" (WH 1.5")

	for range mostRecipes {
		mix["BK"] += 0.05
		add(testResin, mix)
	}
	require.Len(t, in().mixtures, mostRecipes)
}
