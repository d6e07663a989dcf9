package archive

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/recipes/archive/engine"
)

// tables lists the tables of records and what is derived from them.
func tables(t testing.TB, b *Bench) []string {
	t.Helper()
	var all []string
	require.NoError(t, engine.EachRow(ctx(t), pool(b), func(rows *sql.Rows) error {
		var name string
		err := rows.Scan(&name)
		all = append(all, name)
		return err
	}, `SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'word_index%' AND name NOT LIKE 'sqlite_%' AND name <> 'goose_db_version'`))
	return all
}

func TestNothingIsChangedOrDeleted(t *testing.T) {
	b := fullBench(t)
	for _, table := range tables(t, b) {
		var rows int
		require.NoError(t, pool(b).QueryRow("SELECT count(*) FROM "+table).Scan(&rows))
		if table == "color_block" {
			_, err := pool(b).Exec(`INSERT INTO color_block (light, upto, data) VALUES (1, 1, x'')`)
			require.NoError(t, err)
		} else {
			require.Positive(t, rows, "%s is empty, so this test shows nothing", table)
		}
		var column string
		require.NoError(t, pool(b).QueryRow("SELECT name FROM pragma_table_info(?)", table).Scan(&column))
		for _, attempt := range []string{
			"UPDATE " + table + " SET " + column + " = " + column,
			"DELETE FROM " + table,
			"INSERT OR REPLACE INTO " + table + " (" + plainColumns(t, b, table) + ") SELECT " + plainColumns(t, b, table) + " FROM " + table,
		} {
			_, err := pool(b).Exec(attempt)
			require.ErrorContains(t, err, "only grows", attempt)
		}
	}
	for _, k := range kinds() {
		var rows int
		require.NoError(t, pool(b).QueryRow("SELECT count(*) FROM "+k.table).Scan(&rows))
		require.Positive(t, rows, k.name)
	}
}

func plainColumns(t testing.TB, b *Bench, table string) string {
	var all []string
	require.NoError(t, engine.EachRow(ctx(t), pool(b), func(rows *sql.Rows) error {
		var name string
		err := rows.Scan(&name)
		all = append(all, name)
		return err
	}, "SELECT name FROM pragma_table_info(?)", table)) // leaves generated columns out
	return strings.Join(all, ", ")
}

func TestPragmasOnEveryConnection(t *testing.T) {
	b := newBench(t)
	var held []*sql.Conn
	for range 3 { // three at once, so three connections of the pool
		conn, err := pool(b).Conn(ctx(t))
		require.NoError(t, err)
		held = append(held, conn)
		for pragma, want := range map[string]string{"foreign_keys": "1", "synchronous": "2", "journal_mode": "wal", "recursive_triggers": "1", "busy_timeout": fmt.Sprint(options().Wait.Milliseconds())} {
			var got string
			require.NoError(t, conn.QueryRowContext(ctx(t), "PRAGMA "+pragma).Scan(&got))
			assert.Equal(t, want, got, pragma)
		}
	}
	for _, conn := range held {
		require.NoError(t, conn.Close())
	}
	var o Options
	o.fill()
	assert.Equal(t, 10*time.Second, o.Wait)
}

func TestResins(t *testing.T) {
	b := newBench(t)
	outcome, err := b.PutResin(ctx(t), clear100(), Refuse)
	require.NoError(t, err)
	assert.Equal(t, Added, outcome)
	outcome, err = b.PutResin(ctx(t), clear100(), Refuse)
	require.NoError(t, err)
	assert.Equal(t, Unchanged, outcome)

	other := clear100()
	other.MaxPHR, other.PotLife = 6, 9*time.Minute
	_, err = b.PutResin(ctx(t), other, Refuse)
	require.ErrorIs(t, err, ErrConflict)
	assert.EqualError(t, err, `resin "CLR": differs from what the bench holds (max_phr, pot_life_ns)`)
	outcome, err = b.PutResin(ctx(t), other, Replace)
	require.NoError(t, err)
	assert.Equal(t, Changed, outcome)

	got, err := b.Resin(ctx(t), "CLR")
	require.NoError(t, err)
	assert.Equal(t, 9*time.Minute, got.PotLife)
	assert.Equal(t, "ada", got.Who)
	assert.Equal(t, noon, got.At)
	_, err = b.Resin(ctx(t), "OPQ")
	assert.EqualError(t, err, `unknown resin "OPQ"; the bench has CLR`)

	for name, spoil := range map[string]func(*Resin){
		"code": func(r *Resin) { r.Code = " " }, "mix": func(r *Resin) { r.MixB = 0 }, "side": func(r *Resin) { r.PigmentSide = "C" },
		"density": func(r *Resin) { r.DensityA = -1 }, "pot": func(r *Resin) { r.PotLife = -1 },
	} {
		bad := clear100()
		spoil(&bad)
		_, err := b.PutResin(ctx(t), bad, Replace)
		require.ErrorIs(t, err, ErrInvalid, name)
	}
}

func TestImportPigments(t *testing.T) {
	b := newBench(t)
	report, err := b.ImportPigments(ctx(t), threePigments())
	require.NoError(t, err)
	assert.Equal(t, []string{"WH", "RD", "YE"}, report.Added)
	report, err = b.ImportPigments(ctx(t), threePigments())
	require.NoError(t, err)
	assert.Equal(t, "0 added, 0 changed, 3 unchanged", report.String())
	lines, err := b.Log(ctx(t), LogFilter{})
	require.NoError(t, err)
	assert.Len(t, lines, 1, "an import that changes nothing is not logged")

	// What a list leaves out stays; what it says counts.
	grams := 250.0
	report, err = b.ImportPigments(ctx(t), []Pigment{{Code: "RD", Density: 1.6, StockG: &grams}})
	require.NoError(t, err)
	assert.Equal(t, []string{"RD"}, report.Changed)
	red, err := b.Pigment(ctx(t), "RD")
	require.NoError(t, err)
	assert.Equal(t, "PR254", red.CIName)
	assert.Equal(t, 1.6, red.Density)
	assert.Equal(t, 61.5, red.PricePerKG)

	_, err = b.ImportPigments(ctx(t), []Pigment{{Code: "UB"}, {Code: "UB"}, {Code: "X Y"}, {Code: "CB", Density: -1}})
	require.ErrorIs(t, err, ErrInvalid)
	assert.Len(t, strings.Split(err.Error(), "\n"), 3, "one line for each")
	all, err := b.Pigments(ctx(t))
	require.NoError(t, err)
	assert.Len(t, all, 3, "nothing of a bad list is taken")
}

func TestImportChips(t *testing.T) {
	b := newBench(t)
	_, err := b.ImportChips(ctx(t), "CLR", twoChips(), Refuse)
	require.ErrorIs(t, err, ErrNotFound)
	_, err = b.PutResin(ctx(t), clear100(), Refuse)
	require.NoError(t, err)
	_, err = b.ImportPigments(ctx(t), threePigments())
	require.NoError(t, err)
	report, err := b.ImportChips(ctx(t), "CLR", twoChips(), Refuse)
	require.NoError(t, err)
	assert.Equal(t, []string{"WH-01", "RD-01"}, report.Added)
	report, err = b.ImportChips(ctx(t), "CLR", twoChips(), Refuse)
	require.NoError(t, err)
	assert.Equal(t, "0 added, 0 changed, 2 unchanged", report.String())

	// One chip of a file differs: the file is refused, naming it.
	again := twoChips()
	again[1].ThicknessMM = 3.1
	again = append(again, Chip{Name: "YE-01", Loadings: map[string]float64{"YE": 2}, Backing: "white", ThicknessMM: 3, Readings: []Reading{reading(80, 5, 80)}})
	_, err = b.ImportChips(ctx(t), "CLR", again, Refuse)
	require.ErrorIs(t, err, ErrConflict)
	assert.EqualError(t, err, `chip "RD-01" of "CLR": differs from what the bench holds (thickness_mm)`)
	both := slices.Clone(again)
	both[0].ThicknessMM, both[2].Loadings = 3.1, map[string]float64{"GN": 2}
	_, err = b.ImportChips(ctx(t), "CLR", both, Refuse)
	require.ErrorIs(t, err, ErrConflict)
	assert.EqualError(t, err, "chip \"YE-01\": unknown pigment \"GN\"; the bench has RD, WH, YE\n"+
		`chips "WH-01", "RD-01" of "CLR": each differs from what the bench holds (thickness_mm)`, "told once per cause")
	chips, err := b.Chips(ctx(t), "CLR")
	require.NoError(t, err)
	require.Len(t, chips, 2)
	report, err = b.ImportChips(ctx(t), "CLR", again, Replace)
	require.NoError(t, err)
	assert.Equal(t, Report{Added: []string{"YE-01"}, Changed: []string{"RD-01"}, Unchanged: []string{"WH-01"}}, report)
	chips, err = b.Chips(ctx(t), "CLR")
	require.NoError(t, err)
	require.Len(t, chips, 3)
	assert.Equal(t, "RD-01", chips[1].Name, "a chip keeps its place")
	assert.Equal(t, 3.1, chips[1].ThicknessMM)
	assert.Equal(t, twoChips()[1].Readings, chips[1].Readings)
	var old int
	require.NoError(t, pool(b).QueryRow(`SELECT count(*) FROM chip_card WHERE name = 'RD-01' AND CAST(doc ->> '$.thickness_mm' AS DOUBLE PRECISION) = 3`).Scan(&old))
	assert.Equal(t, 1, old, "the card before is kept")

	_, err = b.WithdrawChip(ctx(t), "CLR", "WH-01", "cast with a bubble")
	require.NoError(t, err)
	chips, err = b.Chips(ctx(t), "CLR")
	require.NoError(t, err)
	require.Len(t, chips, 2)
	gone, err := b.Chip(ctx(t), "CLR", "WH-01")
	require.NoError(t, err)
	assert.Equal(t, "cast with a bubble", gone.Withdrawn)
	report, err = b.ImportChips(ctx(t), "CLR", twoChips()[:1], Refuse)
	require.NoError(t, err)
	assert.Equal(t, []string{"WH-01"}, report.Unchanged, "the file does not know that it was withdrawn")
	_, err = b.WithdrawChip(ctx(t), "CLR", "WH-01", "")
	require.NoError(t, err)
	chips, err = b.Chips(ctx(t), "CLR")
	require.NoError(t, err)
	require.Len(t, chips, 3)
	_, err = b.Chip(ctx(t), "CLR", "ZZ")
	require.ErrorIs(t, err, ErrNotFound)
	cards, err := History[Chip](ctx(t), b, "CLR", "WH-01")
	require.NoError(t, err)
	require.Len(t, cards, 3)
	assert.Equal(t, "cast with a bubble", cards[1].Withdrawn)
	_, err = History[Chip](ctx(t), b, "CLR", "ZZ")
	require.ErrorIs(t, err, ErrNotFound)
	_, err = History[Chip](ctx(t), b, "CLR")
	require.ErrorIs(t, err, ErrInvalid)
	_, err = History[Pour](ctx(t), b, "P1")
	require.ErrorIs(t, err, ErrInvalid)
	verified(t, b)
}

func TestBadChips(t *testing.T) {
	b := newShop(t)
	before, err := b.Checksum(ctx(t))
	require.NoError(t, err)
	for _, c := range []struct {
		spoil func(*Chip)
		says  string
	}{
		{func(k *Chip) { k.Loadings = map[string]float64{"ZZ": 1} }, `chip "N": unknown pigment "ZZ"; the bench has RD, WH, YE`},
		{func(k *Chip) { k.Loadings = map[string]float64{"RD": -1} }, `chip "N": impossible value: loading of RD is -1 phr; give 0 to 100`},
		{func(k *Chip) { k.Loadings = map[string]float64{"RD": 60, "WH": 60} }, `chip "N": impossible value: loadings add up to 120 phr, more paste than resin; give grams per 100 g of mixed resin`},
		{func(k *Chip) { k.Backing = "grey" }, `chip "N": unknown backing "grey"; the bench has black, white`},
		{func(k *Chip) { k.ThicknessMM = 0 }, `chip "N": impossible value: thickness 0 mm; give a thickness above 0`},
		{func(k *Chip) { k.Readings = nil }, `chip "N": impossible value: no reading; give a Lab or a spectrum`},
		{func(k *Chip) { k.Readings[0].Lab.L = 140 }, `chip "N": impossible value: Lab 140, 0, 0 is no surface colour; read it again`},
		{func(k *Chip) { k.Readings[0].Lab.Illuminant = "F11" }, `chip "N": impossible value: illuminant "F11"; write it FL11`},
		{func(k *Chip) { k.Readings[0] = Reading{Spectrum: &Spectrum{400, 10, []float64{0.5, 55}}} }, `chip "N": impossible value: reflectance factor 55 at 410 nm; give a fraction, 0 to 1`},
		{func(k *Chip) { k.Name = "WH-01 " }, `chip "WH-01 ": impossible value: give it a name without spaces around it`},
		{func(k *Chip) { k.Lots = []LotName{{OfPigment, "RD", "9"}} }, `chip "N": pigment RD: unknown lot "9"; the bench has none yet, add it first`},
	} {
		k := Chip{Name: "N", Loadings: map[string]float64{"RD": 1}, Backing: "white", ThicknessMM: 3, Readings: []Reading{reading(50, 0, 0)}}
		c.spoil(&k)
		good := Chip{Name: "good", Backing: "white", ThicknessMM: 3, Readings: []Reading{reading(50, 0, 0)}}
		_, err := b.ImportChips(ctx(t), "CLR", []Chip{good, k}, Refuse)
		assert.EqualError(t, err, c.says)
	}
	twice := []Chip{twoChips()[0], twoChips()[0]}
	_, err = b.ImportChips(ctx(t), "CLR", twice, Refuse)
	assert.EqualError(t, err, `chip "WH-01": impossible value: listed twice; keep one or rename one`)
	after, err := b.Checksum(ctx(t))
	require.NoError(t, err)
	assert.Equal(t, before, after)
}

func TestCalibrationsAreVersioned(t *testing.T) {
	b := newShop(t)
	first, err := b.Calibration(ctx(t), "CLR", 0)
	require.NoError(t, err)
	assert.Equal(t, "CLR v1", first.Name())
	assert.JSONEq(t, `{"k1":0.04}`, string(first.Document))
	second, err := b.AddCalibration(ctx(t), Calibration{Resin: "CLR", Layer: "exact", Chips: first.Chips[:1], Document: json.RawMessage(`{"k1":0.05}`)})
	require.NoError(t, err)
	assert.Equal(t, "CLR v2", second.Name())
	newest, err := b.Calibration(ctx(t), "CLR", 0)
	require.NoError(t, err)
	assert.Equal(t, second.Ref, newest.Ref)
	old, err := b.Calibration(ctx(t), "CLR", 1)
	require.NoError(t, err)
	assert.Equal(t, first, old)
	_, err = b.Calibration(ctx(t), "CLR", 3)
	require.ErrorIs(t, err, ErrNotFound)
	all, err := b.Calibrations(ctx(t), "CLR")
	require.NoError(t, err)
	require.Len(t, all, 2)
	assert.Equal(t, 2, all[1].Version)
	_, err = b.AddCalibration(ctx(t), Calibration{Resin: "CLR", Chips: []string{"feed"}, Document: json.RawMessage(`{}`)})
	require.ErrorIs(t, err, ErrNotFound)
	_, err = b.AddCalibration(ctx(t), Calibration{Resin: "CLR", Document: json.RawMessage(`{`)})
	require.ErrorIs(t, err, ErrInvalid)
}

func TestTargetNames(t *testing.T) {
	b := newShop(t)
	other := housing()
	other.Client, other.Part = "Gull Boats", ""
	_, err := b.PutTarget(ctx(t), other, Refuse)
	require.NoError(t, err)
	nobody := housing()
	nobody.Client, nobody.Part = "", ""
	nobody.Name = "test tile"
	_, err = b.PutTarget(ctx(t), nobody, Refuse)
	require.NoError(t, err)

	_, err = b.Target(ctx(t), "", "Harbour lamp / housing")
	require.ErrorIs(t, err, ErrAmbiguous)
	assert.Contains(t, err.Error(), `clients "Gull Boats", "Tern Lighting" each have one`)
	got, err := b.Target(ctx(t), "Gull Boats", "Harbour lamp / housing")
	require.NoError(t, err)
	assert.Equal(t, "Gull Boats", got.Client)
	got, err = b.Target(ctx(t), "", "test tile")
	require.NoError(t, err)
	assert.Empty(t, got.Client)
	nobody.Name = housing().Name
	_, err = b.PutTarget(ctx(t), nobody, Refuse)
	require.NoError(t, err)
	got, err = b.Target(ctx(t), "", housing().Name)
	require.NoError(t, err)
	assert.Empty(t, got.Client, "that without a client, though clients have one of its name")
	got, err = b.Target(ctx(t), "Tern Lighting", housing().Name)
	require.NoError(t, err)
	assert.Equal(t, "Tern Lighting", got.Client)
	_, err = b.Target(ctx(t), "", "none")
	assert.EqualError(t, err, `unknown target "none"; the bench has Harbour lamp / housing, test tile`)
	clients, err := b.Clients(ctx(t))
	require.NoError(t, err)
	assert.Len(t, clients, 2, "targets introduce their clients")
	parts, err := b.Parts(ctx(t), "Tern Lighting")
	require.NoError(t, err)
	assert.Len(t, parts, 1)
	_, err = b.PutTarget(ctx(t), Target{Name: "x", Part: "y", Readings: nobody.Readings}, Refuse)
	require.ErrorIs(t, err, ErrInvalid)
}

func TestFromRecipeToApproval(t *testing.T) {
	b := fullBench(t)
	r, err := b.Recipe(ctx(t), "R1")
	require.NoError(t, err)
	assert.Equal(t, map[string]float64{"WH": 1.02, "RD": 0.21}, r.Loadings)
	for _, id := range []string{"R2", "x", "", "R0", "B1"} {
		_, err := b.Recipe(ctx(t), id)
		require.ErrorIs(t, err, ErrNotFound, id)
	}
	first, err := b.Approval(ctx(t), "", "Harbour lamp / housing", 1)
	require.NoError(t, err)
	second, err := b.Approval(ctx(t), "Tern Lighting", "Harbour lamp / housing", 0)
	require.NoError(t, err)
	assert.Equal(t, "Harbour lamp / housing v2", second.Name())
	assert.Equal(t, "Tern Lighting", second.By)
	assert.Equal(t, r.Predicted, second.Colors)
	assert.Equal(t, []LotName{{OfPigment, "RD", "4712"}}, first.Lots)
	assert.Equal(t, r.TargetCard, first.TargetCard)

	// The target is read again: the approval still points at what was approved.
	again := housing()
	again.Tolerance = 0.5
	_, err = b.PutTarget(ctx(t), again, Replace)
	require.NoError(t, err)
	was, err := b.TargetRef(ctx(t), first.TargetCard)
	require.NoError(t, err)
	assert.Equal(t, 1.0, was.Tolerance)

	pours, err := b.Pours(ctx(t), "", "Harbour lamp / housing")
	require.NoError(t, err)
	require.Len(t, pours, 2)
	assert.True(t, pours[0].AsSheet)
	assert.Equal(t, 0.53, pours[0].Lines[2].Grams)
	assert.Equal(t, "2026-03-31", pours[0].PouredOn)
	assert.False(t, pours[1].AsSheet)
	with, err := b.PoursWithLot(ctx(t), LotName{OfPigment, "RD", "4712"})
	require.NoError(t, err)
	assert.Len(t, with, 1)
	readings, err := b.PourReadings(ctx(t), pours[0].Ref)
	require.NoError(t, err)
	require.Len(t, readings, 1)
	opened, err := b.OpenedLots(ctx(t))
	require.NoError(t, err)
	require.Len(t, opened, 1)
	assert.Equal(t, "4712", opened[0].Lot)

	from, err := b.Provenance(ctx(t), first)
	require.NoError(t, err)
	assert.Equal(t, was, from.Target)
	assert.Equal(t, r, from.Recipe)
	assert.Equal(t, "CLR v1", from.Calibration.Name())
	assert.Len(t, from.Chips, 2)
	assert.Equal(t, pours[:1], from.Pours)
	assert.Equal(t, readings, from.Readings)

	loose, err := b.AddRecipes(ctx(t), Recipe{Resin: "CLR", Corrects: r.Ref, Loadings: map[string]float64{"WH": 1}})
	require.NoError(t, err)
	_, err = b.Approve(ctx(t), Approval{Recipe: loose[0].Ref})
	require.ErrorIs(t, err, ErrInvalid)
	verified(t, b)
}

// What went in is what came out and what is left, to the milligram.
func TestStockBalances(t *testing.T) {
	b := newShop(t)
	n := 0
	rapid.Check(t, func(t *rapid.T) {
		n++
		ctx := context.Background()
		name := fmt.Sprintf("pail %d", n)
		_, err := b.PutStock(ctx, Stock{Name: name, Resin: "CLR"}, Refuse)
		require.NoError(t, err)
		held := int64(0) // mg
		for range rapid.IntRange(1, 8).Draw(t, "moves") {
			mg := rapid.Int64Range(1, 5_000_000).Draw(t, "mg")
			m := StockMove{Stock: name, Kind: rapid.SampledFrom([]string{Tint, Draw, Correct}).Draw(t, "kind")}
			if m.Kind == Draw {
				m.Grams = float64(mg) / 1000
			} else {
				m.Lines = []Line{{"B", float64(mg) / 1000}, {"RD", float64(mg/100) / 1000}}
			}
			level, err := b.MoveStock(ctx, m)
			if m.Kind == Draw && mg > held {
				require.ErrorIs(t, err, ErrInvalid)
				continue
			}
			require.NoError(t, err)
			if m.Kind == Draw {
				held -= mg
			} else {
				held += mg + mg/100
			}
			require.InDelta(t, float64(held)/1000, level.Grams, 1e-9)
			sum := 0.0
			for _, l := range level.Items() {
				require.GreaterOrEqual(t, l.Grams, 0.0)
				sum += l.Grams
			}
			require.InDelta(t, level.Grams, sum, 1e-6)
		}
	})
	level, err := b.StockLevel(ctx(t), "pail 1")
	require.NoError(t, err)
	require.NotEmpty(t, level.Stock.Ref)
	_, err = b.MoveStock(ctx(t), StockMove{Stock: "pail 1", Kind: "spill", Grams: 1})
	require.ErrorIs(t, err, ErrInvalid)
	verified(t, b)
}

func TestStockCount(t *testing.T) {
	b := fullBench(t)
	level, err := b.StockLevel(ctx(t), "pail 1")
	require.NoError(t, err)
	assert.InDelta(t, 5061.5-119.9, level.Grams, 1e-9)
	ratio := level.Contents["RD"] / level.Contents["B"]
	level, err = b.MoveStock(ctx(t), StockMove{Stock: "pail 1", Kind: Count, Grams: 4900})
	require.NoError(t, err)
	assert.Equal(t, 4900.0, level.Grams)
	assert.InDelta(t, ratio, level.Contents["RD"]/level.Contents["B"], 1e-12)
}

func TestLog(t *testing.T) {
	b := fullBench(t)
	all, err := b.Log(ctx(t), LogFilter{})
	require.NoError(t, err)
	require.Greater(t, len(all), 15)
	assert.Equal(t, "resin added", all[0].Verb)
	assert.Equal(t, "ada", all[0].Who)
	last, err := b.Log(ctx(t), LogFilter{Limit: 1, About: "APPROVED"})
	require.NoError(t, err)
	require.Len(t, last, 1)
	assert.Equal(t, "Tern Lighting / Harbour lamp / housing v2", last[0].Subject)
	none, err := b.Log(ctx(t), LogFilter{Since: noon.Add(time.Millisecond)})
	require.NoError(t, err)
	assert.Empty(t, none)
	none, err = b.Log(ctx(t), LogFilter{Until: noon})
	require.NoError(t, err)
	assert.Empty(t, none)
	none, err = b.Log(ctx(t), LogFilter{Who: "bo"})
	require.NoError(t, err)
	assert.Empty(t, none)
}

func TestFind(t *testing.T) {
	b := fullBench(t)
	blue := housing()
	blue.Client, blue.Part, blue.Name, blue.Note = "Gull Boats", "", "cleat, deep blue", "for the Łódź fair"
	_, err := b.PutTarget(ctx(t), blue, Refuse)
	require.NoError(t, err)
	b.options.Now = func() time.Time { return noon.Add(time.Hour) }
	_, err = b.AddRecipes(ctx(t), Recipe{Resin: "CLR", Target: blue.Name, Loadings: map[string]float64{"YE": 1}, Note: "naïve"})
	require.NoError(t, err)
	for _, c := range []struct {
		q    FindQuery
		want string
	}{
		{FindQuery{}, "R2 R1"},
		{FindQuery{Limit: 1}, "R2"},
		{FindQuery{Words: "harb LAMP"}, "R1"},
		{FindQuery{Words: "naive"}, "R2"},
		{FindQuery{Words: "łodz fair"}, "R2"},
		{FindQuery{Words: "cleat, deep"}, "R2"},
		{FindQuery{Words: "sample kept"}, "R1"}, // the note of an approval
		{FindQuery{Words: "cleat harbour"}, ""},
		{FindQuery{Words: `"' OR * NEAR(`}, ""},
		{FindQuery{Words: "CLR"}, "R2 R1"},
		{FindQuery{Words: "YE"}, "R2"},
		{FindQuery{Client: "Tern Lighting"}, "R1"},
		{FindQuery{Part: "Harbour lamp"}, "R1"},
		{FindQuery{Resin: "CLR", Approved: true}, "R1"},
		{FindQuery{Since: noon.Add(time.Minute)}, "R2"},
		{FindQuery{Until: noon.Add(time.Minute)}, "R1"},
	} {
		found, err := b.Find(ctx(t), c.q)
		require.NoError(t, err, "%+v", c.q)
		var ids []string
		for _, f := range found {
			ids = append(ids, f.Recipe.ID())
			if f.Recipe.Number == 1 {
				assert.Equal(t, 2, f.Version)
			}
		}
		assert.Equal(t, c.want, strings.Join(ids, " "), "%+v", c.q)
	}
	_, err = b.Find(ctx(t), FindQuery{Words: "***"})
	require.ErrorIs(t, err, ErrInvalid)
}

func TestNearestKnowsApprovals(t *testing.T) {
	b := fullBench(t) // R1: predicted 61.1, 38.8, 21.5; approved at 61, 39, 21
	near, err := b.Nearest(ctx(t), NearestQuery{Lab: lab(61, 39, 21)})
	require.NoError(t, err)
	require.Len(t, near, 1, "a recipe is named once")
	assert.True(t, near[0].Approved)
	assert.Zero(t, near[0].DE00)
	near, err = b.Nearest(ctx(t), NearestQuery{Lab: Lab{60, 40, 25, "A", 10}})
	require.NoError(t, err)
	require.Len(t, near, 1)
	near, err = b.Nearest(ctx(t), NearestQuery{Lab: Lab{60, 40, 25, "FL2", 2}})
	require.NoError(t, err)
	assert.Empty(t, near, "no recipe was predicted under this light")
	_, err = b.Nearest(ctx(t), NearestQuery{Lab: lab(60, 40, 25), Resin: "OPQ"})
	require.ErrorIs(t, err, ErrNotFound)
	loose, err := b.AddRecipes(ctx(t), Recipe{Resin: "CLR", Loadings: map[string]float64{"WH": 1}, Predicted: []Lab{lab(61, 39, 21)}})
	require.NoError(t, err)
	near, err = b.Nearest(ctx(t), NearestQuery{Lab: lab(61, 39, 21), Resin: "CLR"})
	require.NoError(t, err)
	require.Len(t, near, 2)
	assert.Equal(t, loose[0].Ref, near[0].Recipe.Ref, "of equals the newer first")
	near, err = b.Nearest(ctx(t), NearestQuery{Lab: lab(61, 39, 21), Approved: true})
	require.NoError(t, err)
	assert.Len(t, near, 1)
}

// A stored document reads back to itself, whatever is in it.
func TestDocumentsAreCanonical(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := Chip{Resin: "CLR", Name: rapid.String().Draw(t, "name"), Backing: rapid.String().Draw(t, "backing"),
			Loadings:    rapid.MapOf(rapid.String(), rapid.Float64Range(0, 100)).Draw(t, "loadings"),
			ThicknessMM: rapid.Float64Range(1e-300, 1e300).Draw(t, "mm"), Note: rapid.String().Draw(t, "note"), Readings: []Reading{}}
		doc, err := document(&k)
		require.NoError(t, err)
		s := stored{doc: doc, at: "2026-03-31T12:00:00.000Z"}
		s.sum = s.digest("chip")
		_, err = canonical(kindChip, &s)
		require.NoError(t, err)
	})
}
