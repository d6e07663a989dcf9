package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"masstone/recipes/figure"
	"masstone/recipes/papers"
	"masstone/recipes/workbench"
)

func newOpenCommand(env *Env) *cobra.Command {
	var r workbench.LookupRequest
	var paper paperFlags
	cmd := &cobra.Command{
		Use:   "open WHAT",
		Short: "Show what a scanned code or a name stands for",
		Long: `Shows what the code on a paper or label stands for, as a scanner types it, or a
name: a recipe (R1), batch (B1), pour (P1), plan (PL1), run (RUN1), target, chip,
pigment or resin. A chip of a plan is known before it is read. Codes can be scanned wherever a
name is typed, too.

--out prints a batch's sheet, a recipe's card or a plan again.

  masstone open masstone:batch/B7
  masstone open B7 --out sheet.pdf

JSON keys: of a recipe those of "recipe show", of a target those of "target show",
of a pour those of "pour show"; of a plan those of "plan show"; of a run those of
"run show"; of a chip, pigment or resin those of one in
"chip list", "pigment list" or "resin list"; of a batch those of "batch", with at
and who.`,
		Args: needs("WHAT"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.What = args[0]
			return runOpen(cmd.Context(), env, r, paper)
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Client, "client", "", "client, where several have a target of this name")
	f.StringVar(&r.Resin, "resin", "", "resin of a chip")
	paper.add(f, "the sheet, card or plan")
	return cmd
}

func runOpen(ctx context.Context, env *Env, r workbench.LookupRequest, paper paperFlags) error {
	if err := paper.check(env); err != nil {
		return err
	}
	var v workbench.Lookup
	err := withBench(ctx, env, func(b *workbench.Bench) (err error) {
		v, err = workbench.LookUp(ctx, b, r)
		return err
	})
	if err != nil {
		return err
	}
	if paper.out != "" && v.Kind != papers.BatchRef && v.Kind != papers.RecipeRef && v.Kind != papers.PlanRef {
		return misusef("open: --out prints a batch, a recipe or a plan; %s is a %s", v.Name, tidy(v.Kind))
	}
	switch v.Kind {
	case papers.RecipeRef:
		if paper.out != "" {
			return runRecipeCard(ctx, env, paper, v.Name)
		}
		return runRecipeShow(ctx, env, v.Name)
	case papers.TargetRef:
		return runTargetShow(ctx, env, v.Within, v.Name)
	case papers.PourRef:
		return runPourShow(ctx, env, v.Name)
	case papers.BatchRef:
		return openBatch(ctx, env, paper, v.Name)
	case papers.PlanRef:
		return (&planFlags{paper: paper}).run(ctx, env, func(b *workbench.Bench) (workbench.PlanResult, error) { return workbench.ShowPlan(ctx, b, v.Name) })
	case papers.RunRef:
		return runRunShow(ctx, env, v.Name, "", false)
	case papers.ChipRef:
		return openChip(ctx, env, v.Within, v.Name)
	case papers.PigmentRef:
		return openPigment(ctx, env, v.Name)
	case papers.ResinRef:
		return openResin(ctx, env, v.Name)
	}
	return misusef("open: %s is the code of a %s, which this version does not know; it knows %s", r.What, tidy(v.Kind), figure.List(codeKinds))
}

// openBatch prints a stored sheet again, or the lines of a batch without one.
func openBatch(ctx context.Context, env *Env, paper paperFlags, id string) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		sheet, lines, err := workbench.ShowBatch(ctx, b, id, paper.maker(env))
		switch {
		case err != nil:
			return err
		case sheet == nil && paper.out != "":
			return fmt.Errorf("batch %s has no sheet of its own: it was drawn from a stock or added to a pot", lines.Batch)
		case sheet == nil && env.JSON:
			return env.emit(lines)
		case sheet == nil:
			env.print("batch %s: %s g of recipe %s, of %s", lines.Batch, figure.Grams(lines.Grams, lines.ScaleGrams), lines.Recipe, lines.At[:10])
			t := newTable("item", ">grams")
			for _, l := range lines.Lines {
				t.add(l.Item, figure.Grams(l.Grams, lines.ScaleGrams))
			}
			t.print(env.Stdout)
			return nil
		case env.JSON:
			return env.emit(sheet)
		}
		return paper.show(env, "batch "+sheet.Batch.Batch, sheet.Paper)
	})
}

func openChip(ctx context.Context, env *Env, resin, name string) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.Chip, error) { return workbench.ShowChip(ctx, b, resin, name) }, func(v workbench.Chip) {
		t := newChipTable(v.Casting != "")
		t.add(env, v)
		t.print(env.Stdout)
		if len(v.Readings) > 0 {
			printTaken(env, v.Readings[0].Taken)
		}
		if v.Planned != "" {
			env.print("planned in %s and not read yet; masstone reading add chip %s takes its readings", v.Planned, tidy(v.Name))
		}
		if v.Withdrawn != "" {
			env.print("withdrawn: %s", tidy(v.Withdrawn))
		}
	})
}

func openPigment(ctx context.Context, env *Env, code string) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.Pigment, error) { return workbench.ShowPigment(ctx, b, code) }, func(v workbench.Pigment) {
		printPigments(env, []workbench.Pigment{v})
	})
}

func openResin(ctx context.Context, env *Env, code string) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.Resin, error) { return workbench.ShowResin(ctx, b, code) }, func(v workbench.Resin) {
		printResins(env, []workbench.Resin{v})
	})
}
