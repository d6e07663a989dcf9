package archive

import (
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var noon = time.Date(2026, 3, 31, 12, 0, 0, 0, time.UTC)

// options have patience: a machine that is busy takes as long as it takes.
func options() Options {
	return Options{Now: func() time.Time { return noon }, Who: "ada", Program: "masstone test", Wait: 20 * time.Minute}
}

func ctx(t testing.TB) context.Context { return context.Background() }

// emptyFile is the file of a bench just made, fullFile of one that is filled; making
// them takes longer than most tests.
var (
	emptyFile = sync.OnceValue(func() []byte {
		folder, err := os.MkdirTemp("", "bench")
		if err != nil {
			panic(err)
		}
		defer os.RemoveAll(folder)
		path := filepath.Join(folder, "shop.db")
		b, err := Create(context.Background(), path, options())
		if err != nil {
			panic(err)
		}
		b.Close()
		whole, err := os.ReadFile(path)
		if err != nil {
			panic(err)
		}
		return whole
	})
	fullFile struct {
		sync.Once
		whole []byte
	}
)

// benchOf opens a bench whose file holds this.
func benchOf(t testing.TB, whole []byte) *Bench {
	t.Helper()
	path := filepath.Join(t.TempDir(), "shop.db")
	require.NoError(t, os.WriteFile(path, whole, 0o600))
	b, err := Open(ctx(t), path, options())
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, b.Close()) })
	return b
}

// pool is the connections that a bench's transactions are made on.
func pool(b *Bench) *sql.DB { return b.on.(interface{ Pool() *sql.DB }).Pool() }

// newBench makes an empty bench.
func newBench(t testing.TB) *Bench {
	t.Helper()
	if inDatabase != nil {
		return inDatabase(t, false)
	}
	return benchOf(t, emptyFile())
}

// newShop makes a bench with a resin, three pigments, chips, a calibration, a
// target and a recipe.
func newShop(t testing.TB) *Bench {
	t.Helper()
	b := newBench(t)
	stock(t, b)
	return b
}

func lab(l, a, b float64) Lab { return Lab{l, a, b, "D65", 10} }

func reading(l, a, b float64) Reading {
	v := lab(l, a, b)
	return Reading{Lab: &v, Geometry: "d/8", Specular: "included"}
}

func clear100() Resin {
	return Resin{Code: "CLR", Name: "clear casting urethane", MixA: 100, MixB: 90, DensityA: 1.05, DensityB: 1,
		PotLife: 7 * time.Minute, PigmentSide: "B", MaxPHR: 4}
}

func threePigments() []Pigment {
	return []Pigment{{Code: "WH", CIName: "PW6"}, {Code: "RD", CIName: "PR254", PricePerKG: 61.5}, {Code: "YE", CIName: "PY74"}}
}

func twoChips() []Chip {
	return []Chip{
		{Name: "WH-01", Loadings: map[string]float64{"WH": 2}, Backing: "white", ThicknessMM: 3, ChipGrams: 50, ScaleGrams: 0.01,
			Readings: []Reading{reading(94.1, -0.6, 1.2)}},
		{Name: "RD-01", Loadings: map[string]float64{"WH": 1, "RD": 0.2}, Backing: "black", ThicknessMM: 3, ChipGrams: 50, ScaleGrams: 0.01,
			Readings: []Reading{reading(61.2, 38.9, 21.4), {Spectrum: &Spectrum{400, 20, []float64{0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6, 0.6}}}}},
	}
}

func housing() Target {
	return Target{Client: "Tern Lighting", Part: "Harbour lamp", Name: "Harbour lamp / housing", ThicknessMM: 3, Backing: "white",
		Readings: []Reading{reading(61.2, 38.9, 21.4), reading(61.3, 38.7, 21.5)}, Tolerance: 1, Formula: "CIEDE2000"}
}

// stock fills b and returns the recipe R1.
func stock(t testing.TB, b *Bench) Recipe {
	t.Helper()
	_, err := b.PutResin(ctx(t), clear100(), Refuse)
	require.NoError(t, err)
	_, err = b.ImportPigments(ctx(t), threePigments())
	require.NoError(t, err)
	_, err = b.ImportChips(ctx(t), "CLR", twoChips(), Refuse)
	require.NoError(t, err)
	chips, err := b.Chips(ctx(t), "CLR")
	require.NoError(t, err)
	var refs []string
	for _, k := range chips {
		refs = append(refs, k.Ref)
	}
	k, err := b.AddCalibration(ctx(t), Calibration{Resin: "CLR", Layer: "Kubelka-Munk", Chips: refs, Document: []byte(`{"k1": 0.04}`)})
	require.NoError(t, err)
	_, err = b.PutTarget(ctx(t), housing(), Refuse)
	require.NoError(t, err)
	found, err := b.AddRecipes(ctx(t), Recipe{Name: "surest", Resin: "CLR", Calibration: k.Ref, Target: "Harbour lamp / housing",
		Loadings: map[string]float64{"WH": 1.02, "RD": 0.21}, Predicted: []Lab{lab(61.1, 38.8, 21.5), {60, 40, 25, "A", 10}},
		DE00: 0.2, ExpectedDE00: 0.6, Upper95DE00: 1.1, Chance: 0.93})
	require.NoError(t, err)
	return found[0]
}

func TestCreateAndOpen(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a shop?x=1#%41.db") // characters that mean something in a URI
	b, err := Create(ctx(t), path, options())
	require.NoError(t, err)
	require.FileExists(t, path)
	backings, err := b.Backings(ctx(t))
	require.NoError(t, err)
	require.Len(t, backings, 2)
	assert.Equal(t, 0.03, *backings[0].Constant)
	assert.Equal(t, 0.90, *backings[1].Constant)
	assert.Equal(t, "from memory", backings[1].Source)
	require.NoError(t, b.Close())

	_, err = Create(ctx(t), path, options())
	require.ErrorIs(t, err, ErrExists)
	b, err = Open(ctx(t), path, options())
	require.NoError(t, err)
	stock(t, b)
	require.NoError(t, b.Close())
	b, err = Open(ctx(t), path, options())
	require.NoError(t, err)
	r, err := b.Recipe(ctx(t), "r1")
	require.NoError(t, err)
	assert.Equal(t, "Tern Lighting", r.Client)
	require.NoError(t, b.Close())
}

func TestOpenRefuses(t *testing.T) {
	folder := t.TempDir()
	_, err := Open(ctx(t), filepath.Join(folder, "none.db"), options())
	require.ErrorIs(t, err, ErrNoBench)
	_, err = Open(ctx(t), folder, options())
	require.ErrorIs(t, err, ErrNotBench)

	text := filepath.Join(folder, "chips.csv")
	require.NoError(t, os.WriteFile(text, []byte("chip,backing,thickness_mm,WH\nWH-01,white,3.0,2\n"), 0o644))
	_, err = Open(ctx(t), text, options())
	require.ErrorIs(t, err, ErrNotBench)
	_, err = Create(ctx(t), text, options())
	require.Error(t, err)
}

// Every record of a bench that has some of everything reads back as it was put.
func fullBench(t testing.TB) *Bench {
	t.Helper()
	if inDatabase != nil {
		return inDatabase(t, true)
	}
	return benchOf(t, fullBytes(t))
}

func fullBytes(t testing.TB) []byte {
	t.Helper()
	fullFile.Do(func() {
		b := newBench(t)
		fill(t, b)
		fillNow(t, b)
		fillLater(t, b)
		fillLinks(t, b)
		_, err := pool(b).Exec(`PRAGMA wal_checkpoint(TRUNCATE)`)
		require.NoError(t, err)
		fullFile.whole, err = os.ReadFile(b.path)
		require.NoError(t, err)
	})
	return fullFile.whole
}

// fillLater puts a record of every kind on b that schema 7 did not know.
func fillLater(t testing.TB, b *Bench) {
	t.Helper()
	k, err := b.Calibration(ctx(t), "CLR", 0)
	require.NoError(t, err)
	_, err = b.AddPlan(ctx(t), Plan{Resin: "CLR", Calibration: k.Ref, For: []TargetName{{"Tern Lighting", "Harbour lamp / housing"}}, ChipGrams: 50, ScaleGrams: 0.01,
		Chips:    []PlannedChip{{Name: "WH2-RD0.5-white", Loadings: map[string]float64{"WH": 2, "RD": 0.5}, Backing: "white", ThicknessMM: 3}, {Name: "resin-black", Backing: "black", ThicknessMM: 3}},
		Document: []byte(`{}`)})
	require.NoError(t, err)
	warm := 31.5
	_, err = b.PutMould(ctx(t), Mould{Name: "M1", Client: "Tern Lighting", Part: "Harbour lamp", Cavities: 3, CavityML: 4.5, Silicone: "A 25", Cure: PlatinumCured,
		SiliconeGrams: 410, SiliconeLot: "S-8", Release: "none", MadeOn: "2026-03-01", ShotsBefore: 2, ExpectedShots: 40}, Refuse)
	require.NoError(t, err)
	a, err := b.Approval(ctx(t), "Tern Lighting", "Harbour lamp / housing", 1)
	require.NoError(t, err)
	r, err := b.AddRun(ctx(t), Run{Approval: a.Ref, Parts: 30, Risk: 0.05})
	require.NoError(t, err)
	_, err = b.AddRunCup(ctx(t), RunCup{Run: r.Ref, Pour: a.Pours[0], Parts: 3, Mould: "M1", MouldC: &warm, By: "bo"})
	require.NoError(t, err)
}

// fillNow adds what schema 10 keeps beside that.
func fillNow(t testing.TB, b *Bench) {
	t.Helper()
	for _, e := range []Equipment{
		{Item: Scale, Name: "bench", InUse: true, StepGrams: 0.01, MaxGrams: 500, SDGrams: 0.004},
		{Item: Scale, Name: "fine", InUse: true, StepGrams: 0.001, MaxGrams: 50},
		{Item: Instrument, Name: "sphere", InUse: true, Geometry: "d/8", Specular: "included", ApertureMM: 8, MCondition: "M0", Illuminant: "D65", Observer: 10, RepeatSD: 0.04, Note: "on loan"},
	} {
		_, err := b.PutEquipment(ctx(t), e, Refuse)
		require.NoError(t, err)
	}
}

// fillLinks puts a client's link on b, which schema 9 did not know, and closes it.
func fillLinks(t testing.TB, b *Bench) {
	t.Helper()
	a, err := b.Approval(ctx(t), "Tern Lighting", "Harbour lamp / housing", 1)
	require.NoError(t, err)
	l, err := b.PutClientLink(ctx(t), ClientLink{Hash: strings.Repeat("5a", 32), Approval: a.Ref, Until: "2026-04-14T12:00:00Z", For: "J. Brandt"})
	require.NoError(t, err)
	l.Closed = "sent to the wrong house"
	_, err = b.PutClientLink(ctx(t), l)
	require.NoError(t, err)
}

// fill puts at least one record of every kind of schema 7 on b, and supersedes
// some.
func fill(t testing.TB, b *Bench) {
	t.Helper()
	r := stock(t, b)
	_, err := b.PutClient(ctx(t), Client{Name: "Tern Lighting", Note: "Łódź, käme"}, Replace)
	require.NoError(t, err)
	for _, l := range []Lot{
		{Item: OfPigment, Code: "RD", Name: "4711", Received: "2026-02-01"},
		{Item: OfPigment, Code: "RD", Name: "4712", Received: "2026-03-01", Grams: 1000},
		{Item: OfResin, Code: "CLR", Name: "K-9"},
	} {
		_, err := b.PutLot(ctx(t), l, Refuse)
		require.NoError(t, err)
	}
	_, err = b.OpenLot(ctx(t), LotName{OfPigment, "RD", "4711"})
	require.NoError(t, err)
	_, err = b.OpenLot(ctx(t), LotName{OfPigment, "RD", "4712"})
	require.NoError(t, err)
	_, err = b.SetLotStrength(ctx(t), LotStrength{Item: OfPigment, Code: "RD", Lot: "4712", LnStrength: -0.06, SD: 0.03})
	require.NoError(t, err)
	_, err = b.PutStock(ctx(t), Stock{Name: "pail 1", Resin: "CLR", Recipe: r.Ref}, Refuse)
	require.NoError(t, err)
	batch, err := b.AddBatch(ctx(t), Batch{Recipe: r.Ref, TotalGrams: 250, ScaleGrams: 0.01, Stock: "pail 1",
		Lines: []Line{{"B", 117.3}, {"WH", 2.55}, {"RD", 0.53}, {"A", 129.62}}, Lots: []LotName{{OfPigment, "RD", "4712"}}})
	require.NoError(t, err)
	pour, err := b.AddPour(ctx(t), Pour{Batch: batch.Ref})
	require.NoError(t, err)
	_, err = b.AddPourReading(ctx(t), PourReading{Pour: pour.Ref, Readings: []Reading{reading(61, 39, 21)}, Verdict: []byte(`{"pass":true}`)})
	require.NoError(t, err)
	more, err := b.AddBatch(ctx(t), Batch{Recipe: r.Ref, AddsTo: pour.Ref, TotalGrams: 0.2, Lines: []Line{{"RD", 0.2}}})
	require.NoError(t, err)
	_, err = b.AddPour(ctx(t), Pour{Batch: more.Ref, Lines: []Line{{"RD", 0.21}}})
	require.NoError(t, err)
	_, err = b.MoveStock(ctx(t), StockMove{Stock: "pail 1", Kind: Tint, Lines: []Line{{"B", 5000}, {"WH", 51}, {"RD", 10.5}}})
	require.NoError(t, err)
	_, err = b.MoveStock(ctx(t), StockMove{Stock: "pail 1", Kind: Draw, Grams: 119.9, Pour: pour.Ref})
	require.NoError(t, err)
	_, err = b.Approve(ctx(t), Approval{Recipe: r.Ref, Pours: []string{pour.Ref}, Colors: []Lab{lab(61, 39, 21)}, Note: "sample kept"})
	require.NoError(t, err)
	_, err = b.Approve(ctx(t), Approval{Recipe: r.Ref, By: "Tern Lighting"})
	require.NoError(t, err)
}

func verified(t testing.TB, b *Bench) {
	t.Helper()
	v, err := b.Verify(ctx(t))
	require.NoError(t, err)
	require.Empty(t, v.Problems)
	require.Positive(t, v.Records)
}

func TestEverythingVerifies(t *testing.T) {
	b := fullBench(t)
	verified(t, b)
}

func backup(t testing.TB, b *Bench, path string) error {
	_, err := b.Backup(ctx(t), path)
	return err
}

// copyFile copies a file over another, by hand.
func copyFile(t testing.TB, to, from string) {
	t.Helper()
	whole, err := os.ReadFile(from)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(to, whole, 0o600))
}

func readFile(t testing.TB, path string) string {
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(whole)
}
