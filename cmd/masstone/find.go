package main

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"masstone/color"
	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func newFindCommand(env *Env) *cobra.Command {
	var r workbench.FindRequest
	var reading readingFlags
	cmd := &cobra.Command{
		Use:   "find [WORDS]",
		Short: "Find archived recipes by words, by date and by colour",
		Long: `Finds archived recipes, in any resin: those in which every word is the beginning of
a word of client, part, target, resin, pigments or note.

With --lab or --target those are listed whose colour is nearest to that colour, by
CIEDE2000: the colour a recipe was approved at, else the one predicted. For each it
says where it is expected to land on that colour if cast today, by what is known now
of its resin and lots, and with which chance; the surest comes first. What it would
take to adjust that one is then solved among its own pigments.

  masstone find tern harbour --since 2025-01-01
  masstone find --lab 64,-9,-4 --illuminant D65 --count 5
  masstone find --target "Pier bench / slat" --approved

` + jsonKeys(workbench.Found{}),
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Words = strings.Join(args, " ")
			r.Condition = color.Condition{Illuminant: reading.illuminant, Observer: reading.observer}
			r.Measurement = color.Measurement{Geometry: reading.geometry, Specular: reading.specular}
			return runFind(cmd.Context(), env, r)
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Client, "client", "", "of this client only")
	f.StringVar(&r.Part, "part", "", "of this part only")
	f.StringVar(&r.Resin, "resin", "", "in this resin only")
	f.StringVar(&r.Since, "since", "", "stored on this `DAY` or later, 2026-03-31")
	f.StringVar(&r.Until, "until", "", "stored on this `DAY` or before")
	f.BoolVar(&r.Approved, "approved", false, "approved recipes only")
	f.StringVar(&r.Lab, "lab", "", "sort by distance from this colour, `L,a,b`, with --illuminant")
	f.StringVar(&r.Target, "target", "", "sort by distance from this target")
	f.StringVar(&r.TargetClient, "target-client", "", "client of --target, where several have a target of this name")
	wholeVar(f, &r.Count, "count", 20, "most recipes to give")
	f.BoolVar(&r.Adjust, "adjust", true, "say what it takes to adjust the nearest")
	numberVar(f, &r.ThicknessMM, "thickness", inMM, 0, "thickness of the new part, for the adjustment (else the target's, or the recipe's)")
	f.StringVar(&r.Over, "over", "", "backing behind the new part (else the target's, or the recipe's)")
	reading.addConditions(f)
	return cmd
}

func runFind(ctx context.Context, env *Env, r workbench.FindRequest) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.Found, error) { return workbench.Find(ctx, b, r) }, func(v workbench.Found) {
		if len(v.Recipes) == 0 {
			env.say("no recipe found")
			return
		}
		printFound(env, v)
	})
}

func printFound(env *Env, v workbench.Found) {
	heads := []string{"", "target", "client", "resin", "loadings (phr)", "approved", "on"}
	if v.Near != nil {
		heads = append([]string{"", ">dE00", "colour", ">expected", ">chance"}, heads[1:]...)
		env.print("Nearest to %s under %s  %s%s", figure.LabText(*v.Near), v.Near.Under, screen(*v.Near), spaced(env.swatch(*v.Near)))
	}
	t := newTable(heads...)
	for _, r := range v.Recipes {
		approved, swatch := "-", ""
		if r.Version > 0 {
			approved = fmt.Sprintf("v%d", r.Version)
		}
		cells := []string{r.Target, r.Client, r.Resin, figure.Loadings(r.Loadings), approved, r.Recipe.At[:10]}
		if r.Where != nil {
			how := " predicted"
			if r.Approved {
				how = " approved"
			}
			expected, chance := "-", "-"
			if r.Expected != nil {
				expected, chance = fmt.Sprintf("%.2f", *r.Expected), percentText(*r.Chance)
			}
			cells = append([]string{fmt.Sprintf("%.2f", *r.Distance), r.Where.Lab.String() + how, expected, chance}, cells...)
			swatch = env.swatch(r.Where.Color())
		} else if len(r.Predicted) > 0 {
			swatch = env.swatch(r.Predicted[0].Color())
		}
		t.add(append([]string{r.ID}, cells...)...)
		t.paint(swatch)
	}
	t.print(env.Stdout)
	if v.Adjust != nil {
		env.print("")
		printAdjustment(env, v)
	}
}

func printAdjustment(env *Env, v workbench.Found) {
	a := v.Adjust
	if a.Note != "" {
		env.print("To adjust %s: %s.", a.Recipe, a.Note)
		return
	}
	env.print("To adjust %s, by %s: %s phr; then dE00 %.2f is expected, as it is %.2f.", a.Recipe, a.Calibration, figure.Changes(a.Change, a.Loadings), *a.Expected, *a.AsItIs)
	if v.Target == nil {
		return
	}
	client := ""
	if v.Target.Client != "" {
		client = " --client " + quoted(v.Target.Client)
	}
	env.say("to store it: masstone recipe add --resin %s --target %s%s --phr %s", a.Resin, quoted(v.Target.Name), client, figure.LoadingsAs(a.Loadings, "=", ","))
}
