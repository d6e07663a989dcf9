package main

import (
	"context"
	"errors"
	"fmt"
	"regexp"

	"github.com/spf13/cobra"

	"masstone/recipes/archive"
	"masstone/recipes/papers"
)

type openOptions struct {
	what, client, resin string
	paper               paperFlags
}

func newOpenCommand(env *Env) *cobra.Command {
	var o openOptions
	cmd := &cobra.Command{
		Use:   "open WHAT",
		Short: "Show what a scanned code or a name stands for",
		Long: `Shows what the code on a paper or label stands for, as a scanner types it, or a
name: a recipe (R1), batch (B1), pour (P1), target, chip, pigment or resin. Codes
can be scanned wherever a name is typed, too.

--out prints a batch's sheet or a recipe's card again.

  masstone open masstone:batch/B7
  masstone open B7 --out sheet.pdf

JSON keys: of a recipe those of "recipe show", of a target those of "target show",
of a pour those of "pour show"; of a chip, pigment or resin those of one in
"chip list", "pigment list" or "resin list"; of a batch those of "batch", with at
and who.`,
		Args: needs("WHAT"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.what = args[0]
			return runOpen(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.client, "client", "", "client, where several have a target of this name")
	f.StringVar(&o.resin, "resin", "", "resin of a chip")
	o.paper.add(f, "the sheet or card")
	return cmd
}

func runOpen(ctx context.Context, env *Env, o openOptions) error {
	if err := o.paper.check(env); err != nil {
		return err
	}
	ref, err := o.resolve(ctx, env)
	if err != nil {
		return err
	}
	name := ref.Names[len(ref.Names)-1]
	within := ""
	if len(ref.Names) > 1 {
		within = ref.Names[0]
	}
	if o.paper.out != "" && ref.Kind != papers.BatchRef && ref.Kind != papers.RecipeRef {
		return misusef("open: --out prints a batch or a recipe; %s is a %s", name, tidy(ref.Kind))
	}
	switch ref.Kind {
	case papers.RecipeRef:
		if o.paper.out != "" {
			return runRecipeCard(ctx, env, o.paper, name)
		}
		return runRecipeShow(ctx, env, name)
	case papers.TargetRef:
		return runTargetShow(ctx, env, firstText(o.client, within), name)
	case papers.PourRef:
		return runPourShow(ctx, env, name)
	case papers.BatchRef:
		return openBatch(ctx, env, o.paper, name)
	case papers.ChipRef:
		return openChip(ctx, env, firstText(o.resin, within), name)
	case papers.PigmentRef:
		return openPigment(ctx, env, name)
	case papers.ResinRef:
		return openResin(ctx, env, name)
	}
	return misusef("open: %s is the code of a %s, which this version does not know; it knows %s", o.what, tidy(ref.Kind), listed(codeKinds))
}

// resolve finds what a code or name means.
func (o openOptions) resolve(ctx context.Context, env *Env) (papers.Ref, error) {
	if isCode(o.what) {
		ref, err := papers.ParseRef(o.what)
		if err != nil {
			err = misuse{err}
		}
		return ref, err
	}
	for kind, name := range map[string]*regexp.Regexp{papers.RecipeRef: recipeName, papers.BatchRef: batchName, papers.PourRef: pourName} {
		if name.MatchString(o.what) {
			return papers.RefTo(kind, o.what), nil
		}
	}
	var found papers.Ref
	err := withBench(ctx, env, func(b *archive.Bench) error {
		// a chip only where its resin was named: any word may name one
		if o.resin != "" {
			found = papers.RefTo(papers.ChipRef, o.resin, o.what)
			return nil
		}
		_, err := b.Target(ctx, o.client, o.what)
		if !errors.Is(err, archive.ErrNotFound) {
			found = papers.RefTo(papers.TargetRef, o.what)
			return err
		}
		if _, err := b.Pigment(ctx, o.what); !errors.Is(err, archive.ErrNotFound) {
			found = papers.RefTo(papers.PigmentRef, o.what)
			return err
		}
		if _, err := b.Resin(ctx, o.what); !errors.Is(err, archive.ErrNotFound) {
			found = papers.RefTo(papers.ResinRef, o.what)
			return err
		}
		return fmt.Errorf("nothing is called %q; give a code such as masstone:batch/B7, a recipe R1, batch B1 or pour P1, or a target, pigment or resin; a chip needs --resin", o.what)
	})
	return found, err
}

// openBatch prints a stored sheet again.
func openBatch(ctx context.Context, env *Env, paper paperFlags, id string) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		k, err := b.Batch(ctx, id)
		if err != nil {
			return err
		}
		r, err := b.RecipeRef(ctx, k.Recipe)
		if err != nil {
			return err
		}
		sheet, err := sheetOf(k)
		if err != nil {
			return err
		}
		v := batchView{Batch: k.ID(), Recipe: r.ID(), Resin: r.Resin, Target: r.Target, Client: r.Client, Sheet: sheet}
		if len(sheet.Lines) == 0 { // drawn from a stock or added to a pot
			if paper.out != "" {
				return fmt.Errorf("batch %s has no sheet of its own: it was drawn from a stock or added to a pot", k.ID())
			}
			return openAmounts(env, k, v)
		}
		if env.JSON {
			return env.emit(struct {
				batchView
				At  string `json:"at"`
				Who string `json:"who"`
			}{v, day(k.At), k.Who})
		}
		h := paper.heading(env)
		h.Made = k.At // the day it was made up
		p, err := sheetPaper(ctx, b, v, r, "", h)
		if err != nil {
			return err
		}
		p.Lots = map[string]string{} // those meant then, not those in use now
		for _, l := range k.Lots {
			if l.Item == archive.OfPigment {
				p.Lots[l.Code] = l.Name
			} else {
				p.Lots["A"], p.Lots["B"] = l.Name, l.Name
			}
		}
		return paper.show(env, "batch "+k.ID(), p)
	})
}

// openAmounts shows a batch that has no sheet.
func openAmounts(env *Env, k archive.Batch, v batchView) error {
	if env.JSON {
		return env.emit(struct {
			Batch  string         `json:"batch"`
			Recipe string         `json:"recipe"`
			Resin  string         `json:"resin"`
			Lines  []archive.Line `json:"lines"`
			Grams  fig            `json:"total_grams"`
			Stock  string         `json:"stock,omitempty"`
			At     string         `json:"at"`
			Who    string         `json:"who"`
		}{v.Batch, v.Recipe, v.Resin, k.Lines, fig(k.TotalGrams), k.Stock, day(k.At), k.Who})
	}
	env.print("batch %s: %s g of recipe %s, of %s", v.Batch, short(k.TotalGrams), v.Recipe, day(k.At)[:10])
	t := newTable("item", ">grams")
	for _, l := range k.Lines {
		t.add(l.Item, short(l.Grams))
	}
	t.print(env.Stdout)
	return nil
}

func openChip(ctx context.Context, env *Env, resin, name string) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		r, err := resinAt(ctx, b, resin)
		if err != nil {
			return err
		}
		c, err := b.Chip(ctx, r.Code, name)
		if errors.Is(err, archive.ErrNotFound) {
			return fmt.Errorf("%w; if it was cast and not read yet: masstone reading add chip, or masstone chip import", err)
		}
		if err != nil {
			return err
		}
		if env.JSON {
			return env.emit(viewChips([]archive.Chip{c}, nil)[0])
		}
		if err := printChips(env, []archive.Chip{c}, nil); err != nil {
			return err
		}
		if c.Withdrawn != "" {
			env.print("withdrawn: %s", tidy(c.Withdrawn))
		}
		return nil
	})
}

func openPigment(ctx context.Context, env *Env, code string) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		p, err := b.Pigment(ctx, code)
		if err != nil {
			return err
		}
		if env.JSON {
			return env.emit(viewPigment(p))
		}
		printPigments(env, []archive.Pigment{p})
		return nil
	})
}

func openResin(ctx context.Context, env *Env, code string) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		r, err := b.Resin(ctx, code)
		if err != nil {
			return err
		}
		if env.JSON {
			return env.emit(viewResin(r))
		}
		printResins(env, []archive.Resin{r})
		return nil
	})
}
