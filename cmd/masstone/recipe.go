package main

import (
	"cmp"
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"masstone/calibrate"
	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func newRecipeCommand(env *Env) *cobra.Command {
	return newFamily("recipe", "Recipes: add, list, show, card", newRecipeAddCommand(env), newRecipeListCommand(env), newRecipeShowCommand(env), newRecipeCardCommand(env))
}

func printRecipeTable(env *Env, all []workbench.Recipe) {
	t := newTable("", "target", "resin", "loadings (phr)", ">expected", ">chance", "name", "on")
	for _, r := range all {
		expected, chance := "-", "-"
		if r.Expected != nil {
			expected, chance = fmt.Sprintf("%.2f", *r.Expected), percentText(*r.Chance)
		}
		t.add(r.ID, r.Target, r.Resin, figure.Loadings(r.Loadings), expected, chance, r.Name, r.At[:10])
		if len(r.Predicted) > 0 {
			t.paint(env.swatch(r.Predicted[0].Color()))
		}
	}
	t.print(env.Stdout)
}

func percentText(share figure.Number) string { return fmt.Sprintf("%.0f %%", 100*share) }

func newRecipeAddCommand(env *Env) *cobra.Command {
	var r workbench.AddRecipeRequest
	cmd := &cobra.Command{
		Use:   "add --resin CODE --phr CODE=PHR,...",
		Short: "Add a recipe of your own",
		Long: `Adds a recipe that no match found: an old one from a notebook, or one of your
own. With a calibration its colour is predicted for the lots in use, and
with --target judged against it. The same again for a target keeps its name.

` + jsonKeys(workbench.AddedRecipe{}),
		Args: needs(),
		RunE: func(cmd *cobra.Command, args []string) error { return runRecipeAdd(cmd.Context(), env, r) },
	}
	f := cmd.Flags()
	f.StringVar(&r.Resin, "resin", "", "`CODE` of the resin")
	f.Var(loadings[calibrate.PHR]{inPHR, &r.Loadings}, "phr", "loadings, such as WH=1,RD=0.2")
	f.StringVar(&r.Target, "target", "", "target it is for")
	f.StringVar(&r.Client, "client", "", "client, where several have a target of this name")
	f.StringVar(&r.Name, "name", "", "what it is called")
	f.StringVar(&r.Note, "note", "", "remark kept with it")
	numberVar(f, &r.ThicknessMM, "thickness", inMM, 0, "thickness of the part (else the target's, else 3 mm)")
	f.StringVar(&r.Over, "over", "", "backing behind the part (else the target's, else white)")
	return cmd
}

func runRecipeAdd(ctx context.Context, env *Env, r workbench.AddRecipeRequest) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := workbench.AddRecipe(ctx, b, r)
		if err != nil {
			return err
		}
		env.remark(v.Remarks)
		if env.JSON {
			return env.emit(v)
		}
		printRecipeTable(env, []workbench.Recipe{v.Recipe})
		return nil
	})
}

func newRecipeListCommand(env *Env) *cobra.Command {
	var r workbench.RecipesRequest
	cmd := &cobra.Command{
		Use:   "list [WORDS]",
		Short: "List recipes, the newest first",
		Long: `Lists recipes, the newest first: all, or those in which every word is the
beginning of a word of client, part, target, resin, pigments or note.

` + jsonKeys(workbench.RecipeList{}),
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Words = strings.Join(args, " ")
			return runRecipeList(cmd.Context(), env, r)
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Client, "client", "", "of this client only")
	f.StringVar(&r.Resin, "resin", "", "in this resin only")
	wholeVar(f, &r.Limit, "limit", 100, "most recipes to list")
	return cmd
}

func runRecipeList(ctx context.Context, env *Env, r workbench.RecipesRequest) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.RecipeList, error) { return workbench.Recipes(ctx, b, r) }, func(v workbench.RecipeList) {
		if len(v.Recipes) == 0 {
			env.say("no recipe found; masstone match TARGET --resin CODE finds some")
			return
		}
		printRecipeTable(env, v.Recipes)
	})
}

func newRecipeShowCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "show RECIPE",
		Short: "Show a recipe, such as R1",
		Long: `Shows a recipe as it was found, and the batches weighed from it.

` + jsonKeys(workbench.RecipeHistory{}),
		Args: needs("RECIPE"),
		RunE: func(cmd *cobra.Command, args []string) error { return runRecipeShow(cmd.Context(), env, args[0]) },
	}
}

func runRecipeShow(ctx context.Context, env *Env, id string) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		r, err := workbench.ShowRecipe(ctx, b, id)
		if err != nil {
			return err
		}
		if env.JSON {
			return env.emit(r)
		}
		head := "recipe " + r.ID
		if r.Name != "" {
			head += " (" + tidy(r.Name) + ")"
		}
		if r.Target != "" {
			head += fmt.Sprintf(" for %s%s", named(r.Target), forClient(r.Client))
		}
		env.print("%s in %s, %s mm over %s, of %s", head, r.Resin, figure.Short(float64(*cmp.Or(r.ThicknessMM, new(figure.Number)))), tidy(r.Over), r.At[:10])
		t := newTable("pigment", ">phr")
		for _, code := range figure.ByLoading(r.Loadings) {
			t.add(code, fmt.Sprintf("%.4g", r.Loadings[code]))
		}
		t.print(env.Stdout)
		for _, c := range r.Predicted {
			printColor(env, "predicted", c)
		}
		if r.Expected != nil {
			env.print("dE00 %.2f predicted, %.2f expected, %.2f in the worst of twenty; chance within tolerance %s", *r.DE00, *r.Expected, *r.Upper95, percentText(*r.Chance))
		}
		for _, k := range r.Batches {
			env.print("batch %s of %s g on %s", k.Batch, figure.Grams(k.Grams, k.ScaleGrams), k.At[:10])
		}
		return nil
	})
}

// printColor prints a colour of a result.
func printColor(env *Env, what string, c workbench.Color) {
	env.print("%s %s under %s  %s%s", what, c.Lab, c.Under, screen(c.Color()), spaced(env.swatch(c.Color())))
}

func newRecipeCardCommand(env *Env) *cobra.Command {
	var paper paperFlags
	cmd := &cobra.Command{
		Use:   "card RECIPE",
		Short: "Print the card of a recipe",
		Long: `Prints the card of a recipe: its loadings, the colour predicted under each light
with the 95 % bars, what to weigh for the amount that was weighed last on the scale
it was weighed on, how far it is expected to land from its target by what is known
now, its opacity, the lots in use, its approval and the batches weighed from it.

` + paperHelp + `

JSON keys: made, shop, recipe, name, resin, calibration, target, client, loadings (a
list of pigment, name, phr, grams, lot), usual_grams (that the grams are of),
step_grams (of the scale for that), sides (side, grams), thickness_mm, over, colors (a list of lab and
target (L, a, b, under), half95, expected_dE00, upper95_dE00), differences (beside
colors), formula, tolerance, chance, opacity, hides_mm, cost_per_kg, resin_lots,
approved_by, approved_on, approved_as, head (of the log), batches (batch,
grams, on), notes, total_phr, find.`,
		Args: needs("RECIPE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runRecipeCard(cmd.Context(), env, paper, args[0])
		},
	}
	paper.add(cmd.Flags(), "the card")
	return cmd
}

func runRecipeCard(ctx context.Context, env *Env, paper paperFlags, id string) error {
	if err := paper.check(env); err != nil {
		return err
	}
	return withBench(ctx, env, func(b *workbench.Bench) error {
		card, err := workbench.RecipeCard(ctx, b, id, paper.maker(env))
		if err != nil {
			return err
		}
		return paper.show(env, "card of "+card.Recipe, card)
	})
}

func spaced(s string) string {
	if s == "" {
		return ""
	}
	return "  " + s
}
