package workbench

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes/archive"
)

// lotChip is a file of one chip of a stronger lot of green in white, as it
// would read.
func lotChip(name string, phr, times float64) File {
	green := testShop().Codes[2]
	lab := partOf(map[string]float64{"WH": 1, green: phr * times})
	text := fmt.Sprintf("chip,backing,thickness_mm,WH,%s,L,a,b\n%s,white,%g,1,%g,%.4f,%.4f,%.4f\n", green, name, float64(testShop().Setting.Thickness), phr, lab.L, lab.A, lab.B)
	return File{Name: "chips.csv", Data: strings.NewReader(text), Options: readings.Options{Condition: color.D65Ten()}}
}

func learnLot(t testing.TB, b *Bench, chips File) LearnedLot {
	t.Helper()
	v, err := LearnLot(t.Context(), b, LearnLotRequest{Code: testShop().Codes[2], Lot: "K-1", Chips: chips, ChipGrams: 50, ScaleGrams: 0.01})
	require.NoError(t, err)
	return v
}

func evidenceOn(t testing.TB, b *Bench) []string {
	t.Helper()
	known, err := knownOfLots(t.Context(), b.archive)
	require.NoError(t, err)
	s := known.strength(pigmentLot(testShop().Codes[2], "K-1"))
	require.NotNil(t, s)
	return s.Evidence
}

// TestLotIsLearnt: chips of a lot say how strong it is; the truth is the
// invented shop's. What was known of it before stays known: chips learnt one
// after the other leave less doubt than the last alone, and none counts twice.
func TestLotIsLearnt(t *testing.T) {
	green, times := testShop().Codes[2], 1.25
	b := newBench(t)
	addLots(t, b, green, "K-1")
	first := learnLot(t, b, lotChip("one", 0.3, times))
	assert.InDelta(t, times, float64(first.Strength), 0.06)
	assert.Less(t, float64(first.Chips[0].After), float64(first.Chips[0].Before))
	again := learnLot(t, b, lotChip("one", 0.3, times))
	assert.Equal(t, first.LotStrength, again.LotStrength)
	assert.Len(t, evidenceOn(t, b), 1)
	both := learnLot(t, b, lotChip("two", 0.6, times))
	assert.Len(t, evidenceOn(t, b), 2)

	fresh := newBench(t)
	addLots(t, fresh, green, "K-1")
	alone := learnLot(t, fresh, lotChip("two", 0.6, times))
	assert.Less(t, float64(both.SD), 0.95*float64(alone.SD))
	assert.Less(t, float64(both.SD), 0.95*float64(first.SD))
	assert.InDelta(t, times, float64(both.Strength), 0.06)
}

// TestLotLearnCountsPours: what pours taught of a lot is counted with its chips.
func TestLotLearnCountsPours(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	green := testShop().Codes[2]
	addLots(t, b, green, "K-1")
	p := addPour(t, b, r, map[string]string{green: "K-1"})
	readPour(t, b, p.Pour, stronger(lamp(), green, 1.25))
	ask := usualCorrection(p.Pour)
	ask.Keep = true
	kept, err := Correct(t.Context(), b, ask)
	require.NoError(t, err)
	cast, err := castNamed(t.Context(), b.archive, p.Pour)
	require.NoError(t, err)
	before := evidenceOn(t, b)
	require.Contains(t, before, cast.pour.Ref)
	learned := learnLot(t, b, lotChip("one", 0.3, 1.25))
	after := evidenceOn(t, b)
	assert.Equal(t, before, after[:len(before)])
	assert.Len(t, after, len(before)+1)
	for _, l := range kept.Lots {
		if l.Code == green {
			assert.Less(t, float64(learned.SD), float64(l.SD))
		}
	}
}

func TestLotsInUse(t *testing.T) {
	b := newBench(t)
	v, err := AddLot(t.Context(), b, AddLotRequest{Code: "WH", Lot: "7", Received: "2026-03-31", Grams: 1000, Open: true})
	require.NoError(t, err)
	assert.Equal(t, string(archive.Added), v.Outcome)
	assert.True(t, v.InUse)
	v, err = AddLot(t.Context(), b, AddLotRequest{Code: testResin, Lot: "77"})
	require.NoError(t, err)
	assert.Equal(t, archive.OfResin, v.Item)
	assert.False(t, v.InUse)
	_, err = AddLot(t.Context(), b, AddLotRequest{Code: "WH", Lot: "8"})
	require.NoError(t, err)
	v, err = OpenLot(t.Context(), b, OpenLotRequest{"WH", "8"})
	require.NoError(t, err)
	assert.True(t, v.InUse)
	white, err := Lots(t.Context(), b, "WH")
	require.NoError(t, err)
	require.Len(t, white.Lots, 2)
	assert.Equal(t, []bool{true, false}, []bool{white.Lots[0].InUse, white.Lots[1].InUse}) // the newest first
	all, err := Lots(t.Context(), b, "")
	require.NoError(t, err)
	assert.Len(t, all.Lots, 3)

	for name, c := range map[string]struct {
		do   func() error
		kind Kind
		says string
	}{
		"another card": {func() error {
			_, err := AddLot(t.Context(), b, AddLotRequest{Code: "WH", Lot: "7", Note: "x"})
			return err
		}, Conflict, "nothing was changed"},
		"no such lot": {func() error { _, err := OpenLot(t.Context(), b, OpenLotRequest{"WH", "9"}); return err }, NotFound, "it has 8, 7"},
		"no lot yet":  {func() error { _, err := OpenLot(t.Context(), b, OpenLotRequest{"BK", "9"}); return err }, NotFound, `BK has no lot "9"`},
		"of another resin": {func() error {
			_, err := LearnLot(t.Context(), b, LearnLotRequest{Code: testResin, Lot: "77", Resin: otherResin})
			return err
		}, Invalid, "is learnt from chips of CLR"},
		"not in the chip": {func() error {
			addLots(t, b, "BK", "1")
			_, err := LearnLot(t.Context(), b, LearnLotRequest{Code: "BK", Lot: "1", Chips: lotChip("one", 0.3, 1)})
			return err
		}, Failed, `chip "one" holds no BK`},
	} {
		err := c.do()
		assert.ErrorContains(t, err, c.says, name)
		assert.Equal(t, c.kind, KindOf(err), name)
	}
}
