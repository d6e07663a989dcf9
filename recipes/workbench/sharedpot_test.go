package workbench

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/recipes/batch"
)

// TestFurtherShots: what is added to a pot from a jar is named by its pigment, as on
// any sheet, and counts at its let-down; the shots that follow are of the same pot
// and take nothing more from the jar. Masses are worked from those that were stirred.
func TestFurtherShots(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	green := testShop().Codes[2]
	first := addPour(t, b, r, nil)
	readPour(t, b, first.Pour, stronger(lamp(), green, 0.9))
	for code := range lamp() {
		_, err := Dilute(t.Context(), b, DiluteRequest{Pigment: code, PasteGrams: 0.5, SideGrams: 10})
		require.NoError(t, err)
	}
	ask := usualCorrection(first.Pour)
	ask.PotGrams, ask.PotSide, ask.ScaleGrams = 30, "B", 0.05
	v, err := Correct(t.Context(), b, ask)
	require.NoError(t, err)
	var way Way
	var jar Amount
	for _, w := range v.Ways {
		for _, l := range w.Lines {
			if w.Batch != "" && strings.Contains(l.Item, " D") {
				way, jar = w, l
			}
		}
	}
	require.NotEmpty(t, way.Batch, "something is added from a jar")
	code, name, _ := strings.Cut(jar.Item, " ")
	left := func() float64 {
		level, err := b.archive.StockLevel(t.Context(), name)
		require.NoError(t, err)
		return level.Grams
	}
	paste := func(p Pour) float64 {
		c, err := castNamed(t.Context(), b.archive, p.Pour)
		require.NoError(t, err)
		return c.contents.Paste[code]
	}
	shot := func(shown batch.Poured) Pour {
		p, err := AddPour(t.Context(), b, AddPourRequest{Batch: way.Batch, Weighed: shown, Again: true})
		require.NoError(t, err)
		assert.True(t, slices.ContainsFunc(p.Lines, func(a Amount) bool { return a.Item == jar.Item }))
		assert.False(t, slices.ContainsFunc(p.Lines, func(a Amount) bool { return a.Item == code }), "it is no neat paste")
		return p
	}
	weighed := batch.Grams(float64(jar.Grams) + 0.1)
	one := shot(batch.Poured{code: weighed})
	assert.InDelta(t, 10.5-weighed.Grams(), left(), 1e-9)
	c, err := castNamed(t.Context(), b.archive, first.Pour)
	require.NoError(t, err)
	assert.InDelta(t, c.contents.Paste[code]*30/c.contents.Tinted()+weighed.Grams()*0.5/10.5, paste(one), 1e-6)

	two := shot(nil)
	assert.Empty(t, two.Jars)
	assert.InDelta(t, paste(one), paste(two), 1e-12, "the second shot is of what was weighed for the first")
	assert.InDelta(t, 10.5-weighed.Grams(), left(), 1e-9, "it went in once")
	more := batch.Grams(weighed.Grams() + 0.2)
	for range 2 {
		assert.InDelta(t, paste(one)+0.2*0.5/10.5, paste(shot(batch.Poured{jar.Item: more})), 1e-6)
		assert.InDelta(t, 10.5-more.Grams(), left(), 1e-9, "only what was added since is taken")
	}
}

// TestCupsOfAPot: the cups of a sheet with several come out of one pot, so its
// pre-dilution leaves the jar once for all of them, and what was really weighed into
// the pot counts for each; the pot after it is weighed anew.
func TestCupsOfAPot(t *testing.T) {
	b, run, _ := startedRun(t, 99)
	r := traced(t, b)
	jar, err := Dilute(t.Context(), b, DiluteRequest{Pigment: "BK", Resin: testResin, PasteGrams: 0.31, SideGrams: 15.02})
	require.NoError(t, err)
	making := hundredGrams()
	making.Grams, making.MaxCup = 120, 45
	made, err := MakeBatch(t.Context(), b, BatchRequest{Recipe: r.ID(), Making: making})
	require.NoError(t, err)
	require.Len(t, made.Cups, 3)
	require.Equal(t, jar.Stock, made.Predilutions[0].Jar)
	item, dose := made.Predilutions[0].Item, made.Predilutions[0].Use
	taken := func() float64 {
		level, err := b.archive.StockLevel(t.Context(), jar.Stock)
		require.NoError(t, err)
		return 15.33 - level.Grams
	}
	pour := func(shown batch.Poured) cast {
		v, err := PourRun(t.Context(), b, RunPourRequest{Run: run.Run, AddPourRequest: AddPourRequest{Batch: made.Batch, Weighed: shown, Again: true}, Parts: 1})
		require.NoError(t, err)
		c, err := castNamed(t.Context(), b.archive, v.Pour)
		require.NoError(t, err)
		return c
	}
	took, pots := 0.0, map[string]int{}
	for n := range 3 {
		c := pour(nil)
		pot, err := c.casting(t.Context(), b.archive)
		require.NoError(t, err)
		pots[pot]++
		if n == 0 {
			took += dose.Grams()
		}
		assert.InDelta(t, took, taken(), 1e-9, "cup %d of the first pot", n+1)
		assert.InDelta(t, float64(made.Weighed["BK"]), loadingOf(t, c, "BK"), 1e-9)
	}
	assert.Equal(t, map[string]int{"pot of P2": 3}, pots, "for a fit it is one weighing")
	more := batch.Grams(dose.Grams() + 0.2)
	var second []float64
	for n := range 3 {
		shown := batch.Poured{"BK": more}
		if n == 1 {
			shown = nil // nobody says it again
		}
		second = append(second, loadingOf(t, pour(shown), "BK"))
		assert.InDelta(t, took+more.Grams(), taken(), 1e-9, "cup %d of the second pot", n+1)
	}
	assert.Equal(t, []float64{second[0], second[0]}, second[1:])
	assert.Greater(t, second[0], float64(made.Weighed["BK"])*more.Grams()/dose.Grams()*0.99)
	took += more.Grams()

	_, err = AddPour(t.Context(), b, AddPourRequest{Batch: made.Batch, AsSheet: true, Again: true}) // all of it at once
	require.NoError(t, err)
	took += dose.Grams()
	for range 3 {
		pour(nil)
		assert.InDelta(t, took, taken(), 1e-9, "it went in with the first")
	}
	pour(batch.Poured{item: dose})
	assert.InDelta(t, took+dose.Grams(), taken(), 1e-9, "that pot is used up")
	pour(batch.Poured{item: more})
	assert.InDelta(t, took+dose.Grams()+more.Grams(), taken(), 1e-9, "another weighing is another pot")
}

// TestSideOfOneCup: the other side is weighed into each cup by itself, so that what
// the scale showed of it is one cup's; the sum of all is taken for what it is.
func TestSideOfOneCup(t *testing.T) {
	b, run, _ := startedRun(t, 99)
	r := addRecipe(t, b, addTarget(t, b, "lamp", lamp()), testResin, map[string]float64{"WH": 1.5, "BK": 0.3})
	making := hundredGrams()
	making.Grams, making.MaxCup = 120, 45
	made, err := MakeBatch(t.Context(), b, BatchRequest{Recipe: r.ID(), Making: making})
	require.NoError(t, err)
	cup, last := made.Cups[0], made.Lines[len(made.Lines)-1]
	require.Equal(t, "A", last.Item)
	pot := made.Total.Minus(last.Grams)
	for shown, other := range map[batch.Mass]float64{
		cup.Other.Plus(batch.Grams(0.5)):  (cup.Other.Grams() + 0.5) * pot.Grams() / cup.Pigmented.Grams(),
		last.Grams.Plus(batch.Grams(0.5)): last.Grams.Grams() + 0.5,
	} {
		v, err := PourRun(t.Context(), b, RunPourRequest{Run: run.Run, AddPourRequest: AddPourRequest{Batch: made.Batch, Weighed: batch.Poured{"A": shown}, Again: true}, Parts: 1})
		require.NoError(t, err)
		c, err := castNamed(t.Context(), b.archive, v.Pour)
		require.NoError(t, err)
		assert.InDelta(t, other, c.contents.Other, 0.001, "%v shown", shown)
	}
}

func loadingOf(t testing.TB, c cast, code string) float64 {
	t.Helper()
	phr, err := c.contents.Loadings()
	require.NoError(t, err)
	return float64(phr[code])
}

// TestSheetOfACorrectedRun: the sheet says what the batch in hand holds, not what the
// run began with, and lays out the cups that its pot still gives.
func TestSheetOfACorrectedRun(t *testing.T) {
	b, run, _ := startedRun(t, 20)
	r := addRecipe(t, b, addTarget(t, b, "lamp", lamp()), testResin, map[string]float64{"WH": 1.5, "BK": 0.3})
	making := hundredGrams()
	making.Grams, making.MaxCup = 120, 45
	made, err := MakeBatch(t.Context(), b, BatchRequest{Recipe: r.ID(), Making: making})
	require.NoError(t, err)
	require.Len(t, made.Cups, 3)
	for cast := range 4 {
		p, err := RunSheet(t.Context(), b, RunSheetRequest{Run: run.Run, Batch: made.Batch, CupParts: 2})
		require.NoError(t, err)
		assert.Equal(t, r.ID(), p.Recipe)
		assert.NotEqual(t, run.Recipe, p.Recipe)
		require.Len(t, p.Loadings, 2)
		assert.Equal(t, []float64{1.5, 0.3}, []float64{float64(p.Loadings[0].PHR), float64(p.Loadings[1].PHR)})
		assert.Contains(t, p.Notes[0], "is weighed to "+r.ID()+"; what was approved, and the run began with, is "+run.Recipe)
		assert.Len(t, p.Cups, cast+3-cast%3)
		cup(t, b, run, made.Batch, 2)
	}
	p, err := RunSheet(t.Context(), b, RunSheetRequest{Run: run.Run, CupParts: 2})
	require.NoError(t, err)
	assert.Equal(t, run.Recipe, p.Recipe)
}

// TestPotOfACup: what was wrongly weighed into a pot is in the cups of that pot, and not
// in those of the one after it.
func TestPotOfACup(t *testing.T) {
	b, run, _ := startedRun(t, 20)
	r := addRecipe(t, b, addTarget(t, b, "lamp", lamp()), testResin, lamp())
	making := hundredGrams()
	making.Grams, making.MaxCup = 120, 70
	made, err := MakeBatch(t.Context(), b, BatchRequest{Recipe: r.ID(), Making: making})
	require.NoError(t, err)
	require.Len(t, made.Cups, 2)
	var casts []cast
	for range 4 {
		c, err := castNamed(t.Context(), b.archive, cup(t, b, run, made.Batch, 1).Pour)
		require.NoError(t, err)
		casts = append(casts, c)
	}
	c := correction{last: casts[3]}
	for n, want := range []bool{false, false, true, true} {
		of, err := c.ofPot(t.Context(), b.archive, casts[n])
		require.NoError(t, err)
		assert.Equal(t, want, of, "cup %d", n+1)
	}
}
