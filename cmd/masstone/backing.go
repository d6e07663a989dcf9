package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"masstone/color"
	"masstone/recipes/workbench"
)

func newBackingCommand(env *Env) *cobra.Command {
	return newFamily("backing", "Backings under chips and parts: add, list", newBackingAddCommand(env), newBackingListCommand(env))
}

func newBackingAddCommand(env *Env) *cobra.Command {
	var r workbench.AddBackingRequest
	var reflectance float64
	var file string
	var reading readingFlags
	cmd := &cobra.Command{
		Use:   "add NAME (--reflectance R | --file FILE | --lab L,a,b)",
		Short: "Add a backing, or replace one",
		Long: `Adds a backing: what a chip or a part lies on while it is read. Its reflectance
is a constant, or a spectrum from a file of readings, or, for a grey, a Lab
reading, which gives a constant.

A backing is taken to touch what lies on it, as under a part that was cast or
wetted onto it. Under one laid down dry there is a gap of air: of the light that
reaches it some 60 % turns back before it meets the card, and black is far from
black. --dry says so, and the backing is what the part sees across the gap.

A backing stated from memory (white and black of a new bench) is replaced at
once; a reading is replaced with --replace only. The old card is kept.

  masstone backing add white --reflectance 0.88
  masstone backing add "bench tile" --file tile.csv
  masstone backing add "black card, dry" --reflectance 0.04 --dry

` + jsonKeys(workbench.BackingOutcome{}),
		Args: needs("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Name = args[0]
			if cmd.Flags().Changed("reflectance") {
				r.Reflectance = &reflectance
			}
			if !cmd.Flags().Changed("index") {
				r.Index = 0
			}
			r.Readings.Condition = color.Condition{Illuminant: reading.illuminant, Observer: reading.observer}
			r.Readings.Measurement = reading.said()
			if file == "" {
				return runBackingAdd(cmd.Context(), env, r)
			}
			return reading.opened(cmd.Context(), env, file, func(f *workbench.File) error {
				r.Readings.File = f
				return runBackingAdd(cmd.Context(), env, r)
			})
		},
	}
	f := cmd.Flags()
	numberVar(f, &reflectance, "reflectance", aFactor, 0, "constant reflectance factor, 0 to 1")
	f.StringVar(&file, "file", "", "`FILE` with a reading of the backing")
	f.StringVar(&r.Readings.Row, "row", "", "`NAME` of the reading in the file, if it has several")
	f.StringArrayVar(&r.Readings.Typed, "lab", nil, "a reading of a grey backing, L,a,b with --illuminant (repeat it for every reading)")
	f.BoolVar(&r.Replace, "replace", false, "replace a backing that was read")
	f.BoolVar(&r.Dry, "dry", false, "parts and chips lie dry on it, across a gap of air")
	numberVar(f, &r.Index, "index", anIndex, 1.5, "refractive index of the resin, for --dry")
	reading.addConditions(f)
	reading.addLayout(f)
	reading.addPercent(f)
	return cmd
}

func runBackingAdd(ctx context.Context, env *Env, r workbench.AddBackingRequest) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := workbench.AddBacking(ctx, b, r)
		if err != nil {
			return err
		}
		env.remark(v.Remarks)
		if env.JSON {
			return env.emit(v)
		}
		env.print("backing %s %s: %s", tidy(v.Name), v.Outcome, backingText(v.Backing))
		return nil
	})
}

func backingText(k workbench.Backing) string {
	text := ""
	if k.Reflectance != nil {
		text = fmt.Sprintf("%.2f", *k.Reflectance)
	} else if k.Spectrum != nil {
		text = fmt.Sprintf("spectrum %d-%d nm by %d", k.Spectrum.FirstNM, k.Spectrum.Color().LastNM(), k.Spectrum.StepNM)
	}
	if k.Source != "" {
		text += " (" + tidy(k.Source) + ")"
	}
	return text
}

func newBackingListCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "list",
		Short: "List the backings",
		Long:  "Lists the backings.\n\n" + jsonKeys(workbench.BackingList{}),
		Args:  needs(),
		RunE:  func(cmd *cobra.Command, args []string) error { return runBackingList(cmd.Context(), env) },
	}
}

func runBackingList(ctx context.Context, env *Env) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.BackingList, error) { return workbench.Backings(ctx, b) }, func(v workbench.BackingList) {
		t := newTable("backing", "reflectance")
		for _, k := range v.Backings {
			t.add(k.Name, backingText(k))
		}
		t.print(env.Stdout)
	})
}
