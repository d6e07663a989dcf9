package main

import (
	"context"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"masstone/color"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func newTargetCommand(env *Env) *cobra.Command {
	return newFamily("target", "Colours to match: add, list, show", newTargetAddCommand(env), newTargetListCommand(env), newTargetShowCommand(env))
}

func newTargetAddCommand(env *Env) *cobra.Command {
	r := workbench.AddTargetRequest{Formula: color.CIEDE2000}
	var reading readingFlags
	var file string
	cmd := &cobra.Command{
		Use:   "add NAME (--lab L,a,b ... | --file FILE)",
		Short: "Add a colour to match",
		Long: `Adds a colour to match: readings of a part, typed with --lab (say it again for
every reading of the same piece) or from a file of readings. Several readings are
averaged; their scatter is told, and a reading that does not belong is named.

--thickness and --over say what the cast part will be: its thickness, and what
lies behind it. --flat-mm says how wide the flat spot of it is: where that is too
small for the aperture, ask for a flat piece of the same material, and read pours on
a companion chip ("masstone pour read --help").

Readings above what a surface can reflect, or that scatter more than an instrument,
are cautioned with the case they may be: fluorescent, metallic, pearl. Such a target
is matched with --anyway alone.

  masstone target add "Harbour lamp / housing" --client "Tern Lighting" \
      --lab 61.2,38.9,21.4 --lab 61.3,38.7,21.5 --illuminant D65 --observer 10 \
      --thickness 3 --tolerance 1.0

` + jsonKeys(workbench.TargetOutcome{}),
		Args: needs("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Name, r.ThicknessMM, r.Over = args[0], reading.thickness, reading.over
			r.Readings.Condition, r.Readings.Measurement = color.Condition{Illuminant: reading.illuminant, Observer: reading.observer}, reading.said()
			if file == "" {
				return runTargetAdd(cmd.Context(), env, r)
			}
			return reading.opened(cmd.Context(), env, file, func(f *workbench.File) error {
				r.Readings.File = f
				return runTargetAdd(cmd.Context(), env, r)
			})
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Client, "client", "", "who the part is for")
	f.StringVar(&r.Part, "part", "", "the client's part")
	f.StringArrayVar(&r.Readings.Typed, "lab", nil, "a reading, L,a,b (repeat it for every reading)")
	f.StringVar(&file, "file", "", "`FILE` with readings of the part, - for standard input")
	f.StringVar(&file, "spectrum", "", "the same as --file")
	f.StringVar(&r.Readings.Row, "row", "", "`NAME` of the readings in the file, if it has several pieces")
	numberVar(f, &r.Tolerance, "tolerance", inDE, 0, "largest difference the client accepts (else 1, or --limits alone)")
	f.Var(parsed[color.Formula]{&r.Formula, color.ParseFormula, func(x color.Formula) string { return string(x) }, "name"}, "formula", "colour difference of the tolerance, such as CMC(2:1)")
	f.Var(axisLimits{&r.Limits}, "limits", "largest difference the client accepts along single axes, such as L=0.8,a=0.5,b=0.5 (of L, a, b, C, H; alone, or beside --tolerance)")
	f.StringVar(&r.Readings.Instrument, "instrument", "", "`NAME` of the bench's instrument, where it read the part")
	thicknessSDVar(f, &r.ThicknessSDMM, "the cast part", usualMisses)
	addSpot(f, &r.Spot)
	f.StringVar(&r.Note, "note", "", "remark kept with the target")
	f.BoolVar(&r.Replace, "replace", false, "replace the target of this name")
	reading.addPiece(f, "white", 3)
	reading.addConditions(f)
	reading.addLayout(f)
	reading.addPercent(f)
	return cmd
}

func runTargetAdd(ctx context.Context, env *Env, r workbench.AddTargetRequest) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := workbench.AddTarget(ctx, b, r)
		if err != nil {
			return err
		}
		env.remark(v.Remarks)
		if env.JSON {
			return env.emit(v)
		}
		env.print("target %s%s %s", named(v.Name), forClient(v.Client), v.Outcome)
		printTarget(env, v.Target)
		return nil
	})
}

func forClient(client string) string {
	if client == "" {
		return ""
	}
	return " for " + tidy(client)
}

func printTarget(env *Env, t workbench.Target) {
	table := newTable("light", ">L*", ">a*", ">b*", ">readings", ">MCDM", "on a screen")
	colors := t.Colors
	if t.OfSpectra != nil {
		colors = append(slices.Clone(colors), *t.OfSpectra)
	}
	for i, c := range colors {
		lab := c.Lab.Color(c.Under)
		light := c.Under
		if i == len(t.Colors) {
			light += " of spectra"
		}
		table.add(light, fmt.Sprintf("%.2f", c.Lab.L), fmt.Sprintf("%.2f", c.Lab.A), fmt.Sprintf("%.2f", c.Lab.B), fmt.Sprint(c.Readings), scatter(c.Readings, c.MCDM), screen(lab))
		table.paint(env.swatch(lab))
	}
	if len(colors) > 0 {
		table.print(env.Stdout)
	}
	if t.Spectrum != nil {
		env.print("spectrum %d-%d nm by %d", t.Spectrum.FirstNM, t.Spectrum.Color().LastNM(), t.Spectrum.StepNM)
	}
	env.print("part %s mm over %s, read %s; tolerance %s", figure.Short(float64(t.ThicknessMM)), tidy(t.Over), color.Measurement{Geometry: t.Geometry, Specular: t.Specular}, t.Accepts)
	printTaken(env, t.Taken)
}

// printTaken says how a reading was taken, as far as its file does.
func printTaken(env *Env, t *archive.Taken) {
	if text := workbench.TakenText(t); text != "" {
		env.print("taken: %s", tidy(text))
	}
}

func newTargetListCommand(env *Env) *cobra.Command {
	var client string
	cmd := &cobra.Command{
		Use:   "list",
		Short: "List the targets",
		Long: `Lists the targets.

` + jsonKeys(workbench.TargetList{}),
		Args: needs(),
		RunE: func(cmd *cobra.Command, args []string) error { return runTargetList(cmd.Context(), env, client) },
	}
	cmd.Flags().StringVar(&client, "client", "", "of this client only")
	return cmd
}

func runTargetList(ctx context.Context, env *Env, client string) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := workbench.Targets(ctx, b, client)
		if err != nil {
			return err
		}
		if env.JSON {
			return env.emit(v)
		}
		if len(v.Targets) == 0 {
			env.say("no target yet; masstone target add NAME --lab L,a,b --illuminant D65")
			return nil
		}
		table := newTable("target", "client", "read", ">mm", "over", "tolerance")
		for _, t := range v.Targets {
			read, first := "spectrum", t.OfSpectra
			if len(t.Colors) > 0 {
				first = &t.Colors[0]
				read = first.Lab.String() + " " + first.Under
			}
			table.add(t.Name, t.Client, read, figure.Short(float64(t.ThicknessMM)), t.Over, t.Accepts)
			if first != nil {
				table.paint(env.swatch(first.Lab.Color(first.Under)))
			}
		}
		table.print(env.Stdout)
		return nil
	})
}

func newTargetShowCommand(env *Env) *cobra.Command {
	var client string
	cmd := &cobra.Command{
		Use:   "show NAME",
		Short: "Show a target, its readings and its recipes",
		Long: `Shows a target: mean and scatter of its readings, and the recipes found for it.
Here and elsewhere a target without a client goes by its name alone, whoever else has
one of that name.

` + jsonKeys(workbench.ShownTarget{}),
		Args: needs("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runTargetShow(cmd.Context(), env, client, args[0])
		},
	}
	cmd.Flags().StringVar(&client, "client", "", "client, where several have a target of this name")
	return cmd
}

func runTargetShow(ctx context.Context, env *Env, client, name string) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := workbench.ShowTarget(ctx, b, client, name)
		if err != nil {
			return err
		}
		env.remark(v.Remarks)
		if env.JSON {
			return env.emit(v)
		}
		env.print("target %s%s", named(v.Name), forClient(v.Client))
		printTarget(env, v.Target)
		if len(v.Recipes) > 0 {
			env.print("")
			printRecipeTable(env, v.Recipes)
		}
		return nil
	})
}

// scatter is the MCDM of readings; one alone has none.
func scatter(readings int, mcdm figure.Number) string {
	if readings < 2 {
		return "-"
	}
	return fmt.Sprintf("%.2f", mcdm)
}
