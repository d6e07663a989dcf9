package workbench

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/recipes/archive"
)

// taughtBy are the pours that knowledge of a recipe learnt from.
func taughtBy(t testing.TB, b *Bench, r archive.Recipe) []string {
	t.Helper()
	k, err := knowRecipe(t.Context(), b.archive, r)
	require.NoError(t, err)
	ids := []string{}
	for _, c := range k.seen.casts {
		ids = append(ids, c.pour.ID())
	}
	return ids
}

// TestWhatPoursTeach: a batch, a reorder and a match learn from the pours that
// were read, up to the newest of the lots in use.
func TestWhatPoursTeach(t *testing.T) {
	green := testShop().Codes[2]
	type pour struct {
		lot    string
		unread bool
	}
	for name, c := range map[string]struct {
		pours []pour
		inUse string
		learn []string
	}{
		"none":                          {nil, "", []string{}},
		"one":                           {[]pour{{}}, "", []string{"P1"}},
		"all":                           {[]pour{{}, {}, {}}, "", []string{"P1", "P2", "P3"}},
		"not an unread one":             {[]pour{{}, {unread: true}, {}}, "", []string{"P1", "P3"}},
		"not the last, if unread":       {[]pour{{}, {unread: true}}, "", []string{"P1"}},
		"nothing if none was read":      {[]pour{{unread: true}}, "", []string{}},
		"those of the lot in use":       {[]pour{{lot: "K-1"}, {lot: "K-2"}}, "K-2", []string{"P2"}},
		"not later ones of another lot": {[]pour{{lot: "K-1"}, {lot: "K-2"}}, "K-1", []string{"P1"}},
		"nor unnamed ones after them":   {[]pour{{lot: "K-1"}, {lot: "K-2"}, {lot: "K-1"}, {lot: "K-2"}}, "K-1", []string{"P1", "P3"}},
		"nor later ones of any":         {[]pour{{}, {lot: "K-2"}}, "K-1", []string{"P1"}},
		"the newest, if no lot is left": {[]pour{{lot: "K-1"}, {lot: "K-2"}}, "K-3", []string{"P2"}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			b := newBench(t)
			_, r := poured(t, b)
			addLots(t, b, green, "K-1", "K-2", "K-3")
			for _, p := range c.pours {
				lots := map[string]string{}
				if p.lot != "" {
					lots[green] = p.lot
				}
				made := addPour(t, b, r, lots)
				if !p.unread {
					readPour(t, b, made.Pour, stronger(lamp(), green, 1.2))
				}
			}
			if c.inUse != "" {
				openLot(t, b, green, c.inUse)
			}
			assert.Equal(t, c.learn, taughtBy(t, b, r))
		})
	}
}

// TestUnreadPourChangesNothing of what a batch is expected to come to.
func TestUnreadPourChangesNothing(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	readPour(t, b, addPour(t, b, r, nil).Pour, stronger(lamp(), "BK", 1.2))
	ask := BatchRequest{Recipe: r.ID(), Making: hundredGrams()}
	before, err := MakeBatch(t.Context(), b, ask)
	require.NoError(t, err)
	unread := addPour(t, b, r, nil)
	after, err := MakeBatch(t.Context(), b, ask)
	require.NoError(t, err)
	assert.Equal(t, before.Expected, after.Expected)
	readPour(t, b, unread.Pour, stronger(lamp(), "BK", 1.2))
	read, err := MakeBatch(t.Context(), b, ask)
	require.NoError(t, err)
	assert.NotEqual(t, before.Expected, read.Expected)
}

// TestKnowledgeIsOne: what is known does not depend on which pigments are asked
// about, also where the lot of another was changed.
func TestKnowledgeIsOne(t *testing.T) {
	b := newBench(t)
	other := testShop().Codes[3]
	target, r := poured(t, b)
	addLots(t, b, other, "1", "2")
	readPour(t, b, addPour(t, b, r, nil).Pour, stronger(lamp(), "BK", 1.2))
	with := stronger(lamp(), "BK", 1)
	with[other] = 0.05
	made := addPour(t, b, addRecipe(t, b, target, testResin, with), map[string]string{other: "1"})
	readPour(t, b, made.Pour, stronger(with, "BK", 1.4))
	for _, inUse := range []string{"1", "2"} {
		openLot(t, b, other, inUse)
		var expected []float64
		for _, codes := range [][]string{nil, codesOf(r)} {
			k, err := know(t.Context(), b.archive, question{resin: testResin, codes: codes, target: &target, thickness: r.ThicknessMM, over: r.Backing})
			require.NoError(t, err)
			e, err := k.weighed(r, 0, 0)
			require.NoError(t, err)
			expected = append(expected, e.Expected)
		}
		assert.InDelta(t, expected[0], expected[1], 1e-9, "lot %s of %s in use", inUse, other)
	}
}

// TestLotsOfWhichNothingIsKnown: the chips are taken to be of the lot that was in
// use, or else of the first named; another may be as much stronger or weaker as
// lots usually are, until something is known of it.
func TestLotsOfWhichNothingIsKnown(t *testing.T) {
	green := testShop().Codes[2]
	b := newBench(t)
	r, err := AddRecipe(t.Context(), b, mineFor(t, b))
	require.NoError(t, err)
	stored, err := b.archive.Recipe(t.Context(), r.ID)
	require.NoError(t, err)
	addLots(t, b, green, "K-1", "K-2")
	strength := func(opened string) (ln, sd float64) {
		openLot(t, b, green, opened)
		k, err := knowRecipe(t.Context(), b.archive, stored)
		require.NoError(t, err)
		assert.Equal(t, k.isGuessed(green), k.strengths[green].SD == 0.10)
		return k.strengths[green].Ln, k.strengths[green].SD
	}
	for _, c := range []struct {
		opened string
		sd     float64
	}{{"K-1", 0}, {"K-2", 0.10}, {"K-1", 0}, {"K-2", 0.10}} {
		ln, sd := strength(c.opened)
		assert.Zero(t, ln, c.opened)
		assert.Equal(t, c.sd, sd, c.opened)
	}
	// after a pour of another lot, too
	readPour(t, b, addPour(t, b, stored, map[string]string{green: "K-2"}).Pour, stronger(lamp(), green, 1.25))
	ln, sd := strength("K-1")
	assert.Zero(t, ln)
	assert.Zero(t, sd)
	ln, _ = strength("K-2")
	assert.Greater(t, ln, 0.1)

	_, err = LearnLot(t.Context(), b, LearnLotRequest{Code: green, Lot: "K-2", Chips: lotChip("one", 0.3, 1.25), ChipGrams: 50, ScaleGrams: 0.01})
	require.NoError(t, err)
	ln, sd = strength("K-2")
	assert.InDelta(t, math.Log(1.25), ln, 0.05)
	assert.Less(t, sd, 0.10)
}

// TestCalibratedLot: a fit is of the lot its chips were cast of, whichever is in use
// by the time of the fit; of what the chips themselves say; of the most where they
// differ, and then says so.
func TestCalibratedLot(t *testing.T) {
	green := testShop().Codes[2]
	b := newBench(t)
	addLots(t, b, green, "K-1", "K-2")
	openLot(t, b, green, "K-1")
	openLot(t, b, green, "K-2")
	first, err := b.archive.Calibration(t.Context(), testResin, 0)
	require.NoError(t, err)
	chips, err := b.archive.ChipsOf(t.Context(), first)
	require.NoError(t, err)
	for name, c := range map[string]struct {
		lot   string // that chips name
		every int    // of how many, from the first
		want  string
		note  string
	}{
		"cast before the lots were named": {want: "K-1"},
		"chips name their lot":            {lot: "K-2", every: 1, want: "K-2"},
		"few chips name another":          {lot: "K-2", every: 4, want: "K-1", note: "the chips of " + green + " were read while several of its lots were in use (K-1, K-2); they are taken to be of lot K-1"},
	} {
		again, seen := archive.Calibration{Resin: testResin, Layer: first.Layer, Document: first.Document}, 0
		for _, chip := range chips {
			chip.Lots = nil
			if chip.Loadings[green] > 0 {
				if c.every > 0 && seen%c.every == 0 {
					chip.Lots = []archive.LotName{pigmentLot(green, c.lot)}
				}
				seen++
			}
			_, err := b.archive.ImportChips(t.Context(), testResin, []archive.Chip{chip}, archive.Replace)
			require.NoError(t, err)
			stored, err := b.archive.Chip(t.Context(), testResin, chip.Name)
			require.NoError(t, err)
			again.Chips = append(again.Chips, stored.Ref)
		}
		_, err = b.archive.AddCalibration(t.Context(), again)
		require.NoError(t, err)
		for _, inUse := range []string{"K-1", "K-2"} {
			openLot(t, b, green, inUse)
			k, err := know(t.Context(), b.archive, question{resin: testResin})
			require.NoError(t, err)
			assert.Equal(t, inUse != c.want, k.isGuessed(green), "%s, %s in use", name, inUse)
			if c.note != "" {
				assert.Contains(t, k.notes, c.note)
			}
		}
	}
}

func mineFor(t testing.TB, b *Bench) AddRecipeRequest {
	t.Helper()
	addTarget(t, b, "lamp", lamp())
	return mine()
}
