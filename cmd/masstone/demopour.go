package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"path/filepath"

	"masstone/cmd/masstone/demo"
	"masstone/recipes/outfile"
	"masstone/recipes/workbench"
)

// The lot of kelp green that the demonstration pours with is stronger than the
// one calibrated, which the shop does not know.
const (
	demoLot      = "K-2207"
	demoStronger = 0.18
	demoSeed     = 2207
)

// afterwards is the second half of the job: from the first pour to the reorder.
func (d *demonstration) afterwards(ctx context.Context) error {
	shop, err := demo.NewBench(demoSeed)
	if err != nil {
		return err
	}
	if err := d.all(ctx, []step{
		{"The pot of kelp green was opened yesterday: a new lot. Named, it stands in batches and pours by itself.",
			[]string{"lot", "add", "FG", demoLot, "--open"}},
		{"The first batch was cast, as the sheet says.",
			[]string{"pour", "add", "B1", "--as-sheet"}},
	}); err != nil {
		return err
	}
	if err := d.cure(ctx, shop, "P1", "part1.csv"); err != nil {
		return err
	}
	if err := d.all(ctx, []step{
		{fmt.Sprintf("The cured part is read and held against the target. (This reading is simulated: lot %s of kelp green is %.0f %% stronger than the one in the chips, which nobody in the shop knows.)", demoLot, 100*demoStronger),
			[]string{"pour", "read", "P1", "--file", "part1.csv"}},
		{"What can be done? 118 g of the tinted side B are still in the pot; nothing can be taken out of it.",
			[]string{"correct", "P1", "--pot-grams", "118", "--pot-side", "B", "--keep"}},
	}); err != nil {
		return err
	}
	recipe, err := d.recipeNamed(ctx, "next batch after P1")
	if err != nil {
		return err
	}
	if err := d.do(ctx, step{"The next batch, from the new recipe: less of the strong lot.", []string{"batch", recipe, "--grams", "250", "--smallest=false"}}); err != nil {
		return err
	}
	made, err := d.newestBatch(ctx, recipe)
	if err != nil {
		return err
	}
	if err := d.do(ctx, step{"Cast, with a slip of 0.01 g in one line.", []string{"pour", "add", made.Batch, "--weighed", made.slipped()}}); err != nil {
		return err
	}
	if err := d.cure(ctx, shop, "P2", "part2.csv"); err != nil {
		return err
	}
	if err := d.all(ctx, []step{
		{"Read and judged again.",
			[]string{"pour", "read", "P2", "--file", "part2.csv"}},
		{"The client agrees. An approval keeps everything it came from under one checksum, and cannot be changed.",
			[]string{"approve", recipe, "--pour", "P2", "--by", "J. Brandt, Tern Lighting"}},
	}); err != nil {
		return err
	}
	if err := d.castRun(ctx, shop, made.Batch); err != nil {
		return err
	}
	return d.all(ctx, []step{
		{"A year later there is another lot of kelp green.",
			[]string{"lot", "add", "FG", "K-2391", "--open"}},
		{"The same part again. The sheet knows what changed since, and what that does.",
			[]string{"reorder", demoTarget, "--grams", "500"}},
		{"Another client asks for a grey a little lighter. What is there already, and what would it take?",
			[]string{"find", "--lab", "70,-9,-4", "--illuminant", "D65", "--count", "4"}},
		{"All of it, checked: every page, reference and checksum.",
			[]string{"verify"}},
	})
}

func (d *demonstration) all(ctx context.Context, steps []step) error {
	for _, s := range steps {
		if err := d.do(ctx, s); err != nil {
			return err
		}
	}
	return nil
}

// ask runs a command line for its JSON.
func (d *demonstration) ask(ctx context.Context, answer any, args ...string) error {
	var out bytes.Buffer
	if err := d.run(ctx, append([]string{"--json"}, args...), &out, true); err != nil {
		return err
	}
	return json.Unmarshal(out.Bytes(), answer)
}

// cure writes what the instrument reads on the part of a pour.
func (d *demonstration) cure(ctx context.Context, shop *demo.Bench, pour, file string) error {
	var v struct {
		Loadings map[string]float64 `json:"loadings_phr"`
	}
	if err := d.ask(ctx, &v, "pour", "show", pour); err != nil {
		return err
	}
	text := demo.Invented + shop.Part("housing", demo.Stronger(v.Loadings, "FG", demoStronger))
	return outfile.File{Path: filepath.Join(d.env.path(d.folder), file)}.Write(func(w io.Writer) error { _, err := io.WriteString(w, text); return err })
}

func (d *demonstration) recipeNamed(ctx context.Context, name string) (string, error) {
	var v struct {
		Recipes []workbench.Recipe `json:"recipes"`
	}
	if err := d.ask(ctx, &v, "recipe", "list"); err != nil {
		return "", err
	}
	for _, r := range v.Recipes {
		if r.Name == name {
			return r.ID, nil
		}
	}
	return "", fmt.Errorf("the demonstration found no recipe %q; please report it", name)
}

// demoBatch is what the demonstration needs of a batch.
type demoBatch struct {
	Batch string
	item  string
	grams float64
}

// newestBatch is the batch last made of a recipe, and the first pigment on its
// sheet.
func (d *demonstration) newestBatch(ctx context.Context, recipe string) (demoBatch, error) {
	var v workbench.Batch
	err := d.ask(ctx, &v, "batch", recipe, "--grams", "250", "--smallest=false")
	if err != nil {
		return demoBatch{}, err
	}
	line := v.Lines[1]
	return demoBatch{v.Batch, line.Item, line.Grams.Grams()}, nil
}

// slipped is a line weighed a step too high.
func (k demoBatch) slipped() string { return fmt.Sprintf("%s=%.2f", k.item, k.grams+0.01) }
