package main

import (
	"context"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes/archive"
	"masstone/recipes/papers"
)

type labelOptions struct {
	only  []string
	skip  int
	cut   bool
	paper paperFlags
}

const labelHelp = `The sheet is 3 x 8 labels of 70 x 37 mm on A4, 3 x 10 of 66.7 x 25.4 mm on Letter.
The QR code on a label can be scanned wherever a name is typed, and masstone open
shows what it stands for.

--out writes to a file whose ending says how: .pdf and .html to print (A4, or
--paper letter), .csv, .json or .txt.

JSON keys: made, shop, labels (a list of code, name, lines, find (the text of the QR
code), lab (L, a, b, under)), skip, cut.`

func newLabelsCommand(env *Env) *cobra.Command {
	return newFamily("labels", "Labels with codes that find the thing again: chips, jars", newLabelsChipsCommand(env), newLabelsJarsCommand(env))
}

func (o *labelOptions) addFlags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.IntVar(&o.skip, "skip", 0, "places already used on the first sheet")
	f.BoolVar(&o.cut, "cut", false, "draw lines to cut plain paper along")
	o.paper.add(f, "the labels")
}

func newLabelsChipsCommand(env *Env) *cobra.Command {
	var o labelOptions
	cmd := &cobra.Command{
		Use:   "chips RESIN",
		Short: "Labels for the chips of a resin",
		Long: `Makes labels for the chips of a resin that are on the bench, each with its colour.
Those of chips still to be cast come with the plan: masstone plan start --labels.

` + labelHelp,
		Args: needs("RESIN"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runLabelsChips(cmd.Context(), env, o, args[0])
		},
	}
	cmd.Flags().StringArrayVar(&o.only, "chip", nil, "only the chip of this `NAME` (may be repeated)")
	o.addFlags(cmd)
	return cmd
}

func newLabelsJarsCommand(env *Env) *cobra.Command {
	var o labelOptions
	cmd := &cobra.Command{
		Use:   "jars",
		Short: "Labels for the jars of paste",
		Long: `Makes labels for the jars of paste on the shelf: code, name, Colour Index name, the
lot in use, density and the most the resin takes.

` + labelHelp,
		Args: needs(),
		RunE: func(cmd *cobra.Command, args []string) error { return runLabelsJars(cmd.Context(), env, o) },
	}
	cmd.Flags().StringSliceVar(&o.only, "pigments", nil, "only the pigments of these `CODES`")
	o.addFlags(cmd)
	return cmd
}

// print puts labels where they are wanted.
func (o *labelOptions) print(env *Env, labels []papers.Label) error {
	if o.skip < 0 {
		return misusef("--skip %d: is out of range; give 0 or more", o.skip)
	}
	return o.paper.show(env, plural(len(labels), "label"), papers.Labels{Heading: o.paper.heading(env), Labels: labels, Skip: o.skip, Cut: o.cut})
}

func runLabelsChips(ctx context.Context, env *Env, o labelOptions, code string) error {
	if err := o.paper.check(env); err != nil {
		return err
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		resin, err := b.Resin(ctx, code)
		if err != nil {
			return err
		}
		chips, err := b.Chips(ctx, resin.Code)
		if err != nil {
			return err
		}
		for _, name := range o.only {
			if !slices.ContainsFunc(chips, func(c archive.Chip) bool { return c.Name == name }) {
				return fmt.Errorf("no chip %q of %s; masstone chip list --resin %s shows them", name, resin.Code, resin.Code)
			}
		}
		if len(chips) == 0 {
			return fmt.Errorf("no chip of %s yet; masstone plan start %s says which to cast", resin.Code, resin.Code)
		}
		names, err := pigmentNames(ctx, b)
		if err != nil {
			return err
		}
		var labels []papers.Label
		for _, c := range chips {
			if len(o.only) > 0 && !slices.Contains(o.only, c.Name) {
				continue
			}
			l, err := chipLabel(c, names)
			if err != nil {
				return err
			}
			labels = append(labels, l)
		}
		return o.print(env, labels)
	})
}

// chipLabel is the label of a chip that was read.
func chipLabel(c archive.Chip, names map[string]string) (papers.Label, error) {
	l := papers.Label{Code: c.Name, Name: fmt.Sprintf("%s, %s mm, over %s", c.Resin, short(c.ThicknessMM), c.Backing), Find: papers.RefTo(papers.ChipRef, c.Resin, c.Name)}
	for _, code := range byLoading(c.Loadings) {
		line := fmt.Sprintf("%s %.4g phr", code, c.Loadings[code])
		if names[code] != "" {
			line += " " + names[code]
		}
		l.Lines = append(l.Lines, line)
	}
	piece, err := pieceOf(c.Name, c.Readings)
	if err != nil {
		return l, err
	}
	r, err := readingOf(piece)
	if err != nil {
		return l, err
	}
	l.Lab, err = r.Under(color.D65Ten())
	if l.Lab == nil && len(r.Labs) > 0 {
		l.Lab = &r.Labs[0]
	}
	return l, err
}

func runLabelsJars(ctx context.Context, env *Env, o labelOptions) error {
	if err := o.paper.check(env); err != nil {
		return err
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		pigments, err := b.Pigments(ctx)
		if err != nil {
			return err
		}
		for _, code := range o.only {
			if _, err := b.Pigment(ctx, code); err != nil {
				return err
			}
		}
		if len(pigments) == 0 {
			return fmt.Errorf("no pigment yet; masstone pigment import FILE")
		}
		opened, err := b.OpenedLots(ctx)
		if err != nil {
			return err
		}
		var labels []papers.Label
		for _, p := range pigments {
			if len(o.only) > 0 && !slices.Contains(o.only, p.Code) {
				continue
			}
			lot := ""
			for _, l := range opened {
				if l.Item == archive.OfPigment && l.Code == p.Code {
					lot = l.Lot
				}
			}
			labels = append(labels, papers.JarLabel(p.Code, p.Name, p.CIName, lot, p.Density, calibrate.PHR(p.MaxPHR)))
		}
		return o.print(env, labels)
	})
}
