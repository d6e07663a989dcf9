package workbench

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
)

// otherResin is a resin that nothing is calibrated in.
const otherResin = "OPQ"

// lamp are loadings of the invented shop's pigments that most tests cast.
func lamp() map[string]float64 {
	return map[string]float64{"WH": 1.5, "BK": 0.1, testShop().Codes[2]: 0.4}
}

// stronger are loadings as they act where a pigment is of a stronger lot.
func stronger(loadings map[string]float64, code string, times float64) map[string]float64 {
	out := map[string]float64{}
	for c, phr := range loadings {
		out[c] = phr
	}
	out[code] *= times
	return out
}

// addRecipe puts a recipe for a target on the bench.
func addRecipe(t testing.TB, b *Bench, target archive.Target, resin string, loadings map[string]float64) archive.Recipe {
	t.Helper()
	r := archive.Recipe{Resin: resin, Client: target.Client, Target: target.Name, TargetCard: target.Ref, Loadings: loadings, ThicknessMM: target.ThicknessMM, Backing: "white"}
	if resin == testResin {
		cal, err := b.archive.Calibration(t.Context(), resin, 0)
		require.NoError(t, err)
		r.Calibration = cal.Ref
	}
	added, err := b.archive.AddRecipes(t.Context(), r)
	require.NoError(t, err)
	return added[0]
}

// addOtherResin puts a second resin on the shelf.
func addOtherResin(t testing.TB, b *Bench) {
	t.Helper()
	_, err := b.archive.PutResin(t.Context(), archive.Resin{Code: otherResin, MixA: 100, MixB: 90, DensityA: 1.05, DensityB: 1, PigmentSide: "B"}, archive.Refuse)
	require.NoError(t, err)
}

// addLots puts lots of a pigment on the shelf.
func addLots(t testing.TB, b *Bench, code string, names ...string) {
	t.Helper()
	for _, n := range names {
		_, err := AddLot(t.Context(), b, AddLotRequest{Code: code, Lot: n})
		require.NoError(t, err)
	}
}

// addBatch makes a recipe up for 100 g of mixed resin.
func addBatch(t testing.TB, b *Bench, r archive.Recipe) archive.Batch {
	t.Helper()
	k := archive.Batch{Recipe: r.Ref, ScaleGrams: 0.01, Lines: []archive.Line{{Item: "B", Grams: 9000. / 190}}}
	total := 100.0
	for _, code := range figure.ByLoading(r.Loadings) {
		k.Lines = append(k.Lines, archive.Line{Item: code, Grams: r.Loadings[code]})
		total += r.Loadings[code]
	}
	k.Lines, k.TotalGrams = append(k.Lines, archive.Line{Item: "A", Grams: 10000. / 190}), total
	added, err := b.archive.AddBatch(t.Context(), k)
	require.NoError(t, err)
	return added
}

// addPour casts a recipe, of lots by code.
func addPour(t testing.TB, b *Bench, r archive.Recipe, lots map[string]string) Pour {
	t.Helper()
	p, err := AddPour(t.Context(), b, AddPourRequest{Batch: addBatch(t, b, r).ID(), Lots: lots})
	require.NoError(t, err)
	return p
}

// readPour reads a pour as a part of these loadings.
func readPour(t testing.TB, b *Bench, pour string, as map[string]float64) PourReading {
	t.Helper()
	v, err := ReadPour(t.Context(), b, ReadPourRequest{Pour: pour, Readings: Readings{Typed: []string{typed(partOf(as))}}})
	require.NoError(t, err)
	return v
}

// poured is a target with a recipe for it.
func poured(t testing.TB, b *Bench) (archive.Target, archive.Recipe) {
	t.Helper()
	target := addTarget(t, b, "lamp", lamp())
	return target, addRecipe(t, b, target, testResin, lamp())
}

// TestWhatWasPoured: lines are the sheet's unless the scale showed otherwise;
// lots those named, then the batch's, then those in use today.
func TestWhatWasPoured(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	green := testShop().Codes[2]
	addLots(t, b, green, "K-1", "K-2")
	addLots(t, b, "WH", "7", "8")
	for code, lot := range map[string]string{green: "K-1", "WH": "7"} {
		_, err := OpenLot(t.Context(), b, OpenLotRequest{code, lot})
		require.NoError(t, err)
	}
	k := addBatch(t, b, r)
	k.Lots, k.Lines = []archive.LotName{pigmentLot("WH", "8")}, append(k.Lines, archive.Line{Item: "BK", Grams: 0})
	of, err := b.archive.AddBatch(t.Context(), k)
	require.NoError(t, err)
	for name, c := range map[string]struct {
		r        AddPourRequest
		asSheet  bool
		white    float64 // g
		lots     map[string]string
		loadings figure.Number // phr of white
	}{
		"as the sheet": {AddPourRequest{AsSheet: true}, true, 1.5, map[string]string{"WH": "8", green: "K-1"}, 1.5},
		"weighed":      {AddPourRequest{Weighed: batch.Poured{"WH": batch.Grams(2)}}, false, 2, map[string]string{"WH": "8", green: "K-1"}, 2},
		"lot named":    {AddPourRequest{Lots: map[string]string{green: "K-2"}}, true, 1.5, map[string]string{"WH": "8", green: "K-2"}, 1.5},
		"another day":  {AddPourRequest{On: "2025-01-01"}, true, 1.5, map[string]string{"WH": "8"}, 1.5},
	} {
		t.Run(name, func(t *testing.T) {
			c.r.Batch = of.ID()
			p, err := AddPour(t.Context(), b, c.r)
			require.NoError(t, err)
			assert.Equal(t, c.asSheet, p.AsSheet)
			assert.Equal(t, c.lots, p.Lots)
			assert.Contains(t, p.Lines, Amount{"WH", figure.Number(c.white)})
			assert.InDelta(t, float64(c.loadings), float64(p.Loadings["WH"]), 1e-3)
		})
	}
}

func TestPourIsRefused(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	k := addBatch(t, b, r)
	for name, c := range map[string]struct {
		r    AddPourRequest
		kind Kind
		says string
	}{
		"both":    {AddPourRequest{Batch: k.ID(), AsSheet: true, Weighed: batch.Poured{"WH": batch.Grams(1)}}, Invalid, "give either"},
		"no line": {AddPourRequest{Batch: k.ID(), Weighed: batch.Poured{"ZZ": batch.Grams(1)}}, NotFound, "no line of batch"},
		"no lot":  {AddPourRequest{Batch: k.ID(), Lots: map[string]string{"WH": "9"}}, NotFound, "makes it known"},
		"no code": {AddPourRequest{Batch: k.ID(), Lots: map[string]string{"ZZ": "9"}}, NotFound, "unknown pigment or resin"},
		"no such": {AddPourRequest{Batch: "B99"}, NotFound, "unknown batch"},
	} {
		_, err := AddPour(t.Context(), b, c.r)
		assert.ErrorContains(t, err, c.says, name)
		assert.Equal(t, c.kind, KindOf(err), name)
	}
	v, err := Pours(t.Context(), b, PoursRequest{Limit: 9})
	require.NoError(t, err)
	assert.Empty(t, v.Pours)
	_, err = Pours(t.Context(), b, PoursRequest{})
	assert.Equal(t, Invalid, KindOf(err))
}

// TestReadingsCount: the newest reading counts, the older stay; the light of
// the target is taken for granted and said; doubtful readings are doubted.
func TestReadingsCount(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	p := addPour(t, b, r, nil)
	first := readPour(t, b, p.Pour, stronger(lamp(), "BK", 1.5))
	assert.False(t, first.Verdict.Passes)
	assert.Equal(t, "D65/10", first.Colors[0].Under)
	require.Len(t, first.Remarks, 2)
	assert.Contains(t, first.Remarks[0].Text, "taken as read under D65/10, as the target")
	assert.Contains(t, first.Remarks[1].Text, "its age was not said, so it counts as settled")
	second := readPour(t, b, p.Pour, lamp())
	assert.True(t, second.Verdict.Passes)
	v, err := ShowPour(t.Context(), b, p.Pour)
	require.NoError(t, err)
	require.Len(t, v.History, 2)
	assert.False(t, v.History[0].Verdict.Passes)
	assert.True(t, v.Verdict.Passes)
	assert.Equal(t, 2, v.Readings)

	apart, err := ReadPour(t.Context(), b, ReadPourRequest{Pour: p.Pour, Readings: Readings{Typed: []string{typed(partOf(lamp())), "50,0,0"}, Condition: color.D65Ten()}})
	require.NoError(t, err)
	require.Len(t, apart.Remarks, 3)
	assert.True(t, apart.Remarks[0].Warning)
	assert.Contains(t, apart.Remarks[1].Text, "its age was not said")
	assert.Contains(t, apart.Remarks[2].Text, "from the same cup")
	assert.Equal(t, 2, apart.Colors[0].Readings)
	ahead, err := ReadPour(t.Context(), b, ReadPourRequest{Pour: p.Pour, On: "9999-01-01", Readings: Readings{Typed: []string{typed(partOf(lamp()))}, Condition: color.D65Ten()}})
	require.NoError(t, err)
	require.Len(t, ahead.Remarks, 1)
	assert.Contains(t, ahead.Remarks[0].Text, "lies ahead of today")

	_, err = ReadPour(t.Context(), b, ReadPourRequest{Pour: p.Pour})
	assert.Equal(t, Invalid, KindOf(err))
}

// TestReadingWithoutALight: no target, or one read under several lights, leaves
// open under which the part was read.
func TestReadingWithoutALight(t *testing.T) {
	b := newBench(t)
	lab, under := archive.LabOf(partOf(lamp())), archive.LabOf(testShop().Color(phrs(lamp()), testShop().Setting, color.Under(color.A, color.TenDegree)))
	var read []archive.Reading
	for _, l := range []archive.Lab{lab, under} {
		read = append(read, archive.Reading{Lab: &l, Geometry: "d/8", Specular: "included"})
	}
	_, err := b.archive.PutTarget(t.Context(), archive.Target{Name: "two", ThicknessMM: 3, Backing: "white", Tolerance: 1, Formula: "CIEDE2000", Readings: read}, archive.Refuse)
	require.NoError(t, err)
	two, err := b.archive.Target(t.Context(), "", "two")
	require.NoError(t, err)
	for says, r := range map[string]archive.Recipe{
		"several lights":        addRecipe(t, b, two, testResin, lamp()),
		"say under which light": addRecipe(t, b, archive.Target{}, testResin, lamp()),
	} {
		_, err := ReadPour(t.Context(), b, ReadPourRequest{Pour: addPour(t, b, r, nil).Pour, Readings: Readings{Typed: []string{"60,0,0"}}})
		assert.ErrorContains(t, err, says)
		assert.Equal(t, Invalid, KindOf(err))
	}
}

// TestSameBatchIsAddedOnce: recipe, sheet, lines, lots and cup make a batch.
func TestSameBatchIsAddedOnce(t *testing.T) {
	b := newBench(t)
	target, r := poured(t, b)
	other := addRecipe(t, b, target, testResin, stronger(lamp(), "WH", 2))
	p := addPour(t, b, r, nil)
	cast, err := castNamed(t.Context(), b.archive, p.Pour)
	require.NoError(t, err)
	addLots(t, b, "WH", "7")
	made := func() archive.Batch {
		return archive.Batch{Recipe: r.Ref, TotalGrams: 100, ScaleGrams: 0.01, Lines: []archive.Line{{Item: "B", Grams: 47.0004}, {Item: "WH", Grams: 1}}, Document: []byte(`{"a":1}`)}
	}
	first, err := findOrAddBatch(t.Context(), b.archive, made())
	require.NoError(t, err)
	same, err := findOrAddBatch(t.Context(), b.archive, made())
	require.NoError(t, err)
	assert.Equal(t, first.ID(), same.ID())
	for name, differs := range map[string]func(*archive.Batch){
		"recipe":   func(k *archive.Batch) { k.Recipe = other.Ref },
		"document": func(k *archive.Batch) { k.Document = []byte(`{"a":2}`) },
		"grams":    func(k *archive.Batch) { k.Lines[0].Grams += 0.002 },
		"item":     func(k *archive.Batch) { k.Lines[1].Item = "BK" },
		"line":     func(k *archive.Batch) { k.Lines = k.Lines[:1] },
		"lots":     func(k *archive.Batch) { k.Lots = []archive.LotName{pigmentLot("WH", "7")} },
		"cup":      func(k *archive.Batch) { k.AddsTo = cast.pour.Ref },
		"scale":    func(k *archive.Batch) { k.ScaleGrams = 0.1 },
	} {
		k := made()
		differs(&k)
		fresh, err := findOrAddBatch(t.Context(), b.archive, k)
		require.NoError(t, err)
		assert.NotEqual(t, first.ID(), fresh.ID(), name)
	}
}

// grams is a request's amount.
func grams(g float64) *calibrate.Grams {
	v := calibrate.Grams(g)
	return &v
}
