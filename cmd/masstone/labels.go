package main

import (
	"context"

	"github.com/spf13/cobra"

	"masstone/recipes/figure"
	"masstone/recipes/papers"
	"masstone/recipes/workbench"
)

const labelHelp = `The sheet is 3 x 8 labels of 70 x 37 mm on A4, 3 x 10 of 66.7 x 25.4 mm on Letter.
--label 25x10 makes small ones that a chip can bear, to be cut out along the lines
drawn; one too small for a code that can be scanned has none (40x20 has one).
The QR code on a label can be scanned wherever a name is typed, and masstone open
shows what it stands for.

--out writes to a file whose ending says how: .pdf and .html to print (A4, or
--paper letter), .csv, .json or .txt.

JSON keys: made, shop, labels (a list of code, name, lines, find (the text of the QR
code), lab (L, a, b, under)), skip, cut, each (width_mm, height_mm).`

func newLabelsCommand(env *Env) *cobra.Command {
	return newFamily("labels", "Labels with codes that find the thing again: chips, jars", newLabelsChipsCommand(env), newLabelsJarsCommand(env))
}

// labelSize is a flag for the size of a label, none if it is not given.
type labelSize struct{ size **papers.LabelSize }

func (l labelSize) Type() string { return "WxH" }

func (l labelSize) String() string {
	if l.size == nil || *l.size == nil {
		return ""
	}
	return (*l.size).String()
}

func (l labelSize) Set(text string) error {
	size, err := papers.ParseLabelSize(text)
	if err == nil {
		*l.size = &size
	}
	return err
}

// addLabels adds the flags of every command that makes labels.
func addLabels(cmd *cobra.Command, r *workbench.LabelsRequest, paper *paperFlags) {
	f := cmd.Flags()
	wholeVar(f, &r.Skip, "skip", 0, "places already used on the first sheet")
	f.Var(labelSize{&r.Each}, "label", "size of one label to cut out, such as 25x10 or 40x20 mm (else the usual sheet of labels)")
	f.BoolVar(&r.Cut, "cut", false, "draw lines to cut plain paper along")
	paper.add(f, "the labels")
}

func newLabelsChipsCommand(env *Env) *cobra.Command {
	var r workbench.LabelsRequest
	var paper paperFlags
	cmd := &cobra.Command{
		Use:   "chips RESIN",
		Short: "Labels for the chips of a resin",
		Long: `Makes labels for the chips of a resin that are on the bench, each with its colour.
Those of chips still to be cast come with the plan: masstone plan start --labels.

` + labelHelp,
		Args: needs("RESIN"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Resin = args[0]
			return runLabels(cmd.Context(), env, r, paper, workbench.ChipLabels)
		},
	}
	cmd.Flags().StringArrayVar(&r.Only, "chip", nil, "only the chip of this `NAME` (may be repeated)")
	addLabels(cmd, &r, &paper)
	return cmd
}

func newLabelsJarsCommand(env *Env) *cobra.Command {
	var r workbench.LabelsRequest
	var paper paperFlags
	cmd := &cobra.Command{
		Use:   "jars",
		Short: "Labels for the jars of paste",
		Long: `Makes labels for the jars of paste on the shelf: code, name, Colour Index name, the
lot in use, density and the most the resin takes.

` + labelHelp,
		Args: needs(),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runLabels(cmd.Context(), env, r, paper, workbench.JarLabels)
		},
	}
	cmd.Flags().StringSliceVar(&r.Only, "pigments", nil, "only the pigments of these `CODES`")
	addLabels(cmd, &r, &paper)
	return cmd
}

func runLabels(ctx context.Context, env *Env, r workbench.LabelsRequest, paper paperFlags, make func(context.Context, *workbench.Bench, workbench.LabelsRequest) (papers.Labels, error)) error {
	if err := paper.check(env); err != nil {
		return err
	}
	return withBench(ctx, env, func(b *workbench.Bench) error {
		r.Heading = paper.heading(env)
		v, err := make(ctx, b, r)
		if err != nil {
			return err
		}
		return paper.show(env, figure.Count(len(v.Labels), "label"), v)
	})
}
