package main

import (
	"context"

	"github.com/spf13/cobra"

	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func newStockCommand(env *Env) *cobra.Command {
	return newFamily("stock", "Pails of the tinted side and jars of pre-dilutions: tint, dilute, draw, correct, count, list, show", newStockTintCommand(env), newStockDiluteCommand(env), newStockDrawCommand(env),
		newStockCorrectCommand(env), newStockCountCommand(env), newStockListCommand(env), newStockShowCommand(env))
}

// printLevel says what a stock holds.
func printLevel(env *Env, v workbench.Stock) {
	if v.Grams == 0 {
		env.print("stock %s is empty", tidy(v.Stock))
		return
	}
	if v.Jar != nil {
		env.print("jar %s holds %s g: %s", tidy(v.Stock), figure.Short(float64(v.Grams)), jarText(*v.Jar))
		return
	}
	env.print("stock %s holds %s g: %s phr once mixed", tidy(v.Stock), figure.Short(float64(v.Grams)), figure.Loadings(v.Loadings))
}

func newStockTintCommand(env *Env) *cobra.Command {
	var r workbench.TintStockRequest
	cmd := &cobra.Command{
		Use:   "tint NAME --recipe RECIPE --grams G",
		Short: "Tint a pail of the pigmented side to a recipe",
		Long: `Gives what to weigh so that a pail of the side that takes the pigments holds a
recipe, and records it as done. Shots are drawn from the pail by mass and mixed
with the other side. Tinting a known stock again adds to it. A recipe of more paste
than the cards of the pigments and of the resin allow is refused. A paste too
small to weigh is taken from a jar of "masstone stock dilute".

  masstone stock tint "grey pail" --recipe R1 --grams 5kg --scale 0.1

--weighed says what the scale really showed for a line.

` + jsonKeys(workbench.TintedStock{}),
		Args: needs("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Stock = args[0]
			return runStockTint(cmd.Context(), env, r)
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Recipe, "recipe", "", "`RECIPE` to tint to, such as R1 (else the stock's)")
	numberVar(f, &r.Grams, "grams", inGrams, 0, "tinted side to make, pastes included, such as 5kg")
	scaleVar(f, &r.ScaleGrams, &r.ScaleChoice, ", else 0.1 g")
	f.Var(&weighedFlag{value: &r.Weighed}, "weighed", "what the scale showed for a line, `ITEM=GRAMS` (may be repeated)")
	f.StringVar(&r.Note, "note", "", "remark kept with it")
	againVar(f, &r.Again)
	return cmd
}

func runStockTint(ctx context.Context, env *Env, r workbench.TintStockRequest) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := onceMore(ctx, env, &r.Again, func() (workbench.TintedStock, error) { return workbench.TintStock(ctx, b, r) })
		if err != nil {
			return err
		}
		env.remark(v.Remarks)
		if env.JSON {
			return env.emit(v)
		}
		env.print("%s g of side %s of %s, tinted to recipe %s:", figure.Short(float64(r.Grams)), v.Side, v.Resin, v.Recipe)
		t := newTable("", "item", ">grams")
		for _, l := range v.Tinted {
			t.add("[ ]", l.Item, figure.Grams(l.Grams, v.ScaleGrams))
		}
		t.print(env.Stdout)
		printJars(env, v.Jars, v.ScaleGrams)
		printCaution(env)
		printLevel(env, v.Stock)
		return nil
	})
}

func newStockListCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "list",
		Short: "List the tinted stocks and what is left of each",
		Long:  "Lists the tinted stocks.\n\n" + jsonKeys(workbench.StockList{}),
		Args:  needs(),
		RunE:  func(cmd *cobra.Command, args []string) error { return runStockList(cmd.Context(), env) },
	}
}

func runStockList(ctx context.Context, env *Env) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.StockList, error) { return workbench.Stocks(ctx, b) }, func(v workbench.StockList) {
		if len(v.Stocks) == 0 {
			env.say("no tinted stock yet; masstone stock tint NAME --recipe R1 --grams 5kg")
			return
		}
		t := newTable("stock", "resin", "recipe", ">grams left", "loadings once mixed (phr)")
		for _, s := range v.Stocks {
			loadings := "-"
			if s.Jar != nil {
				loadings = jarText(*s.Jar)
			} else if s.Grams > 0 {
				loadings = figure.Loadings(s.Loadings)
			}
			t.add(s.Stock, s.Resin, s.Recipe, figure.Short(float64(s.Grams)), loadings)
		}
		t.print(env.Stdout)
	})
}

func newStockShowCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "show NAME",
		Short: "Show a stock: what it holds and every movement",
		Long:  "Shows a tinted stock.\n\n" + jsonKeys(workbench.Stock{}),
		Args:  needs("NAME"),
		RunE:  func(cmd *cobra.Command, args []string) error { return runStockShow(cmd.Context(), env, args[0]) },
	}
}

func runStockShow(ctx context.Context, env *Env, name string) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.Stock, error) { return workbench.ShowStock(ctx, b, name) }, func(v workbench.Stock) {
		t := newTable("at", "who", "what", "grams", "pour", "note")
		for _, m := range v.Moves {
			var grams []string
			if m.Grams != nil {
				grams = append(grams, figure.Short(float64(*m.Grams)))
			}
			for _, l := range m.Lines {
				grams = append(grams, l.Item+" "+figure.Short(float64(l.Grams)))
			}
			t.add(m.At[:10], m.Who, m.Kind, figure.List(grams), m.Pour, m.Note)
		}
		t.print(env.Stdout)
		printLevel(env, v)
	})
}
