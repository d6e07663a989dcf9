package archive_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"masstone/recipes/archive"
)

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// exampleBench makes a bench with a resin, two pigments, a target and a recipe.
func exampleBench() (b *archive.Bench, done func()) {
	ctx := context.Background()
	folder := must(os.MkdirTemp("", "bench"))
	clock := func() time.Time { return time.Date(2026, 3, 31, 12, 0, 0, 0, time.UTC) }
	b = must(archive.Create(ctx, filepath.Join(folder, "shop.db"), archive.Options{Now: clock, Who: "ada", Program: "masstone 0.1"}))
	must(b.PutResin(ctx, archive.Resin{Code: "CLR", MixA: 100, MixB: 90, PigmentSide: "B", MaxPHR: 4}, archive.Refuse))
	must(b.ImportPigments(ctx, []archive.Pigment{{Code: "WH", CIName: "PW6"}, {Code: "RD", CIName: "PR254"}}))
	housing := archive.Lab{L: 61.2, A: 38.9, B: 21.4, Illuminant: "D65", Observer: 10}
	must(b.PutTarget(ctx, archive.Target{Client: "Tern Lighting", Name: "Harbour lamp / housing", ThicknessMM: 3, Tolerance: 1,
		Readings: []archive.Reading{{Lab: &housing}}}, archive.Refuse))
	must(b.AddRecipes(ctx, archive.Recipe{Resin: "CLR", Target: "Harbour lamp / housing", Loadings: map[string]float64{"WH": 1.02, "RD": 0.21},
		Predicted: []archive.Lab{{L: 61.1, A: 38.8, B: 21.5, Illuminant: "D65", Observer: 10}}}))
	return b, func() {
		b.Close()
		os.RemoveAll(folder)
	}
}

func ExampleBench_ImportChips() {
	b, done := exampleBench()
	defer done()
	ctx := context.Background()
	read := archive.Lab{L: 94.1, A: -0.6, B: 1.2, Illuminant: "D65", Observer: 10}
	chips := []archive.Chip{{Name: "WH-01", Loadings: map[string]float64{"WH": 2}, Backing: "white", ThicknessMM: 3,
		Readings: []archive.Reading{{Lab: &read, Geometry: "d/8", Specular: "included"}}}}
	fmt.Println(b.ImportChips(ctx, "CLR", chips, archive.Refuse))
	fmt.Println(b.ImportChips(ctx, "CLR", chips, archive.Refuse))
	chips[0].ThicknessMM = 3.2
	_, err := b.ImportChips(ctx, "CLR", chips, archive.Refuse)
	fmt.Println(err)
	chips[0].Loadings = map[string]float64{"WG": 2}
	_, err = b.ImportChips(ctx, "CLR", chips, archive.Replace)
	fmt.Println(err)
	// Output:
	// 1 added, 0 changed, 0 unchanged <nil>
	// 0 added, 0 changed, 1 unchanged <nil>
	// chip "WH-01" of "CLR": differs from what the bench holds (thickness_mm)
	// chip "WH-01": unknown pigment "WG"; the bench has RD, WH
}

func ExampleBench_Approve() {
	b, done := exampleBench()
	defer done()
	ctx := context.Background()
	r := must(b.Recipe(ctx, "R1"))
	sheet := must(b.AddBatch(ctx, archive.Batch{Recipe: r.Ref, TotalGrams: 250,
		Lines: []archive.Line{{Item: "B", Grams: 117.3}, {Item: "WH", Grams: 2.52}, {Item: "RD", Grams: 0.52}, {Item: "A", Grams: 129.66}}}))
	pour := must(b.AddPour(ctx, archive.Pour{Batch: sheet.Ref})) // as the sheet says
	approved := must(b.Approve(ctx, archive.Approval{Recipe: r.Ref, Pours: []string{pour.Ref}}))
	fmt.Println(r.ID(), sheet.ID(), pour.ID(), approved.Name())
	from := must(b.Provenance(ctx, approved))
	fmt.Println(from.Pours[0].Lines[2], from.Recipe.Loadings)
	// Output:
	// R1 B1 P1 Harbour lamp / housing v1
	// {RD 0.52} map[RD:0.21 WH:1.02]
}

func ExampleBench_Nearest() {
	b, done := exampleBench()
	defer done()
	near := must(b.Nearest(context.Background(), archive.NearestQuery{Lab: archive.Lab{L: 62, A: 38, B: 21, Illuminant: "D65", Observer: 10}}))
	fmt.Printf("%s %.2f\n", near[0].Recipe.ID(), near[0].DE00)
	// Output: R1 0.84
}

func ExampleBench_Find() {
	b, done := exampleBench()
	defer done()
	for _, f := range must(b.Find(context.Background(), archive.FindQuery{Words: "harb lamp", Client: "Tern Lighting"})) {
		fmt.Println(f.Recipe.ID(), f.Recipe.Target)
	}
	// Output: R1 Harbour lamp / housing
}

func ExampleBench_MoveStock() {
	b, done := exampleBench()
	defer done()
	ctx := context.Background()
	must(b.PutStock(ctx, archive.Stock{Name: "lamp pail", Resin: "CLR"}, archive.Refuse))
	must(b.MoveStock(ctx, archive.StockMove{Stock: "lamp pail", Kind: archive.Tint,
		Lines: []archive.Line{{Item: "B", Grams: 5000}, {Item: "WH", Grams: 107.5}, {Item: "RD", Grams: 22.15}}}))
	level := must(b.MoveStock(ctx, archive.StockMove{Stock: "lamp pail", Kind: archive.Draw, Grams: 120.3}))
	fmt.Printf("%.2f g, of it %.2f g RD\n", level.Grams, level.Contents["RD"])
	_, err := b.MoveStock(ctx, archive.StockMove{Stock: "lamp pail", Kind: archive.Draw, Grams: 6000})
	fmt.Println(err)
	// Output:
	// 5009.35 g, of it 21.63 g RD
	// stock "lamp pail": impossible value: it holds 5009.350 g, not 6000.000 g; weigh the pail and record a count
}

// A shot drawn for a pour is three records, there together or not at all.
func ExampleBench_Together() {
	b, done := exampleBench()
	defer done()
	ctx := context.Background()
	must(b.PutStock(ctx, archive.Stock{Name: "lamp pail", Resin: "CLR"}, archive.Refuse))
	must(b.MoveStock(ctx, archive.StockMove{Stock: "lamp pail", Kind: archive.Tint, Lines: []archive.Line{{Item: "B", Grams: 500}, {Item: "WH", Grams: 10.7}}}))
	shot := func(grams float64) error {
		return b.Together(ctx, func(b *archive.Bench) error {
			k, err := b.AddBatch(ctx, archive.Batch{Recipe: must(b.Recipe(ctx, "R1")).Ref, Stock: "lamp pail", TotalGrams: 2 * grams, Lines: []archive.Line{{Item: "B", Grams: grams}}})
			if err != nil {
				return err
			}
			p, err := b.AddPour(ctx, archive.Pour{Batch: k.Ref})
			if err != nil {
				return err
			}
			_, err = b.MoveStock(ctx, archive.StockMove{Stock: "lamp pail", Kind: archive.Draw, Grams: grams, Pour: p.Ref})
			return err
		})
	}
	fmt.Println(shot(120))
	fmt.Println(shot(600))
	fmt.Println(len(must(b.Batches(ctx, ""))), "batch")
	// Output:
	// <nil>
	// stock "lamp pail": impossible value: it holds 390.700 g, not 600.000 g; weigh the pail and record a count
	// 1 batch
}

func ExampleBench_Import() {
	from, done := exampleBench()
	defer done()
	ctx := context.Background()
	folder := must(os.MkdirTemp("", "bench"))
	defer os.RemoveAll(folder)
	to := must(archive.Create(ctx, filepath.Join(folder, "other.db"), archive.Options{Who: "bo"}))
	defer to.Close()

	var bundle bytes.Buffer
	must(from.ExportClient(ctx, &bundle, "Tern Lighting"))
	text := bundle.Bytes()
	got := must(to.Import(ctx, bytes.NewReader(text), archive.RefuseConflicts))
	fmt.Println(got.Holds, got.Added)
	got = must(to.Import(ctx, bytes.NewReader(text), archive.RefuseConflicts))
	fmt.Println(got.Holds, got.Added)

	// Both go on by themselves, differently.
	must(to.ImportPigments(ctx, []archive.Pigment{{Code: "RD", PricePerKG: 70}}))
	must(from.ImportPigments(ctx, []archive.Pigment{{Code: "RD", PricePerKG: 61.5}}))
	bundle.Reset()
	must(from.Export(ctx, &bundle))
	_, err := to.Import(ctx, &bundle, archive.RefuseConflicts)
	fmt.Println(errors.Is(err, archive.ErrConflict))
	fmt.Println(err)
	// Output:
	// client Tern Lighting map[client:1 pigment:2 recipe:1 resin:1 target:1]
	// client Tern Lighting map[]
	// true
	// bundle: differs from what the bench holds: pigment "RD" (price_per_kg); say whether to keep yours or take theirs; nothing was imported
}

func ExampleBench_Verify() {
	b, done := exampleBench()
	defer done()
	checked := must(b.Verify(context.Background()))
	fmt.Println(checked.Records, "records,", len(checked.Problems), "problems")
	// Output: 8 records, 0 problems
}

func ExampleHistory() {
	b, done := exampleBench()
	defer done()
	ctx := context.Background()
	must(b.ImportPigments(ctx, []archive.Pigment{{Code: "RD", PricePerKG: 61.5}}))
	for _, p := range must(archive.History[archive.Pigment](ctx, b, "RD")) {
		fmt.Println(p.At.Format(time.DateOnly), p.Who, p.CIName, p.PricePerKG)
	}
	// Output:
	// 2026-03-31 ada PR254 0
	// 2026-03-31 ada PR254 61.5
}
