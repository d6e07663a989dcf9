package workbench

import (
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/recipes"
	"masstone/recipes/archive"
)

// usualCorrection is a correction as the command asks for it.
func usualCorrection(pour string) CorrectRequest {
	return CorrectRequest{Pour: pour, MaxGrowth: 2, MaxPigments: 4, ScaleGrams: 0.01}
}

// TestPoursAreEvidence: a correction learns from the pours of its target that
// were read, in its resin, of its lots and of pigments the calibration knows,
// up to the pour it is of.
func TestPoursAreEvidence(t *testing.T) {
	green := testShop().Codes[2]
	type pour struct {
		resin    string // the calibrated one if empty
		loadings map[string]float64
		lot      string // of green
		unread   bool
	}
	for name, c := range map[string]struct {
		pours []pour
		of    string
		learn []string
		says  string
	}{
		"all before it":      {[]pour{{}, {}}, "P2", []string{"P1", "P2"}, ""},
		"a later one is not": {[]pour{{}, {}, {}}, "P2", []string{"P1", "P2"}, ""},
		"the first alone":    {[]pour{{}, {}}, "P1", []string{"P1"}, ""},
		"an unread one":      {[]pour{{unread: true}, {}}, "P2", []string{"P2"}, ""},
		"another resin":      {[]pour{{resin: otherResin}, {}}, "P2", []string{"P2"}, ""},
		"another lot":        {[]pour{{lot: "K-1"}, {lot: "K-2"}}, "P2", []string{"P2"}, "it was poured with " + green + " lot K-1, not K-2"},
		"a lot not named":    {[]pour{{}, {lot: "K-2"}}, "P2", []string{"P1", "P2"}, ""},
		"an unknown pigment": {[]pour{{loadings: map[string]float64{"WH": 1.5, "NEW": 0.3}}, {}}, "P2", []string{"P2"}, "the calibration does not know all its pigments"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			b := newBench(t)
			addOtherResin(t, b)
			_, err := b.archive.ImportPigments(t.Context(), []archive.Pigment{{Code: "NEW", Density: 1.2}})
			require.NoError(t, err)
			addLots(t, b, green, "K-1", "K-2")
			target := addTarget(t, b, "lamp", lamp())
			for _, p := range c.pours {
				loadings, resin, lots := p.loadings, p.resin, map[string]string{}
				if loadings == nil {
					loadings = lamp()
				}
				if resin == "" {
					resin = testResin
				}
				if p.lot != "" {
					lots[green] = p.lot
				}
				made := addPour(t, b, addRecipe(t, b, target, resin, loadings), lots)
				if !p.unread {
					readPour(t, b, made.Pour, stronger(lamp(), green, 1.3))
				}
			}
			v, err := Correct(t.Context(), b, usualCorrection(c.of))
			require.NoError(t, err)
			assert.Equal(t, c.learn, v.Pours)
			assert.Contains(t, strings.Join(v.Notes, "; "), c.says)
		})
	}
}

// TestMatchLearnsFromReadPours: a pour that was not read teaches a match
// nothing.
func TestMatchLearnsFromReadPours(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	readPour(t, b, addPour(t, b, r, nil).Pour, stronger(lamp(), "BK", 1.4))
	addPour(t, b, r, nil)
	v, err := Match(t.Context(), b, MatchRequest{Target: "lamp", Limits: usualLimits()})
	require.NoError(t, err)
	assert.Contains(t, v.Notes, "what P1 taught of lots and target is counted")
}

// TestCorrectBringsNearer: of a lot that is stronger than calibrated the next
// batch holds less, and a part of it is nearer the target. That the shop's own
// truth says so is the check: virtualshop.
func TestCorrectBringsNearer(t *testing.T) {
	b := newBench(t)
	target, r := poured(t, b)
	green, times := testShop().Codes[2], 1.3
	p := addPour(t, b, r, nil)
	miss := readPour(t, b, p.Pour, stronger(lamp(), green, times))
	v, err := Correct(t.Context(), b, usualCorrection(p.Pour))
	require.NoError(t, err)
	require.Equal(t, string(recipes.NextBatch), v.Best)
	next := v.Ways[1]
	assert.Less(t, float64(next.Change[green]), -0.02)
	assert.True(t, next.Recommended)
	loadings := map[string]float64{}
	for code, phr := range next.Loadings {
		loadings[code] = float64(phr)
	}
	after, err := partOf(stronger(loadings, green, times)).DeltaE00(partOf(lamp()))
	require.NoError(t, err)
	assert.Less(t, after, 0.5*float64(miss.Verdict.DE00))
	assert.InDelta(t, float64(next.Loadings[green]), lamp()[green]/times, 0.15*lamp()[green])

	// the same question keeps its recipe, and several at once keep one
	var wg sync.WaitGroup
	again, failed := make([]Correction, 3), make([]error, 3)
	for i := range again {
		other := openBench(t, b.Path())
		wg.Go(func() { again[i], failed[i] = Correct(t.Context(), other, usualCorrection(p.Pour)) })
	}
	wg.Wait()
	for i := range again {
		require.NoError(t, failed[i])
		assert.Equal(t, next.Recipe, again[i].Ways[1].Recipe)
	}
	stored, err := b.archive.Recipes(t.Context(), target.Client, target.Name)
	require.NoError(t, err)
	assert.Len(t, stored, 2)
}

// TestShotsOfThePot: of the parts that teach, those cast from the pot that is
// added to are told from the others.
func TestShotsOfThePot(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	off := stronger(lamp(), testShop().Codes[2], 0.7)
	for _, p := range []Pour{addPour(t, b, r, nil), addPour(t, b, r, nil)} { // P1, P2: a cup each
		readPour(t, b, p.Pour, off)
	}
	from := func(r CorrectRequest) []bool {
		t.Helper()
		c := correction{CorrectRequest: r}
		require.NoError(t, c.know(t.Context(), b.archive))
		require.NoError(t, c.findPot(t.Context(), b))
		var out []bool
		for _, p := range c.known.seen.pours {
			out = append(out, p.FromPot)
		}
		return out
	}
	ask := usualCorrection("P2")
	ask.PotGrams = 30
	assert.Equal(t, []bool{false, true}, from(ask))
	v, err := Correct(t.Context(), b, ask)
	require.NoError(t, err)
	require.Equal(t, string(recipes.AddToPot), v.Ways[1].Way)
	require.NotEmpty(t, v.Ways[1].Batch)
	p3, err := AddPour(t.Context(), b, AddPourRequest{Batch: v.Ways[1].Batch}) // the cup of P2, added to
	require.NoError(t, err)
	readPour(t, b, p3.Pour, off)
	ask = usualCorrection(p3.Pour)
	ask.PotGrams = 20
	assert.Equal(t, []bool{false, true, true}, from(ask))

	_, err = TintStock(t.Context(), b, TintStockRequest{Stock: "pail", Recipe: r.ID(), Grams: 2000, ScaleGrams: 0.1})
	require.NoError(t, err)
	_, err = TintStock(t.Context(), b, TintStockRequest{Stock: "other", Recipe: r.ID(), Grams: 2000, ScaleGrams: 0.1})
	require.NoError(t, err)
	var shot DrawnStock
	for _, stock := range []string{"other", "pail"} {
		shot, err = DrawStock(t.Context(), b, DrawStockRequest{Stock: stock, Grams: 100, ScaleGrams: 0.01, Pour: true})
		require.NoError(t, err)
		readPour(t, b, shot.Pour, off)
	}
	ask = usualCorrection(shot.Pour)
	ask.Stock = "pail"
	assert.Equal(t, []bool{false, false, false, false, true}, from(ask))
}

func TestCorrectIsRefused(t *testing.T) {
	b := newBench(t)
	addOtherResin(t, b)
	target, r := poured(t, b)
	p := addPour(t, b, r, nil)
	readPour(t, b, p.Pour, lamp())
	unread := addPour(t, b, r, nil)
	aimless := addPour(t, b, addRecipe(t, b, archive.Target{}, testResin, lamp()), nil)
	foreign := addRecipe(t, b, target, otherResin, lamp())
	_, err := TintStock(t.Context(), b, TintStockRequest{Stock: "foreign", Recipe: foreign.ID(), Grams: 2000, ScaleGrams: 0.1})
	require.NoError(t, err)
	for name, c := range map[string]struct {
		pour string
		ask  func(*CorrectRequest)
		kind Kind
		says string
	}{
		"two pots":         {p.Pour, func(r *CorrectRequest) { r.PotGrams, r.Stock = 10, "foreign" }, Invalid, "give either"},
		"a side alone":     {p.Pour, func(r *CorrectRequest) { r.PotSide = "B" }, Invalid, "is missing"},
		"the other side":   {p.Pour, func(r *CorrectRequest) { r.PotGrams, r.PotSide = 10, "A" }, Invalid, "the pigments of CLR are in side B"},
		"too much":         {p.Pour, func(r *CorrectRequest) { r.PotGrams = 500 }, Failed, "were weighed of the tinted side"},
		"another resin":    {p.Pour, func(r *CorrectRequest) { r.Stock = "foreign" }, Invalid, `stock "foreign" is of resin OPQ, P1 of CLR`},
		"no such stock":    {p.Pour, func(r *CorrectRequest) { r.Stock = "x" }, NotFound, "unknown stock"},
		"nine pigments":    {p.Pour, func(r *CorrectRequest) { r.MaxPigments = 9 }, Invalid, "is out of range"},
		"a pour not read":  {unread.Pour, func(*CorrectRequest) {}, Failed, "has no reading"},
		"without a target": {aimless.Pour, func(*CorrectRequest) {}, Failed, "cannot be corrected"},
		"no such pour":     {"P99", func(*CorrectRequest) {}, NotFound, "unknown pour"},
	} {
		ask := usualCorrection(c.pour)
		c.ask(&ask)
		if name == "without a target" {
			_, err := ReadPour(t.Context(), b, ReadPourRequest{Pour: c.pour, Readings: Readings{Typed: []string{typed(partOf(lamp()))}, Condition: partOf(lamp()).Under}})
			require.NoError(t, err)
		}
		_, err := Correct(t.Context(), b, ask)
		assert.ErrorContains(t, err, c.says, name)
		assert.Equal(t, c.kind, KindOf(err), name)
	}
}

// TestKeepingWhatWasLearnt: what pours said of named lots is kept if asked for,
// counts no pour twice, and is refused where somebody learnt something else of
// the lot meanwhile.
func TestKeepingWhatWasLearnt(t *testing.T) {
	b := newBench(t)
	target, r := poured(t, b)
	green := testShop().Codes[2]
	addLots(t, b, green, "K-1")
	p := addPour(t, b, r, map[string]string{green: "K-1"})
	readPour(t, b, p.Pour, stronger(lamp(), green, 1.3))
	ask := usualCorrection(p.Pour)
	ask.Keep = true
	v, err := Correct(t.Context(), b, ask)
	require.NoError(t, err)
	assert.Equal(t, map[string]string{green: "K-1"}, v.Kept)
	assert.Contains(t, strings.Join(v.Notes, "; "), "is not kept, since the pour names no lot of it")
	lots, err := Lots(t.Context(), b, green)
	require.NoError(t, err)
	assert.Greater(t, float64(lots.Lots[0].Strength.Strength), 1.1)
	again, err := Correct(t.Context(), b, ask) // counts its pours once
	require.NoError(t, err)
	assert.Equal(t, v.Lots, again.Lots)

	c := correction{CorrectRequest: ask}
	require.NoError(t, c.know(t.Context(), b.archive))
	require.NoError(t, c.solve(t.Context(), b))
	require.NoError(t, c.weigh(t.Context(), b.archive))
	before, err := b.archive.Recipes(t.Context(), target.Client, target.Name)
	require.NoError(t, err)
	bob, err := Open(t.Context(), b.Path(), Options{Who: "bob"})
	require.NoError(t, err)
	defer bob.Close()
	_, err = bob.archive.SetLotStrength(t.Context(), archive.LotStrength{Item: archive.OfPigment, Code: green, Lot: "K-1", LnStrength: 0.5, SD: 0.1})
	require.NoError(t, err)
	err = b.archive.Together(t.Context(), func(a *archive.Bench) error { return c.store(t.Context(), a) })
	assert.ErrorContains(t, err, green+" lot K-1 was learnt anew by bob at ")
	assert.Equal(t, Conflict, KindOf(err))
	after, err := b.archive.Recipes(t.Context(), target.Client, target.Name)
	require.NoError(t, err)
	assert.Len(t, after, len(before))
}
