package workbench

import (
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/recipes/archive"
)

// TestSameRecipe: what makes two recipes one to weigh and to judge.
func TestSameRecipe(t *testing.T) {
	made := func() archive.Recipe {
		return archive.Recipe{Resin: "CLR", Calibration: "cal1", TargetCard: "card1", Loadings: map[string]float64{"WH": 1, "BK": 0.002},
			ThicknessMM: 3, Backing: "white", ExpectedDE00: 0.5, Upper95DE00: 1, Chance: 0.9}
	}
	for name, c := range map[string]struct {
		differs func(*archive.Recipe)
		same    bool
	}{
		"nothing":                 {func(*archive.Recipe) {}, true},
		"its name":                {func(r *archive.Recipe) { r.Name = "x" }, true},
		"loadings within 0.1 %":   {func(r *archive.Recipe) { r.Loadings["WH"] = 1.0005 }, true},
		"a trace":                 {func(r *archive.Recipe) { r.Loadings["BK"] = 0.002005 }, true},
		"loadings":                {func(r *archive.Recipe) { r.Loadings["WH"] = 1.003 }, false},
		"another pigment":         {func(r *archive.Recipe) { delete(r.Loadings, "BK"); r.Loadings["RD"] = 0.002 }, false},
		"a pigment less":          {func(r *archive.Recipe) { delete(r.Loadings, "BK") }, false},
		"the target's card":       {func(r *archive.Recipe) { r.TargetCard = "card2" }, false},
		"what is expected of it":  {func(r *archive.Recipe) { r.ExpectedDE00 = 0.52 }, false},
		"expected all but alike":  {func(r *archive.Recipe) { r.ExpectedDE00 = 0.505 }, true},
		"the calibration":         {func(r *archive.Recipe) { r.Calibration = "cal2" }, false},
		"the resin":               {func(r *archive.Recipe) { r.Resin = "E" }, false},
		"the thickness":           {func(r *archive.Recipe) { r.ThicknessMM = 2 }, false},
		"what is behind the part": {func(r *archive.Recipe) { r.Backing = "black" }, false},
		"a remark":                {func(r *archive.Recipe) { r.Note = "x" }, false},
	} {
		r := made()
		c.differs(&r)
		assert.Equal(t, c.same, sameRecipe(made(), r), name)
		assert.Equal(t, c.same, sameRecipe(r, made()), name)
	}
}

// mine is a recipe of one's own for the lamp.
func mine() AddRecipeRequest {
	return AddRecipeRequest{Target: "lamp", Loadings: phrs(lamp())}
}

// TestRecipeIsAddedOnce: the same recipe under the same name is one; a target
// read anew, another name or other doubt make another.
func TestRecipeIsAddedOnce(t *testing.T) {
	b := newBench(t)
	addTarget(t, b, "lamp", lamp())
	first, err := AddRecipe(t.Context(), b, mine())
	require.NoError(t, err)
	require.NotNil(t, first.Expected)
	var wg sync.WaitGroup
	again, failed := make([]AddedRecipe, 4), make([]error, 4)
	for i := range again {
		other := openBench(t, b.Path())
		wg.Go(func() { again[i], failed[i] = AddRecipe(t.Context(), other, mine()) })
	}
	wg.Wait()
	for i := range again {
		require.NoError(t, failed[i])
		assert.Equal(t, first.ID, again[i].ID)
	}
	named := mine()
	named.Name = "notebook, page 7"
	other, err := AddRecipe(t.Context(), b, named)
	require.NoError(t, err)
	assert.NotEqual(t, first.ID, other.ID)
	assert.Equal(t, named.Name, other.Name)

	lab := archive.LabOf(partOf(stronger(lamp(), "BK", 1.001)))
	_, err = b.archive.PutTarget(t.Context(), archive.Target{Client: "Tern", Name: "lamp", ThicknessMM: float64(testShop().Setting.Thickness), Backing: "white",
		Tolerance: 1, Formula: "CIEDE2000", Readings: []archive.Reading{{Lab: &lab, Geometry: "d/8", Specular: "included"}}}, archive.Replace)
	require.NoError(t, err)
	anew, err := AddRecipe(t.Context(), b, mine())
	require.NoError(t, err)
	assert.NotEqual(t, first.ID, anew.ID, "the target was read anew")
	assert.InDelta(t, float64(*first.Expected), float64(*anew.Expected), 0.01)
}

// TestRecipeIsRefused says what is wrong with a recipe, and where.
func TestRecipeIsRefused(t *testing.T) {
	b := newBench(t)
	addTarget(t, b, "lamp", lamp())
	_, err := b.archive.ImportPigments(t.Context(), []archive.Pigment{{Code: "NEW"}})
	require.NoError(t, err)
	for name, c := range map[string]struct {
		r    AddRecipeRequest
		kind Kind
		says string
	}{
		"no loadings":     {AddRecipeRequest{}, Invalid, "⟦phr⟧ is missing"},
		"not fitted":      {AddRecipeRequest{Loadings: map[string]calibrate.PHR{"NEW": 1}}, Failed, "not in calibration CLR v1"},
		"unknown pigment": {AddRecipeRequest{Loadings: map[string]calibrate.PHR{"ZZ": 1}}, NotFound, "ZZ"},
		"unknown target":  {AddRecipeRequest{Target: "lump", Loadings: phrs(lamp())}, NotFound, "lump"},
		"unknown resin":   {AddRecipeRequest{Resin: "E", Loadings: phrs(lamp())}, NotFound, "E"},
	} {
		_, err := AddRecipe(t.Context(), b, c.r)
		assert.ErrorContains(t, err, c.says, name)
		assert.Equal(t, c.kind, KindOf(err), name)
	}
	v, err := Recipes(t.Context(), b, RecipesRequest{Limit: 9})
	require.NoError(t, err)
	assert.Empty(t, v.Recipes)
	_, err = Recipes(t.Context(), b, RecipesRequest{})
	assert.Equal(t, Invalid, KindOf(err))
}

// TestRecipeWithoutCalibration is kept, with what is not known left open.
func TestRecipeWithoutCalibration(t *testing.T) {
	b := newBench(t)
	addOtherResin(t, b)
	addTarget(t, b, "lamp", lamp())
	r := mine()
	r.Resin = otherResin
	v, err := AddRecipe(t.Context(), b, r)
	require.NoError(t, err)
	assert.Nil(t, v.Expected)
	require.Len(t, v.Remarks, 1)
	assert.Contains(t, v.Remarks[0].Text, "not calibrated yet")
	sheet, err := MakeBatch(t.Context(), b, BatchRequest{Recipe: v.ID, Making: hundredGrams()})
	require.NoError(t, err)
	assert.Nil(t, sheet.Expected)
	card, err := RecipeCard(t.Context(), b, v.ID, nil)
	require.NoError(t, err)
	assert.Empty(t, card.Colors)
	shown, err := ShowRecipe(t.Context(), b, v.ID)
	require.NoError(t, err)
	require.Len(t, shown.Batches, 1)
	assert.Equal(t, sheet.Batch, shown.Batches[0].Batch)
}
