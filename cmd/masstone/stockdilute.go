package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"masstone/calibrate"
	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func newStockDiluteCommand(env *Env) *cobra.Command {
	var r workbench.DiluteRequest
	cmd := &cobra.Command{
		Use:   "dilute PIGMENT --paste-g G --side-g G",
		Short: "Record a pre-dilution that was stirred: a jar to take from",
		Long: `Records a paste let down in the side of the resin that takes the pigments, by
mass as the scale showed it. Sheets of "masstone batch" and "masstone stock tint"
take a paste that is too small to weigh from its jar, of the lot in use, by what
was really stirred; "masstone pour add" takes the dose off the jar, and records
as a jar what a sheet said to stir. "masstone stock count" counts a jar, and with
0 g throws it away.

  masstone stock dilute BK --paste-g 0.31 --side-g 15.02

Keep a jar closed and dry, and stir it before each use: pigment settles. How long
it keeps, the resin's data sheet says; in the isocyanate side damp spoils it.

` + jsonKeys(workbench.Stock{}),
		Args: needs("PIGMENT"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Pigment = args[0]
			return runStockDilute(cmd.Context(), env, r)
		},
	}
	f := cmd.Flags()
	numberVar(f, &r.PasteGrams, "paste-g", inGrams, 0, "paste, as weighed")
	numberVar(f, &r.SideGrams, "side-g", inGrams, 0, "side of the resin it was stirred into, as weighed")
	f.StringVar(&r.Resin, "resin", "", "`RESIN` (else the only one)")
	f.StringVar(&r.Lot, "lot", "", "`LOT` of the paste (else the one in use)")
	f.StringVar(&r.Name, "name", "", "`NAME` of the jar (else D1, D2, ...)")
	dayVar(f, &r.On, "date", "day it was stirred, 2026-03-31 (else today)")
	f.StringVar(&r.Note, "note", "", "remark kept with it")
	againVar(f, &r.Again)
	return cmd
}

func runStockDilute(ctx context.Context, env *Env, r workbench.DiluteRequest) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.Stock, error) {
		return onceMore(ctx, env, &r.Again, func() (workbench.Stock, error) { return workbench.Dilute(ctx, b, r) })
	}, func(v workbench.Stock) {
		printLevel(env, v)
		printCaution(env)
	})
}

// printJars says what was taken from which jar, on a scale of that step.
func printJars(env *Env, jars []workbench.Jar, step calibrate.Grams) {
	for _, k := range jars {
		how := "taken from"
		if k.Stirred {
			how = "stirred, and taken from"
		}
		env.print("pre-dilution %s jar %s (%s): %s g, %s g left", how, tidy(k.Jar), jarText(k), figure.Grams(k.Drawn, step), figure.Grams(k.Left, step))
	}
}

// jarText says what is in a jar.
func jarText(k workbench.Jar) string {
	text := k.Pigment + " in side " + k.Side
	if k.Strength > 0 {
		text += fmt.Sprintf(" 1:%.4g", 1/float64(k.Strength)-1)
	}
	if k.Lot != "" {
		text += ", lot " + tidy(k.Lot)
	}
	if k.MadeOn != "" {
		text += ", stirred " + k.MadeOn
	}
	return text
}
