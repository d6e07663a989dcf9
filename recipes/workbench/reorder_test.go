package workbench

import (
	"errors"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/color"
	"masstone/recipes/archive"
	"masstone/recipes/papers"
)

// provenWith is a bench with a recipe for the lamp that was approved: its green
// is of a lot, K-1, so many times as strong as the calibrated one, and the
// recipe makes up for it.
func provenWith(t testing.TB, times float64) (*Bench, archive.Recipe) {
	t.Helper()
	b, green := newBench(t), testShop().Codes[2]
	addLots(t, b, green, "K-1", "K-2")
	openLot(t, b, green, "K-1")
	r := addRecipe(t, b, addTarget(t, b, "lamp", lamp()), testResin, stronger(lamp(), green, 1/times))
	for range 2 {
		readPour(t, b, addPour(t, b, r, nil).Pour, lamp())
	}
	_, err := Approve(t.Context(), b, ApproveRequest{Recipe: r.ID(), Pours: []string{"P1", "P2"}})
	require.NoError(t, err)
	return b, r
}

func openLot(t testing.TB, b *Bench, code, lot string) {
	t.Helper()
	_, err := OpenLot(t.Context(), b, OpenLotRequest{code, lot})
	require.NoError(t, err)
}

func reorderOf(lamp string) ReorderRequest {
	return ReorderRequest{Target: lamp, Making: hundredGrams()}
}

// TestReorderMakesUpForLots: of a lot that is weaker than the approved one more
// is weighed, of a stronger one less, whatever either is against the calibrated.
// That the part comes out right is checked by the shop itself (virtualshop).
func TestReorderMakesUpForLots(t *testing.T) {
	green := testShop().Codes[2]
	for name, c := range map[string]struct{ then, now float64 }{
		"weaker than a strong one":   {1.25, 1},
		"stronger than a weak one":   {0.8, 1},
		"stronger than the usual":    {1, 1.25},
		"weaker than the usual":      {1, 0.8},
		"as strong as a strong one":  {1.25, 1.25},
		"as strong as the usual one": {1, 1},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			b, r := provenWith(t, c.then)
			_, err := LearnLot(t.Context(), b, LearnLotRequest{Code: green, Lot: "K-2", Chips: lotChip("one", 0.3, c.now), ChipGrams: 50, ScaleGrams: 0.01})
			require.NoError(t, err)
			openLot(t, b, green, "K-2")
			v, err := MakeReorder(t.Context(), b, reorderOf("lamp"))
			require.NoError(t, err)
			require.Len(t, v.Changes, 1)
			assert.Equal(t, "lot of "+green, v.Changes[0].What)
			assert.Equal(t, "K-1", v.Changes[0].Then)
			assert.Equal(t, "K-2", v.Changes[0].Now)
			assert.Contains(t, v.Changes[0].Effect, "counted as")
			if c.then == c.now {
				assert.False(t, v.Resolved)
				assert.Equal(t, r.ID(), v.Recipe)
				assert.Less(t, float64(*v.Now), 0.6)
				return
			}
			require.True(t, v.Resolved)
			assert.Equal(t, c.then > c.now, v.Change[green] > 0)
			again := map[string]float64{}
			for code, phr := range v.Loadings {
				again[code] = float64(phr)
			}
			was, err := partOf(stronger(r.Loadings, green, c.now)).DeltaE00(partOf(lamp()))
			require.NoError(t, err)
			is, err := partOf(stronger(again, green, c.now)).DeltaE00(partOf(lamp()))
			require.NoError(t, err)
			assert.Less(t, is, 0.5*was)
			assert.Less(t, float64(*v.Then), float64(*v.Now))
			assert.Equal(t, v.Recipe, v.Sheet.Recipe)
		})
	}
}

// TestReorderOfAnUnknownLot counts how far lots usually differ, and says how to
// learn more; nothing but a lot named anew is no change.
func TestReorderOfAnUnknownLot(t *testing.T) {
	green := testShop().Codes[2]
	b, _ := provenWith(t, 1)
	same, err := MakeReorder(t.Context(), b, reorderOf("lamp"))
	require.NoError(t, err)
	assert.Empty(t, same.Changes)
	assert.Empty(t, same.Since)
	openLot(t, b, green, "K-2")
	v, err := MakeReorder(t.Context(), b, reorderOf("lamp"))
	require.NoError(t, err)
	require.Len(t, v.Changes, 1)
	assert.Contains(t, v.Changes[0].Effect, "its strength is not known: 10 % either way is usual; ⟦do lot learn␟"+green+"␟K-2␟FILE⟧")
	assert.Greater(t, float64(*v.Now), float64(*same.Now)+0.1)
	addLots(t, b, "WH", "7")
	openLot(t, b, "WH", "7")
	named, err := MakeReorder(t.Context(), b, reorderOf("lamp"))
	require.NoError(t, err)
	require.Len(t, named.Changes, 2, "a lot that is named where none was is a change")
	assert.Contains(t, named.Changes, v.Changes[0])
	for _, c := range named.Changes {
		if c.What == "lot of WH" {
			assert.Equal(t, "not named", c.Then)
			assert.Contains(t, c.Effect, "no lot was named then")
		}
	}
	assert.Contains(t, named.Question, "see a first part")
}

// TestMasterFades: readings that differ from those a target has are not averaged
// unasked; as a new card they are what a reorder compares with the approved ones,
// and asks the client about. Within what readings differ they are averaged.
func TestMasterFades(t *testing.T) {
	b, _ := provenWith(t, 1)
	add := func(by float64, change func(*AddReadingsRequest)) (AddedReadings, error) {
		p, err := Place(t.Context(), b, PlaceRequest{Kind: TargetPiece, Name: "lamp", Condition: color.D65Ten(), Measurement: color.Measurement{Geometry: color.Sphere, Specular: color.SpecularIncluded}})
		require.NoError(t, err)
		r := AddReadingsRequest{Place: p, Labs: []color.Lab{shifted(partOf(lamp()), [3]float64{by, 0, 0})}}
		if change != nil {
			change(&r)
		}
		return AddReadings(t.Context(), b, r)
	}
	v, err := add(0.1, nil)
	require.NoError(t, err)
	assert.Equal(t, 2, v.InAll)
	same, err := MakeReorder(t.Context(), b, reorderOf("lamp"))
	require.NoError(t, err)
	assert.Empty(t, same.Changes)
	assert.Empty(t, same.Question)

	_, err = add(2, nil)
	var asked *Error
	require.ErrorAs(t, err, &asked)
	assert.Equal(t, "same-piece", asked.Field)
	assert.Equal(t, Conflict, asked.Kind)
	v, err = add(2, func(r *AddReadingsRequest) { r.SamePiece = true })
	require.NoError(t, err)
	assert.Equal(t, 3, v.InAll)
	v, err = add(2.1, func(r *AddReadingsRequest) { r.Replace = true })
	require.NoError(t, err)
	assert.Equal(t, 1, v.InAll)
	v2, err := MakeReorder(t.Context(), b, reorderOf("lamp"))
	require.NoError(t, err)
	require.Len(t, v2.Changes, 1)
	assert.Equal(t, "the master", v2.Changes[0].What)
	assert.Contains(t, v2.Changes[0].Effect, "lighter")
	assert.Contains(t, v2.Question, "or the sample as it is now?")
	assert.InDelta(t, float64(*same.Now), float64(*v2.Now), 1e-6, "the sheet is for what was approved")
}

// TestReorderStoresOnce: what is solved again and its sheet are kept once, also
// of several that ask at once, and not at all where the sheet is refused or the
// recipe wanted as approved.
func TestReorderStoresOnce(t *testing.T) {
	green := testShop().Codes[2]
	b, r := provenWith(t, 1.25)
	_, err := LearnLot(t.Context(), b, LearnLotRequest{Code: green, Lot: "K-2", Chips: lotChip("one", 0.3, 1), ChipGrams: 50, ScaleGrams: 0.01})
	require.NoError(t, err)
	openLot(t, b, green, "K-2")
	stored := func() (recipes, batches int) {
		all, err := b.archive.Recipes(t.Context(), "Tern", "lamp")
		require.NoError(t, err)
		sheets, err := b.archive.Batches(t.Context(), "")
		require.NoError(t, err)
		return len(all), len(sheets)
	}
	recipes, batches := stored()
	refused := reorderOf("lamp")
	full := errors.New("the disk is full")
	refused.Deliver = func(papers.BatchSheet) error { return full }
	_, err = MakeReorder(t.Context(), b, refused)
	require.ErrorIs(t, err, full)
	n, k := stored()
	assert.Equal(t, []int{recipes, batches}, []int{n, k})

	as := reorderOf("lamp")
	as.AsApproved = true
	v, err := MakeReorder(t.Context(), b, as)
	require.NoError(t, err)
	assert.False(t, v.Resolved)
	assert.Equal(t, r.ID(), v.Sheet.Recipe)
	assert.Less(t, float64(*v.Then), float64(*v.Now))
	n, k = stored()
	assert.Equal(t, []int{recipes, batches + 1}, []int{n, k})

	var wg sync.WaitGroup
	found, failed := make([]Reorder, 3), make([]error, 3)
	for i := range found {
		other := openBench(t, b.Path())
		wg.Go(func() { found[i], failed[i] = MakeReorder(t.Context(), other, reorderOf("lamp")) })
	}
	wg.Wait()
	for i := range found {
		require.NoError(t, failed[i])
		assert.Equal(t, found[0].Recipe, found[i].Recipe)
		assert.Equal(t, found[0].Sheet.Batch, found[i].Sheet.Batch)
	}
	n, k = stored()
	assert.Equal(t, []int{recipes + 1, batches + 2}, []int{n, k})
}
