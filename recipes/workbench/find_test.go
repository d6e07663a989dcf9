package workbench

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/color"
	"masstone/recipes/figure"
)

// TestFindByDay: both days are included. The bench's clock says 31 March 2026.
func TestFindByDay(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	require.Equal(t, "2026-03-31", r.At.Format(time.DateOnly))
	for name, c := range map[string]struct {
		since, until string
		found        int
	}{
		"any day":              {"", "", 1},
		"since its day":        {"2026-03-31", "", 1},
		"since the day after":  {"2026-04-01", "", 0},
		"until its day":        {"", "2026-03-31", 1},
		"until the day before": {"", "2026-03-30", 0},
		"on its day":           {"2026-03-31", "2026-03-31", 1},
	} {
		v, err := Find(t.Context(), b, FindRequest{Since: c.since, Until: c.until, Count: 9})
		require.NoError(t, err, name)
		assert.Len(t, v.Recipes, c.found, name)
	}
}

// TestFindIsRefused says which input is wrong.
func TestFindIsRefused(t *testing.T) {
	b := newBench(t)
	addTarget(t, b, "lamp", lamp())
	for field, c := range map[string]struct {
		r    FindRequest
		says string
	}{
		"since":      {FindRequest{Since: "lately", Count: 1}, "write it as 2026-03-31"},
		"until":      {FindRequest{Until: "31.3.2026", Count: 1}, "write it as 2026-03-31"},
		"count":      {FindRequest{}, "1 or more"},
		"lab":        {FindRequest{Lab: "66,-10,-2", Target: "lamp", Count: 1}, "give either"},
		"illuminant": {FindRequest{Lab: "66,-10,-2", Count: 1}, "is missing"},
	} {
		_, err := Find(t.Context(), b, c.r)
		require.ErrorContains(t, err, c.says, field)
		var fault *Error
		require.ErrorAs(t, err, &fault, field)
		assert.Equal(t, field, fault.Field)
	}
}

// TestFindByColour: nearest first, from the colour approved, else predicted;
// that an adjustment brings it nearer the shop itself says (virtualshop).
func TestFindByColour(t *testing.T) {
	b := newBench(t)
	target, _ := poured(t, b)
	far, err := AddRecipe(t.Context(), b, AddRecipeRequest{Loadings: phrs(stronger(lamp(), "BK", 4)), Name: "dark"})
	require.NoError(t, err)
	_, err = AddRecipe(t.Context(), b, AddRecipeRequest{Target: "lamp", Loadings: phrs(stronger(lamp(), "BK", 1.3))})
	require.NoError(t, err)
	v, err := Find(t.Context(), b, FindRequest{Lab: typed(partOf(lamp())), Condition: color.D65Ten(), Count: 9})
	require.NoError(t, err)
	require.Len(t, v.Recipes, 2, "a recipe without a colour is not near any")
	assert.Less(t, float64(*v.Recipes[0].Distance), float64(*v.Recipes[1].Distance))
	assert.Equal(t, far.ID, v.Recipes[1].ID)
	assert.Nil(t, v.Adjust)
	// what is expected is of the colour asked for, as a batch of it says
	for i, r := range v.Recipes {
		require.NotNil(t, r.Expected)
		if i > 0 {
			assert.GreaterOrEqual(t, float64(*r.Expected), float64(*v.Recipes[i-1].Expected))
		}
	}
	assert.Greater(t, float64(*v.Recipes[1].Expected), 1.0)
	assert.Less(t, float64(*v.Recipes[1].Chance), 0.5)

	v, err = Find(t.Context(), b, FindRequest{Words: "lamp", Target: target.Name, Count: 1, Adjust: true})
	require.NoError(t, err)
	require.NotNil(t, v.Adjust)
	assert.Equal(t, v.Recipes[0].ID, v.Adjust.Recipe)
	before, after := map[string]float64{}, map[string]float64{}
	for code, phr := range v.Adjust.Loadings {
		after[code] = float64(phr)
		before[code] = float64(phr - v.Adjust.Change[code])
	}
	assert.InDelta(t, 1.3*lamp()["BK"], before["BK"], 1e-6)
	was, err := partOf(before).DeltaE00(partOf(lamp()))
	require.NoError(t, err)
	is, err := partOf(after).DeltaE00(partOf(lamp()))
	require.NoError(t, err)
	assert.Less(t, is, 0.3*was)
	assert.Less(t, float64(*v.Adjust.Expected), float64(*v.Adjust.AsItIs))
	assert.Equal(t, *v.Adjust.AsItIs, *v.Recipes[0].Expected, "one expected value")
	assert.Equal(t, &TargetRef{"Tern", "lamp"}, v.Target)

	own, err := Approve(t.Context(), b, ApproveRequest{Recipe: v.Recipes[0].ID})
	require.NoError(t, err)
	v, err = Find(t.Context(), b, FindRequest{Target: target.Name, Approved: true, Count: 9})
	require.NoError(t, err)
	require.Len(t, v.Recipes, 1)
	assert.Equal(t, 1, v.Recipes[0].Version)
	assert.True(t, v.Recipes[0].Approved)
	assert.Equal(t, own.Colors[0], *v.Recipes[0].Where)
	assert.Equal(t, figure.LabOf(partOf(lamp())).String(), figure.LabText(*v.Near))
}

// TestAdjustWhatWasTyped: nothing is known of a recipe without a calibration.
func TestAdjustWhatWasTyped(t *testing.T) {
	b := newBench(t)
	addOtherResin(t, b)
	addTarget(t, b, "lamp", lamp())
	r := mine()
	r.Resin = otherResin
	added, err := AddRecipe(t.Context(), b, r)
	require.NoError(t, err)
	_, err = Approve(t.Context(), b, ApproveRequest{Recipe: added.ID, Pours: []string{func() string {
		sheet, err := MakeBatch(t.Context(), b, BatchRequest{Recipe: added.ID, Making: hundredGrams()})
		require.NoError(t, err)
		p, err := AddPour(t.Context(), b, AddPourRequest{Batch: sheet.Batch})
		require.NoError(t, err)
		readPour(t, b, p.Pour, lamp())
		return p.Pour
	}()}})
	require.NoError(t, err)
	v, err := Find(t.Context(), b, FindRequest{Target: "lamp", Count: 1, Adjust: true})
	require.NoError(t, err)
	require.Len(t, v.Recipes, 1)
	assert.Contains(t, v.Adjust.Note, "typed in")
	assert.Nil(t, v.Adjust.Expected)
}
