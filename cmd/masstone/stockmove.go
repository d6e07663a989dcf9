package main

import (
	"context"
	"strings"

	"github.com/spf13/cobra"

	"masstone/calibrate"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func newStockDrawCommand(env *Env) *cobra.Command {
	var r workbench.DrawStockRequest
	cmd := &cobra.Command{
		Use:   "draw NAME --grams G",
		Short: "Draw a shot from a tinted stock",
		Long: `Records a shot drawn from a tinted stock, and says how much of the other side
goes with it. --pour records the pour as well, so that the part can be read and
judged.

  masstone stock draw "grey pail" --grams 120 --pour

` + jsonKeys(workbench.DrawnStock{}),
		Args: needs("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Stock = args[0]
			return runStockDraw(cmd.Context(), env, r)
		},
	}
	f := cmd.Flags()
	numberVar(f, &r.Grams, "grams", inGrams, 0, "tinted side drawn, such as 120g")
	scaleVar(f, &r.ScaleGrams, &r.ScaleChoice, ", else 0.01 g")
	f.BoolVar(&r.Pour, "pour", false, "record the pour too")
	dayVar(f, &r.On, "date", "day it was poured, 2026-03-31 (else today)")
	f.StringVar(&r.Note, "note", "", "remark kept with it")
	againVar(f, &r.Again)
	return cmd
}

func runStockDraw(ctx context.Context, env *Env, r workbench.DrawStockRequest) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := onceMore(ctx, env, &r.Again, func() (workbench.DrawnStock, error) { return workbench.DrawStock(ctx, b, r) })
		if err != nil {
			return err
		}
		env.remark(v.Remarks)
		if env.JSON {
			return env.emit(v)
		}
		if v.Jar != nil {
			env.print("%s g taken from jar %s", figure.Short(float64(r.Grams)), tidy(r.Stock))
			printLevel(env, v.Stock)
			return nil
		}
		env.print("%s g of %s, with %s g of side %s: %s g mixed", figure.Short(float64(r.Grams)), tidy(r.Stock), figure.Grams(v.Other, v.ScaleGrams), v.Side, figure.Grams(v.Mixed, v.ScaleGrams))
		printCaution(env)
		if v.Pour != "" {
			env.print("pour %s; when it has cured: masstone pour read %s --lab L,a,b --illuminant D65", v.Pour, v.Pour)
		}
		printLevel(env, v.Stock)
		return nil
	})
}

func newStockCorrectCommand(env *Env) *cobra.Command {
	var r workbench.CorrectStockRequest
	cmd := &cobra.Command{
		Use:   "correct NAME ITEM=GRAMS ...",
		Short: "Record what was added to a tinted stock",
		Long: `Records additions to a tinted stock: pastes by code, or more of the side by A or
B. "masstone correct POUR --stock NAME" says what to add, and which recipe the
stock holds then: shots drawn from now on are of it.

  masstone stock correct "grey pail" RD=0.34 WH=12.1 B=150 --recipe R7

` + jsonKeys(workbench.Stock{}),
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) < 2 {
				return misusef("%s: what was added? use %s", cmd.CommandPath(), cmd.UseLine())
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Stock = args[0]
			var err error
			if r.Added, err = addedAmounts(args[1:]); err != nil {
				return err
			}
			return runStockCorrect(cmd.Context(), env, r)
		},
	}
	cmd.Flags().StringVar(&r.Recipe, "recipe", "", "`RECIPE` that the stock holds with it, such as R7")
	cmd.Flags().StringVar(&r.Note, "note", "", "remark kept with it")
	againVar(cmd.Flags(), &r.Again)
	return cmd
}

// addedAmounts reads ITEM=GRAMS words in their order.
func addedAmounts(words []string) ([]batch.Amount, error) {
	texts := strings.Split(strings.Join(words, ","), ",")
	added, err := itemsWeighed(texts)
	if err != nil {
		return nil, misusef("stock correct: %w", err)
	}
	out := make([]batch.Amount, len(texts))
	for i, text := range texts {
		item := strings.TrimSpace(text[:strings.LastIndex(text, "=")])
		out[i] = batch.Amount{Item: item, Grams: added[item]}
	}
	return out, nil
}

func runStockCorrect(ctx context.Context, env *Env, r workbench.CorrectStockRequest) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := onceMore(ctx, env, &r.Again, func() (workbench.CorrectedStock, error) { return workbench.CorrectStock(ctx, b, r) })
		if err != nil {
			return err
		}
		env.remark(v.Remarks)
		if env.JSON {
			return env.emit(v.Stock)
		}
		env.print("added to %s: %s", tidy(r.Stock), amountsText(v.Moves[len(v.Moves)-1].Lines))
		printCaution(env)
		printLevel(env, v.Stock)
		return nil
	})
}

func newStockCountCommand(env *Env) *cobra.Command {
	var r workbench.CountStockRequest
	var grams calibrate.Grams
	cmd := &cobra.Command{
		Use:   "count NAME --grams G",
		Short: "Record what a tinted stock weighs",
		Long: `Records what is really left of a tinted stock, as weighed; what it holds stays as
mixed.

` + jsonKeys(workbench.Stock{}),
		Args: needs("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Stock = args[0]
			if cmd.Flags().Changed("grams") {
				r.Grams = &grams
			}
			return runStockCount(cmd.Context(), env, r)
		},
	}
	left := inGrams
	left.Reach = true
	numberVar(cmd.Flags(), &grams, "grams", left, 0, "what is left, without the pail")
	cmd.Flags().StringVar(&r.Note, "note", "", "remark kept with it")
	return cmd
}

func runStockCount(ctx context.Context, env *Env, r workbench.CountStockRequest) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.Stock, error) { return workbench.CountStock(ctx, b, r) }, func(v workbench.Stock) {
		env.print("counted: %s g", figure.Short(float64(*r.Grams)))
		printLevel(env, v)
	})
}
