package workbench

import (
	"context"
	"encoding/json"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
)

// TestWhichPoursAreFitted: a read pour of the resin counts as a chip, but for what
// makes it none.
func TestWhichPoursAreFitted(t *testing.T) {
	green := testShop().Codes[2]
	for name, c := range map[string]struct {
		do  func(t *testing.T, b *Bench, target archive.Target, r archive.Recipe)
		why string // "" where it counts
	}{
		"read": {func(t *testing.T, b *Bench, _ archive.Target, r archive.Recipe) {
			readPour(t, b, addPour(t, b, r, nil).Pour, lamp())
		}, ""},
		"not read": {func(t *testing.T, b *Bench, _ archive.Target, r archive.Recipe) {
			addPour(t, b, r, nil)
		}, "not read"},
		"the lot of the chips": {func(t *testing.T, b *Bench, _ archive.Target, r archive.Recipe) {
			addLots(t, b, green, "K-1", "K-2")
			openLot(t, b, green, "K-1")
			readPour(t, b, addPour(t, b, r, map[string]string{green: "K-1"}).Pour, lamp())
		}, ""},
		"another lot": {func(t *testing.T, b *Bench, _ archive.Target, r archive.Recipe) {
			addLots(t, b, green, "K-1", "K-2")
			openLot(t, b, green, "K-1")
			readPour(t, b, addPour(t, b, r, map[string]string{green: "K-2"}).Pour, lamp())
		}, "lot K-2, the chips are of lot K-1"},
		"a lot, the chips of none": {func(t *testing.T, b *Bench, _ archive.Target, r archive.Recipe) {
			addLots(t, b, green, "K-1")
			readPour(t, b, addPour(t, b, r, map[string]string{green: "K-1"}).Pour, lamp())
		}, "nobody said of which lot the chips are"},
		"another lot of the resin": {func(t *testing.T, b *Bench, _ archive.Target, r archive.Recipe) {
			addLots(t, b, testResin, "A-1", "A-2")
			openLot(t, b, testResin, "A-1")
			readPour(t, b, addPour(t, b, r, map[string]string{testResin: "A-2"}).Pour, lamp())
		}, "CLR lot A-2, the chips are of lot A-1"},
		"the resin lot of the chips": {func(t *testing.T, b *Bench, _ archive.Target, r archive.Recipe) {
			addLots(t, b, testResin, "A-1", "A-2")
			openLot(t, b, testResin, "A-1")
			openLot(t, b, testResin, "A-2")
			readPour(t, b, addPour(t, b, r, map[string]string{testResin: "A-1"}).Pour, lamp())
		}, ""},
		"a companion": {func(t *testing.T, b *Bench, _ archive.Target, r archive.Recipe) {
			_, err := ReadPour(t.Context(), b, ReadPourRequest{Pour: addPour(t, b, r, nil).Pour, Companion: true, Readings: Readings{Typed: []string{typed(partOf(lamp()))}}})
			require.NoError(t, err)
		}, "how thick that is"},
		"read young": {func(t *testing.T, b *Bench, _ archive.Target, r archive.Recipe) {
			_, err := ReadPour(t.Context(), b, ReadPourRequest{Pour: addPour(t, b, r, nil).Pour, AgeHours: 20, Readings: Readings{Typed: []string{typed(partOf(lamp()))}}})
			require.NoError(t, err)
		}, ""},
		"another geometry": {func(t *testing.T, b *Bench, _ archive.Target, r archive.Recipe) {
			bare := noTarget(t, b)
			readAs(t, b, addPour(t, b, bare, nil).Pour, Readings{Condition: color.D65Ten(), Measurement: color.Measurement{Geometry: color.Directional}, Typed: []string{typed(partOf(lamp()))}})
		}, "read in 45/0, the chips in d/8"},
		"another light": {func(t *testing.T, b *Bench, _ archive.Target, r archive.Recipe) {
			bare := noTarget(t, b)
			readAs(t, b, addPour(t, b, bare, nil).Pour, Readings{Condition: color.Under(color.A, color.TenDegree), Typed: []string{typed(partOf(lamp()))}})
		}, "under no light that the chips were"},
		"too bright": {func(t *testing.T, b *Bench, _ archive.Target, r archive.Recipe) {
			readAs(t, b, addPour(t, b, r, nil).Pour, Readings{Typed: []string{"95,-50,76"}})
		}, "no surface passes"},
		"too small": {func(t *testing.T, b *Bench, target archive.Target, r archive.Recipe) {
			target.FlatMM = 4
			_, err := b.archive.PutTarget(t.Context(), target, archive.Replace)
			require.NoError(t, err)
			target, err = b.archive.Target(t.Context(), target.Client, target.Name)
			require.NoError(t, err)
			r = addRecipe(t, b, target, testResin, lamp())
			_, err = AddInstrument(t.Context(), b, AddInstrumentRequest{Name: "sphere", ApertureMM: 8})
			require.NoError(t, err)
			readPour(t, b, addPour(t, b, r, nil).Pour, lamp())
		}, "too small for an aperture of 8 mm"},
		"another pigment": {func(t *testing.T, b *Bench, target archive.Target, r archive.Recipe) {
			_, err := b.archive.PutPigment(t.Context(), archive.Pigment{Code: "ZN"}, archive.Refuse)
			require.NoError(t, err)
			mix := stronger(lamp(), "WH", 1)
			mix["ZN"] = 0.3
			readPour(t, b, addPour(t, b, addRecipe(t, b, target, testResin, mix), nil).Pour, lamp())
		}, "no chip holds ZN"},
		"no thickness": {func(t *testing.T, b *Bench, target archive.Target, r archive.Recipe) {
			bare, err := b.archive.AddRecipes(t.Context(), archive.Recipe{Resin: testResin, Loadings: lamp()})
			require.NoError(t, err)
			_, err = ReadPour(t.Context(), b, ReadPourRequest{Pour: addPour(t, b, bare[0], nil).Pour, Readings: Readings{Condition: color.D65Ten(), Typed: []string{typed(partOf(lamp()))}}})
			require.NoError(t, err)
		}, "how thick the part is"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			b := newBench(t)
			target, r := poured(t, b)
			c.do(t, b, target, r)
			var say Remarks
			in, err := FitRequest{}.chips(t.Context(), b.archive, testResin, nil, &say)
			require.NoError(t, err)
			if c.why == "" {
				require.Empty(t, in.without)
				require.Len(t, in.pours, 1)
				chip := in.pours[0].chip
				assert.Equal(t, "P1", chip.Name)
				assert.Equal(t, calibrate.ThicknessMM(r.ThicknessMM), chip.Thickness)
				for code, phr := range lamp() {
					assert.InDelta(t, phr, float64(chip.Loadings[code]), 1e-9, code)
				}
				return
			}
			require.Empty(t, in.pours)
			require.Len(t, in.without, 1)
			assert.Equal(t, "P1", in.without[0].Pour)
			assert.Contains(t, in.without[0].Why, c.why)
		})
	}
}

// noTarget is a recipe for no target, so that a reading is judged by nothing.
func noTarget(t testing.TB, b *Bench) archive.Recipe {
	t.Helper()
	of, err := b.archive.AddRecipes(t.Context(), archive.Recipe{Resin: testResin, Loadings: lamp(), ThicknessMM: 3, Backing: "white"})
	require.NoError(t, err)
	return of[0]
}

func readAs(t testing.TB, b *Bench, pour string, r Readings) {
	t.Helper()
	_, err := ReadPour(t.Context(), b, ReadPourRequest{Pour: pour, Readings: r})
	require.NoError(t, err)
}

// TestPoursAreFittedAsWeighed: what was weighed counts, not what the sheet said, and
// pours of another resin are none of this one.
func TestPoursAreFittedAsWeighed(t *testing.T) {
	b := newBench(t)
	target, r := poured(t, b)
	p, err := AddPour(t.Context(), b, AddPourRequest{Batch: addBatch(t, b, r).ID(), Weighed: batch.Poured{"BK": batch.Grams(0.13)}})
	require.NoError(t, err)
	readPour(t, b, p.Pour, lamp())
	addOtherResin(t, b)
	readPour(t, b, addPour(t, b, addRecipe(t, b, target, otherResin, lamp()), nil).Pour, lamp())
	var say Remarks
	in, err := FitRequest{}.chips(t.Context(), b.archive, testResin, nil, &say)
	require.NoError(t, err)
	require.Len(t, in.pours, 1)
	chip := in.pours[0].chip
	assert.InDelta(t, 0.13, float64(chip.Loadings["BK"]), 1e-9)
	assert.InDelta(t, 100, float64(chip.ChipGrams), 1e-6, "resin in the cup")
	assert.InDelta(t, 0.01, float64(chip.ScaleGrams), 1e-9)
	assert.Empty(t, chip.Casting)
	in, err = FitRequest{WithoutPours: true}.chips(t.Context(), b.archive, testResin, nil, &say)
	require.NoError(t, err)
	assert.Empty(t, in.pours)
}

// TestShotsOfAPail: what was drawn from one pail was weighed once, and is one casting.
func TestShotsOfAPail(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	_, err := TintStock(t.Context(), b, TintStockRequest{Stock: "pail", Recipe: r.ID(), Grams: 1000, ScaleGrams: 0.1})
	require.NoError(t, err)
	for range 2 {
		shot, err := DrawStock(t.Context(), b, DrawStockRequest{Stock: "pail", Grams: 100, ScaleGrams: 0.01, Pour: true, Again: true})
		require.NoError(t, err)
		readPour(t, b, shot.Pour, lamp())
	}
	in, err := FitRequest{}.chips(t.Context(), b.archive, testResin, nil, new(Remarks))
	require.NoError(t, err)
	require.Len(t, in.pours, 2)
	for _, p := range in.pours {
		assert.Equal(t, "stock pail", p.chip.Casting)
		assert.Equal(t, p.pour.ID(), p.chip.Part, "each is as thick as it came out")
	}
}

// TestSimplerPours: of a pour too no more is left than a simpler instrument reads.
func TestSimplerPours(t *testing.T) {
	b := newBench(t)
	other := color.Under(color.A, color.TenDegree)
	castChips(t, b, testResin, map[string]map[string]float64{"under A": {"WH": 1}}, map[string]color.Condition{"under A": other})
	readAs(t, b, addPour(t, b, noTarget(t, b), nil).Pour, Readings{Condition: other, Typed: []string{typed(partOf(lamp()))}})
	in, err := FitRequest{}.chips(t.Context(), b.archive, testResin, nil, new(Remarks))
	require.NoError(t, err)
	require.Len(t, in.pours, 1)
	in, err = FitRequest{Evidence: calibrate.LabEvidence, Main: color.D65Ten()}.chips(t.Context(), b.archive, testResin, nil, new(Remarks))
	require.NoError(t, err)
	require.Empty(t, in.pours)
	require.Equal(t, []LeftPour{{"P1", "it was not read under D65/10"}}, in.without)
}

// TestTheNewestOfEachRecipe: where there are more pours than a fit takes, those of
// recipes that were poured seldom are not crowded out.
func TestTheNewestOfEachRecipe(t *testing.T) {
	var in fitted
	for i, recipe := range []string{"a", "a", "b", "a", "a", "c", "a", "a"} {
		in.pours = append(in.pours, pouredChip{pour: archive.Pour{Fact: archive.Fact{Number: int64(i + 1), Stamp: archive.Stamp{Ref: fmt.Sprint("ref", i)}}}, recipe: recipe})
	}
	in.keepPours(8)
	require.Len(t, in.pours, 8)
	require.Empty(t, in.without)
	in.keepPours(4)
	var kept []string
	for _, p := range in.pours {
		kept = append(kept, p.pour.ID())
	}
	assert.Equal(t, []string{"P3", "P6", "P7", "P8"}, kept)
	require.Len(t, in.without, 4)
	assert.Equal(t, LeftPour{"P1", "the newest of each recipe count, 4 in all"}, in.without[0])
}

// TestPourIsCountedOnce: what a pour taught is on top of a calibration that does not
// know it, and in one that does; never both, and a correction of it goes by one that
// does not.
func TestPourIsCountedOnce(t *testing.T) {
	t.Parallel()
	b, ctx := newBench(t), context.Background()
	target, r := poured(t, b)
	first := addPour(t, b, r, nil)
	readPour(t, b, first.Pour, stronger(lamp(), "BK", 1.3))
	require.Equal(t, []string{"P1"}, taughtBy(t, b, r))

	v, err := Fit(ctx, b, FitRequest{Resin: testResin, Layer: calibrate.KubelkaMunk})
	require.NoError(t, err)
	require.Equal(t, 1, v.FromPours)
	require.Len(t, v.Pours.Counted, 1)
	require.Equal(t, "CLR v1", v.Pours.Before)
	assert.Greater(t, float64(*v.Pours.BeforeDE), 1.0, "a black 30 % stronger")
	stored, err := b.archive.Calibration(ctx, testResin, 0)
	require.NoError(t, err)
	pour, err := b.archive.Pour(ctx, "P1")
	require.NoError(t, err)
	require.Equal(t, []string{pour.Ref}, stored.Pours)
	require.NotContains(t, string(stored.Document), `"P1"`, "the reading of a client's part is not kept with a calibration")

	require.Empty(t, taughtBy(t, b, r))
	k, err := know(ctx, b.archive, question{resin: testResin, target: &target, thickness: r.ThicknessMM, over: r.Backing})
	require.NoError(t, err)
	require.Equal(t, k.fitted, k.now, "the calibration as fitted, and nothing on top of it")
	require.Contains(t, k.notes, "what P1 taught is in CLR v2 itself")

	way, err := Correct(ctx, b, usualCorrection(first.Pour))
	require.NoError(t, err)
	require.Equal(t, "CLR v1", way.Calibration)
	require.Equal(t, []string{"P1"}, way.Pours)

	second := addPour(t, b, r, nil)
	readPour(t, b, second.Pour, stronger(lamp(), "BK", 1.3))
	require.Equal(t, []string{"P2"}, taughtBy(t, b, r))

	next, err := Fit(ctx, b, FitRequest{Resin: testResin, Layer: calibrate.KubelkaMunk, DryRun: true})
	require.NoError(t, err)
	require.Len(t, next.Pours.Counted, 2)
	require.Equal(t, "CLR v2", next.Pours.Before)
	require.Equal(t, 1, next.Pours.New, "CLR v2 is not judged by P1, which it has read")

	alone, err := Fit(ctx, b, FitRequest{Resin: testResin, Layer: calibrate.KubelkaMunk, WithoutPours: true})
	require.NoError(t, err)
	require.Nil(t, alone.Pours)
	require.Zero(t, alone.FromPours)
	require.Equal(t, []string{"P1", "P2"}, taughtBy(t, b, r))
}

// TestCalibrationOfChipsAloneKeepsItsBytes: a document of before pours were fitted
// has no field of them.
func TestCalibrationOfChipsAloneKeepsItsBytes(t *testing.T) {
	document, err := json.Marshal(archive.Calibration{Resin: "CLR", Layer: calibrate.KubelkaMunk, Chips: []string{"a"}, Document: json.RawMessage("{}")})
	require.NoError(t, err)
	assert.Equal(t, `{"no":0,"resin":"CLR","layer":"kubelka-munk","chips":["a"],"document":{}}`, string(document))
}
