package workbench

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
)

// traced is a recipe with a trace of black.
func traced(t testing.TB, b *Bench) archive.Recipe {
	return addRecipe(t, b, addTarget(t, b, "lamp", lamp()), testResin, map[string]float64{"WH": 1.5, "BK": 0.02})
}

// TestJarsAreKept: what a sheet says to stir is a jar once the pour is recorded,
// the next batch and a pail take from it, and every gram of paste that was
// stirred is in a pour, in the pail, or in the jar. The sums are worked here from
// the masses on the sheets.
func TestJarsAreKept(t *testing.T) {
	b := newBench(t)
	r := traced(t, b)
	making := hundredGrams()
	first, err := MakeBatch(t.Context(), b, BatchRequest{Recipe: r.ID(), Making: making})
	require.NoError(t, err)
	require.Len(t, first.Predilutions, 1)
	p := first.Predilutions[0]
	require.Empty(t, p.Jar)
	require.Contains(t, strings.Join(first.Notes, "\n"), "with the pour it is recorded as a jar")
	stirred := p.Paste.Grams()
	share := stirred / (stirred + p.Resin.Grams())

	one, err := AddPour(t.Context(), b, AddPourRequest{Batch: first.Batch, AsSheet: true})
	require.NoError(t, err)
	require.Len(t, one.Jars, 1)
	k := one.Jars[0]
	assert.Equal(t, "D1", k.Jar)
	assert.True(t, k.Stirred)
	assert.InDelta(t, share, float64(k.Strength), 1e-9)
	assert.InDelta(t, p.Use.Grams(), float64(k.Drawn), 1e-9)
	assert.InDelta(t, p.LeftOver.Grams(), float64(k.Left), 1e-9)

	second, err := MakeBatch(t.Context(), b, BatchRequest{Recipe: r.ID(), Making: making})
	require.NoError(t, err)
	require.Equal(t, "D1", second.Predilutions[0].Jar)
	two, err := AddPour(t.Context(), b, AddPourRequest{Batch: second.Batch, Weighed: batch.Poured{second.Predilutions[0].Item: batch.Grams(1.25)}})
	require.NoError(t, err)
	require.Len(t, two.Jars, 1)
	assert.False(t, two.Jars[0].Stirred)
	assert.EqualValues(t, 1.25, two.Jars[0].Drawn)

	small := TintStockRequest{Stock: "pail", Recipe: r.ID(), Grams: 60, ScaleGrams: 0.01}
	pail, err := TintStock(t.Context(), b, small)
	require.NoError(t, err)
	require.InDelta(t, 60, float64(pail.Grams), 1e-6)
	assert.InDelta(t, 0.02, float64(pail.Loadings["BK"]), 0.0004)
	assert.InDelta(t, 1.5, float64(pail.Loadings["WH"]), 0.01)

	inPours := 0.0
	for _, pour := range []Pour{one, two} {
		c, err := castNamed(t.Context(), b.archive, pour.Pour)
		require.NoError(t, err)
		inPours += c.contents.Paste["BK"]
	}
	held := func(stock string) float64 {
		level, err := b.archive.StockLevel(t.Context(), stock)
		require.NoError(t, err)
		return level.Contents["BK"]
	}
	assert.InDelta(t, stirred, inPours+held("pail")+held("D1"), 1e-9, "no black is lost or made")

	// of another lot it is left alone, and one that is asked for anew is stirred
	addLots(t, b, "BK", "9")
	_, err = OpenLot(t.Context(), b, OpenLotRequest{"BK", "9"})
	require.NoError(t, err)
	other, err := MakeBatch(t.Context(), b, BatchRequest{Recipe: r.ID(), Making: making})
	require.NoError(t, err)
	assert.Empty(t, other.Predilutions[0].Jar)
	assert.Contains(t, remarks(other.Remarks), "jar D1 of BK is left alone: it is of lot not named, in use is 9")
	jar, err := Dilute(t.Context(), b, DiluteRequest{Pigment: "BK", Resin: testResin, PasteGrams: 0.31, SideGrams: 15.02})
	require.NoError(t, err)
	assert.Equal(t, "D2", jar.Stock)
	assert.Equal(t, "9", jar.Jar.Lot)
	assert.InDelta(t, 0.31/15.33, float64(jar.Jar.Strength), 1e-9)
	making.NoJars = true
	fresh, err := MakeBatch(t.Context(), b, BatchRequest{Recipe: r.ID(), Making: making})
	require.NoError(t, err)
	assert.Empty(t, fresh.Predilutions[0].Jar)
	problems, err := b.archive.Verify(t.Context())
	require.NoError(t, err)
	assert.Empty(t, problems.Problems)
}

func remarks(r Remarks) string {
	var all []string
	for _, one := range r {
		all = append(all, one.Text)
	}
	return strings.Join(all, "\n")
}

// TestJarHeldMore: more weighed from a jar than it held on record empties it, and
// the pour is recorded all the same.
func TestJarHeldMore(t *testing.T) {
	b := newBench(t)
	r := traced(t, b)
	_, err := Dilute(t.Context(), b, DiluteRequest{Pigment: "BK", Resin: testResin, PasteGrams: 0.3, SideGrams: 15})
	require.NoError(t, err)
	made, err := MakeBatch(t.Context(), b, BatchRequest{Recipe: r.ID(), Making: hundredGrams()})
	require.NoError(t, err)
	require.Equal(t, "D1", made.Predilutions[0].Jar)
	_, err = CountStock(t.Context(), b, CountStockRequest{Stock: "D1", Grams: grams(0.5)})
	require.NoError(t, err)
	p, err := AddPour(t.Context(), b, AddPourRequest{Batch: made.Batch})
	require.NoError(t, err)
	assert.EqualValues(t, 0, p.Jars[0].Left)
	assert.Contains(t, remarks(p.Remarks), "jar D1 held 0.5 g on record")
	again, err := AddPour(t.Context(), b, AddPourRequest{Batch: made.Batch, Again: true})
	require.NoError(t, err)
	assert.Contains(t, remarks(again.Remarks), "jar D1 held 0 g on record")
}

// TestJarsAreAskedWell: what makes no jar is refused and leaves none.
func TestJarsAreAskedWell(t *testing.T) {
	b := newBench(t)
	r := traced(t, b)
	good := DiluteRequest{Pigment: "BK", Resin: testResin, PasteGrams: 0.3, SideGrams: 15}
	for what, spoil := range map[string]func(*DiluteRequest){
		"paste-g⟧ is missing": func(r *DiluteRequest) { r.PasteGrams = 0 },
		"side-g⟧ is missing":  func(r *DiluteRequest) { r.SideGrams = 0 },
		"unknown pigment":     func(r *DiluteRequest) { r.Pigment = "ZZ" },
		"makes it known":      func(r *DiluteRequest) { r.Lot = "nobody's" },
		"milligrams":          func(r *DiluteRequest) { r.PasteGrams = 0.0004 },
		"lies ahead of today": func(r *DiluteRequest) { r.On = "2099-01-01" },
		"out of range":        func(r *DiluteRequest) { r.PasteGrams = calibrate.Grams(1e300) },
	} {
		ask := good
		spoil(&ask)
		_, err := Dilute(t.Context(), b, ask)
		require.ErrorContains(t, err, what)
	}
	all, err := Stocks(t.Context(), b)
	require.NoError(t, err)
	require.Empty(t, all.Stocks)
	good.Name = "black"
	_, err = Dilute(t.Context(), b, good)
	require.NoError(t, err)
	_, err = Dilute(t.Context(), b, good)
	require.ErrorContains(t, err, "a jar that is stirred anew has another name")
	good.Name = ""
	_, err = Dilute(t.Context(), b, good)
	require.Equal(t, Repeated, KindOf(err))
	_, err = TintStock(t.Context(), b, TintStockRequest{Stock: "black", Recipe: r.ID(), Grams: 100, ScaleGrams: 0.01})
	require.ErrorContains(t, err, "is a pre-dilution of BK; give the pail another name")
	_, err = CorrectStock(t.Context(), b, CorrectStockRequest{Stock: "black", Added: []batch.Amount{{Item: "WH", Grams: batch.Grams(1)}}})
	require.ErrorContains(t, err, "is a pre-dilution of BK")
	_, err = DrawStock(t.Context(), b, DrawStockRequest{Stock: "black", Grams: 1, ScaleGrams: 0.01, Pour: true})
	require.ErrorContains(t, err, "was tinted to no recipe")
}

// TestJarChangedSince: a jar that was made stronger since a sheet was made is not
// counted by that sheet; one made anew counts it as it is.
func TestJarChangedSince(t *testing.T) {
	b := newBench(t)
	r := traced(t, b)
	jar, err := Dilute(t.Context(), b, DiluteRequest{Pigment: "BK", Resin: testResin, PasteGrams: 0.31, SideGrams: 15.02})
	require.NoError(t, err)
	old, err := MakeBatch(t.Context(), b, BatchRequest{Recipe: r.ID(), Making: hundredGrams()})
	require.NoError(t, err)
	require.Equal(t, jar.Stock, old.Predilutions[0].Jar)
	_, err = CorrectStock(t.Context(), b, CorrectStockRequest{Stock: jar.Stock, Added: []batch.Amount{{Item: "BK", Grams: batch.Grams(0.31)}}})
	require.NoError(t, err)
	_, err = AddPour(t.Context(), b, AddPourRequest{Batch: old.Batch, AsSheet: true})
	require.ErrorContains(t, err, "jar D1 holds 1:24.23 now, and batch B1 counts it as 1:48.45, as it was then; make the sheet anew")
	require.Equal(t, Conflict, KindOf(err))
	made, err := MakeBatch(t.Context(), b, BatchRequest{Recipe: r.ID(), Making: hundredGrams()})
	require.NoError(t, err)
	p, err := AddPour(t.Context(), b, AddPourRequest{Batch: made.Batch, Weighed: batch.Poured{"BK": old.Predilutions[0].Use}})
	require.NoError(t, err)
	c, err := castNamed(t.Context(), b.archive, p.Pour)
	require.NoError(t, err)
	assert.InDelta(t, old.Predilutions[0].Use.Grams()*0.62/15.64, c.contents.Paste["BK"], 1e-6)
}
