package main

import (
	"context"

	"github.com/spf13/cobra"

	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func newResinCommand(env *Env) *cobra.Command {
	return newFamily("resin", "Two-part resins: add, list, drift", newResinAddCommand(env), newResinListCommand(env), newResinDriftCommand(env))
}

func newResinAddCommand(env *Env) *cobra.Command {
	var r workbench.AddResinRequest
	cmd := &cobra.Command{
		Use:   "add CODE --mix A:B --pigment-side A|B",
		Short: "Add a resin, or replace its card",
		Long: `Adds a two-part resin as its data sheet states it. The same card twice changes
nothing; another card of the same code needs --replace, and the old one is kept.

  masstone resin add CLR --name "clear casting urethane" --mix 100:90 \
      --density-a 1.05 --density-b 1.00 --pot-life 7m --pigment-side B --max-phr 4

` + jsonKeys(workbench.ResinOutcome{}),
		Args: needs("CODE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Code = args[0]
			return runResinAdd(cmd.Context(), env, r)
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Name, "name", "", "plain name, such as \"clear casting urethane\"")
	f.Var(ratioFlag(&r.Mix), "mix", "mix ratio A:B by mass, such as 100:90")
	f.Var(sideFlag(&r.PigmentSide), "pigment-side", "side that takes the pigments, A or B")
	numberVar(f, &r.AGramsPerML, "density-a", perML, 0, "density of side A in g/ml")
	numberVar(f, &r.BGramsPerML, "density-b", perML, 0, "density of side B in g/ml")
	numberVar(f, &r.CuredGramsPerML, "density-cured", perML, 0, "density when cured in g/ml")
	f.Var(minutes{&r.PotLife}, "pot-life", "pot life, such as 7m; a bare number is minutes")
	numberVar(f, &r.MaxPHR, "max-phr", inPHR, 0, "most paste in all, g per 100 g of mixed resin")
	f.StringVar(&r.Note, "note", "", "remark kept with the card")
	f.BoolVar(&r.Replace, "replace", false, "replace the card of this code")
	return cmd
}

func runResinAdd(ctx context.Context, env *Env, r workbench.AddResinRequest) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := workbench.AddResin(ctx, b, r)
		if err != nil {
			return err
		}
		env.remark(v.Remarks)
		if env.JSON {
			return env.emit(v)
		}
		life := ""
		if v.PotLife > 0 {
			life = ", pot life " + figure.Duration(v.PotLife)
		}
		env.print("resin %s %s: %s by mass%s, pigments go into side %s", tidy(v.Code), v.Outcome, v.Mix, life, v.PigmentSide)
		return nil
	})
}

func newResinListCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "list",
		Short: "List the resins",
		Long:  "Lists the resins.\n\n" + jsonKeys(workbench.ResinList{}),
		Args:  needs(),
		RunE:  func(cmd *cobra.Command, args []string) error { return runResinList(cmd.Context(), env) },
	}
}

func runResinList(ctx context.Context, env *Env) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.ResinList, error) { return workbench.Resins(ctx, b) }, func(v workbench.ResinList) {
		if len(v.Resins) == 0 {
			env.say("no resin yet; masstone resin add CODE --mix A:B --pigment-side B")
			return
		}
		printResins(env, v.Resins)
	})
}

func printResins(env *Env, resins []workbench.Resin) {
	t := newTable("resin", "name", "mix A:B", ">density A", ">density B", ">pot life", "pigments in", ">max phr")
	for _, r := range resins {
		life := "-"
		if r.PotLife > 0 {
			life = figure.Duration(r.PotLife)
		}
		t.add(r.Code, r.Name, r.Mix, shown(r.DensityA), shown(r.DensityB), life, r.PigmentSide, shown(r.MaxPHR))
	}
	t.print(env.Stdout)
}

// shown writes a number that may not be known.
func shown(n *figure.Number) string {
	if n == nil {
		return "-"
	}
	return figure.Short(float64(*n))
}
