package workbench

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/recipes/archive"
	"masstone/recipes/batch"
)

// TestPail: what is in a pail after each movement. Grams are worked by hand of
// the formula at batch.Tint.
func TestPail(t *testing.T) {
	b := newBench(t)
	target, r := poured(t, b)
	// R = T / (w + sum c/100): 1000 g of side B of 100:90 with 2 phr
	tint, err := TintStock(t.Context(), b, TintStockRequest{Stock: "pail", Recipe: r.ID(), Grams: 1000, ScaleGrams: 0.1})
	require.NoError(t, err)
	assert.Equal(t, "B", tint.Side)
	white := 0.015 * 1000 / (90./190 + 0.02)
	assert.Equal(t, Amount{"WH", 30.4}, tint.Tinted[len(tint.Tinted)-1])
	assert.InDelta(t, white, 30.4, 0.05)
	assert.InDelta(t, 1.5, float64(tint.Loadings["WH"]), 0.01)

	shot, err := DrawStock(t.Context(), b, DrawStockRequest{Stock: "pail", Grams: 100, ScaleGrams: 0.01, Pour: true})
	require.NoError(t, err)
	assert.EqualValues(t, 900, shot.Grams)
	assert.Equal(t, "A", shot.Side)
	assert.InDelta(t, 100*(1-0.02/(90./190+0.02))*100/90, float64(shot.Other), 0.05)
	assert.InDelta(t, 100+float64(shot.Other), float64(shot.Mixed), 1e-6)
	p, err := ShowPour(t.Context(), b, shot.Pour)
	require.NoError(t, err)
	assert.Equal(t, "pail", p.Stock)
	assert.InDelta(t, 1.5, float64(p.Loadings["WH"]), 0.01)

	other := addRecipe(t, b, target, testResin, stronger(lamp(), "WH", 1.2))
	more, err := CorrectStock(t.Context(), b, CorrectStockRequest{Stock: "pail", Added: []batch.Amount{{Item: "WH", Grams: batch.Grams(5)}, {Item: "B", Grams: batch.Grams(20)}}, Recipe: other.ID()})
	require.NoError(t, err)
	assert.EqualValues(t, 925, more.Grams)
	assert.Equal(t, other.ID(), more.Recipe)

	counted, err := CountStock(t.Context(), b, CountStockRequest{Stock: "pail", Grams: grams(800)})
	require.NoError(t, err)
	assert.EqualValues(t, 800, counted.Grams)
	assert.InDelta(t, float64(more.Loadings["WH"]), float64(counted.Loadings["WH"]), 1e-9)
	assert.Len(t, counted.Moves, 4)
	assert.Equal(t, shot.Pour, counted.Moves[1].Pour)

	again, err := TintStock(t.Context(), b, TintStockRequest{Stock: "pail", Grams: 500, ScaleGrams: 0.1})
	require.NoError(t, err)
	assert.Equal(t, other.ID(), again.Recipe)
	assert.EqualValues(t, 1300, again.Grams)
	all, err := Stocks(t.Context(), b)
	require.NoError(t, err)
	assert.Len(t, all.Stocks, 1)
}

// TestEmptyPail: a pail may be counted empty; what is in one that holds nothing
// is not known, so it cannot be counted.
func TestEmptyPail(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	_, err := TintStock(t.Context(), b, TintStockRequest{Stock: "pail", Recipe: r.ID(), Grams: 1000, ScaleGrams: 0.1})
	require.NoError(t, err)
	empty, err := CountStock(t.Context(), b, CountStockRequest{Stock: "pail", Grams: grams(0)})
	require.NoError(t, err)
	assert.Zero(t, empty.Grams)
	assert.Empty(t, empty.Loadings)
	_, err = CountStock(t.Context(), b, CountStockRequest{Stock: "pail", Grams: grams(500)})
	assert.ErrorContains(t, err, "record a tint first")
	assert.Equal(t, Invalid, KindOf(err))
	_, err = DrawStock(t.Context(), b, DrawStockRequest{Stock: "pail", Grams: 100, ScaleGrams: 0.01})
	assert.ErrorContains(t, err, "there is no resin in the pail")
	_, err = CountStock(t.Context(), b, CountStockRequest{Stock: "pail"})
	assert.Equal(t, Invalid, KindOf(err))
	show, err := ShowStock(t.Context(), b, "pail")
	require.NoError(t, err)
	assert.Len(t, show.Moves, 2)
}

// TestTintWithinTheCards: no pail is tinted beyond what the cards of its pastes
// and of the resin allow; what was weighed all the same is recorded and said.
func TestTintWithinTheCards(t *testing.T) {
	for name, c := range map[string]struct {
		white, resin float64 // the most, phr; 0 not known
		says         string
	}{
		"no limits":      {0, 0, ""},
		"within both":    {1.5, 2, ""},
		"paste's most":   {1.4, 2, "1.5 phr of WH is more than its card allows (1.4)"},
		"resin's most":   {1.5, 1.9, "2 phr of paste is more than CLR bears (1.9)"},
		"of the paste's": {1, 1, "is more than its card allows (1)"},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t)
			_, r := poured(t, b)
			limitCards(t, b, c.white, c.resin)
			v, err := TintStock(t.Context(), b, TintStockRequest{Stock: "pail", Recipe: r.ID(), Grams: 1000, ScaleGrams: 0.1})
			if c.says == "" {
				require.NoError(t, err)
				assert.Empty(t, v.Remarks)
				return
			}
			assert.ErrorContains(t, err, c.says)
			assert.Equal(t, OutOfReach, KindOf(err))
			all, err := Stocks(t.Context(), b)
			require.NoError(t, err)
			assert.Empty(t, all.Stocks)
		})
	}
	b := newBench(t)
	_, r := poured(t, b)
	limitCards(t, b, 1.5, 0)
	v, err := TintStock(t.Context(), b, TintStockRequest{Stock: "pail", Recipe: r.ID(), Grams: 1000, ScaleGrams: 0.1, Weighed: batch.Poured{"WH": batch.Grams(60)}})
	require.NoError(t, err)
	require.Len(t, v.Remarks, 1)
	assert.True(t, v.Remarks[0].Warning)
	assert.Contains(t, v.Remarks[0].Text, "more than its card allows")
}

// What was added is in the pail, and is recorded; what a card does not allow, and more
// than was there, is warned of. The limits are the cards' own.
func TestStockCorrectedBeyondTheMost(t *testing.T) {
	for name, c := range map[string]struct {
		white, resin float64
		added        batch.Amount
		says         string
	}{
		"within":           {20, 30, batch.Amount{Item: "WH", Grams: batch.Grams(10)}, ""},
		"the paste's most": {1.5, 0, batch.Amount{Item: "WH", Grams: batch.Grams(60)}, "more than its card allows (1.5)"},
		"the resin's most": {0, 2, batch.Amount{Item: "WH", Grams: batch.Grams(60)}, "bears (2)"},
		"more than it was": {0, 0, batch.Amount{Item: "B", Grams: batch.Grams(5000)}, "5000 g of B went into 1000 g"},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t)
			_, r := poured(t, b)
			_, err := TintStock(t.Context(), b, TintStockRequest{Stock: "pail", Recipe: r.ID(), Grams: 1000, ScaleGrams: 0.1})
			require.NoError(t, err)
			limitCards(t, b, c.white, c.resin)
			v, err := CorrectStock(t.Context(), b, CorrectStockRequest{Stock: "pail", Added: []batch.Amount{c.added}})
			require.NoError(t, err)
			assert.InDelta(t, 1000+c.added.Grams.Grams(), float64(v.Grams), 0.001)
			if c.says == "" {
				assert.Empty(t, v.Remarks)
				return
			}
			require.Len(t, v.Remarks, 1)
			assert.True(t, v.Remarks[0].Warning)
			assert.Contains(t, v.Remarks[0].Text, c.says)
		})
	}
}

// limitCards gives white and the resin a most in phr.
func limitCards(t testing.TB, b *Bench, white, resin float64) {
	t.Helper()
	p, err := b.archive.Pigment(t.Context(), "WH")
	require.NoError(t, err)
	p.MaxPHR = white
	_, err = b.archive.PutPigment(t.Context(), p, archive.Replace)
	require.NoError(t, err)
	card, err := b.archive.Resin(t.Context(), testResin)
	require.NoError(t, err)
	card.MaxPHR = resin
	_, err = b.archive.PutResin(t.Context(), card, archive.Replace)
	require.NoError(t, err)
}

func TestStockIsRefused(t *testing.T) {
	b := newBench(t)
	addOtherResin(t, b)
	target, r := poured(t, b)
	foreign := addRecipe(t, b, target, otherResin, lamp())
	_, err := TintStock(t.Context(), b, TintStockRequest{Stock: "pail", Recipe: r.ID(), Grams: 1000, ScaleGrams: 0.1})
	require.NoError(t, err)
	tint := func(r TintStockRequest) func() error {
		return func() error { _, err := TintStock(t.Context(), b, r); return err }
	}
	draw := func(r DrawStockRequest) func() error {
		return func() error { _, err := DrawStock(t.Context(), b, r); return err }
	}
	correct := func(recipe, item string) func() error {
		return func() error {
			_, err := CorrectStock(t.Context(), b, CorrectStockRequest{Stock: "pail", Added: []batch.Amount{{Item: item, Grams: batch.Grams(1)}}, Recipe: recipe})
			return err
		}
	}
	for name, c := range map[string]struct {
		do   func() error
		kind Kind
		says string
	}{
		"no grams":           {tint(TintStockRequest{Stock: "pail"}), Invalid, "is missing"},
		"no recipe":          {tint(TintStockRequest{Stock: "new", Grams: 100, ScaleGrams: 0.1}), Invalid, "is missing"},
		"another recipe":     {tint(TintStockRequest{Stock: "pail", Recipe: foreign.ID(), Grams: 1000, ScaleGrams: 0.1}), Conflict, "a stock holds one recipe"},
		"no line":            {tint(TintStockRequest{Stock: "pail", Grams: 1000, ScaleGrams: 0.1, Weighed: batch.Poured{"ZZ": batch.Grams(1)}}), Failed, "ZZ is no line of the tint"},
		"nothing drawn":      {draw(DrawStockRequest{Stock: "pail"}), Invalid, "is missing"},
		"a day without pour": {draw(DrawStockRequest{Stock: "pail", Grams: 1, On: "2026-03-31"}), Invalid, "goes with"},
		"more than there is": {draw(DrawStockRequest{Stock: "pail", Grams: 5000, ScaleGrams: 0.01, Pour: true}), Invalid, "it holds 1000.000 g"},
		"the other side":     {correct("", "A"), Failed, "side A goes in only when a shot is mixed"},
		"nothing added": {func() error {
			_, err := CorrectStock(t.Context(), b, CorrectStockRequest{Stock: "pail", Added: []batch.Amount{{Item: "WH"}}})
			return err
		}, Invalid, "is no addition"},
		"no such paste":       {correct("", "ZZ"), NotFound, "unknown pigment"},
		"a recipe of another": {correct(foreign.ID(), "WH"), Failed, `stock "pail" is of resin CLR`},
	} {
		err := c.do()
		assert.ErrorContains(t, err, c.says, name)
		assert.Equal(t, c.kind, KindOf(err), name)
	}
	v, err := ShowStock(t.Context(), b, "pail")
	require.NoError(t, err)
	assert.EqualValues(t, 1000, v.Grams)
	assert.Len(t, v.Moves, 1)
	pours, err := Pours(t.Context(), b, PoursRequest{Limit: 9})
	require.NoError(t, err)
	assert.Empty(t, pours.Pours)
}

// TestOneShotOfAPail: what was drawn from a pail is one shot. It may be told once more as
// a cup of a run; told again it is warned of, and the pail is drawn from once.
func TestOneShotOfAPail(t *testing.T) {
	b, run, _ := startedRun(t, 9)
	r := addRecipe(t, b, addTarget(t, b, "lamp", lamp()), testResin, lamp())
	_, err := TintStock(t.Context(), b, TintStockRequest{Stock: "pail", Recipe: r.ID(), Grams: 500, ScaleGrams: 0.01})
	require.NoError(t, err)
	shot, err := DrawStock(t.Context(), b, DrawStockRequest{Stock: "pail", Grams: 60, ScaleGrams: 0.01, Pour: true})
	require.NoError(t, err)
	for n, warned := range []bool{false, true} {
		v, err := PourRun(t.Context(), b, RunPourRequest{Run: run.Run, AddPourRequest: AddPourRequest{Batch: shot.Batch, Again: true}, Parts: 1})
		require.NoError(t, err)
		require.Equal(t, warned, strings.Contains(remarks(v.Remarks), "nothing more is taken from the stock"), "cup %d", n+1)
	}
	level, err := b.archive.StockLevel(t.Context(), "pail")
	require.NoError(t, err)
	require.InDelta(t, 440, level.Grams, 1e-9)
}
