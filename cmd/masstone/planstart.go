package main

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/color"
	"masstone/recipes/archive"
)

type planStartOptions struct {
	planOptions
	pigments  []string
	perColour int
	level     float64
	evidence  calibrate.Evidence
	under     []string
}

func newPlanStartCommand(env *Env) *cobra.Command {
	o := planStartOptions{evidence: calibrate.LabsEvidence}
	cmd := &cobra.Command{
		Use:   "start RESIN",
		Short: "Which chips to cast first, for a shelf without a calibration",
		Long: `Gives the first chips of a new shelf: the bare resin over the lightest and the
darkest backing, every white over both, and two chips per colour (three where chips
are read under one light only): its masstone, a tint in white, thin over black.

Whites are those of --whites, else the pigments whose Colour Index name is that of a
white that hides (PW6) or, without one, whose name says white. --evidence says what
will be read of each chip: lab, labs (under --under, else D65, A and FL11) or
spectra.

` + planHelp + `

  masstone plan start CLR --pigments WH,RD,YE,BL --out chips.csv
  masstone plan start CLR --out plan.pdf --labels labels.pdf

JSON keys: ` + planKeys + `), notes.`,
		Args: needs("RESIN"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.resin = args[0]
			return runPlanStart(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	f.StringSliceVar(&o.pigments, "pigments", nil, "`CODES` to plan for (else the whole shelf)")
	f.IntVar(&o.perColour, "per-colour", 0, "chips per colour, 1 to 4 (else the fewest the readings make do with)")
	numberVar(f, &o.level, "level", inPHR, 0, "loading of a masstone (else half of what the resin bears, else 2 phr)")
	f.Var(parsed[calibrate.Evidence]{&o.evidence, calibrate.ParseEvidence, func(e calibrate.Evidence) string { return string(e) }, "kind"}, "evidence", "what will be read of a chip: lab, labs or spectra")
	f.StringArrayVar(&o.under, "under", nil, "`LIGHT/OBSERVER` chips will be read under (may be repeated)")
	o.addFlags(cmd)
	return cmd
}

// reading is how the chips will be read.
func (o planStartOptions) reading() (castplan.Reading, error) {
	var lights []color.Condition
	for _, text := range o.under {
		c, err := color.ParseCondition(text)
		if err != nil {
			return castplan.Reading{}, misuse{fmt.Errorf("--under: %w", err)}
		}
		lights = append(lights, c)
	}
	switch {
	case o.evidence == calibrate.SpectralEvidence || o.evidence == calibrate.AllEvidence:
		return castplan.Reading{Spectrum: true, Lights: lights}, nil
	case len(lights) > 0:
		return castplan.Reading{Lights: lights}, nil
	case o.evidence == calibrate.LabEvidence:
		return castplan.Reading{Lights: []color.Condition{color.D65Ten()}}, nil
	}
	return castplan.Reading{Lights: calibrate.ThreeLights(color.TenDegree)}, nil
}

func runPlanStart(ctx context.Context, env *Env, o planStartOptions) error {
	if o.perColour < 0 || o.perColour > 4 {
		return misusef("--per-colour %d: is out of range; give 1 to 4", o.perColour)
	}
	read, err := o.reading()
	if err != nil {
		return err
	}
	if err := o.check(env); err != nil {
		return err
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		resin, err := b.Resin(ctx, o.resin)
		if err != nil {
			return err
		}
		chips, err := b.Chips(ctx, resin.Code)
		if err != nil {
			return err
		}
		shelf, err := o.shelf(ctx, b)
		if err != nil {
			return err
		}
		shelf.Reading = read
		bench, err := o.bench(ctx, b, resin, chips)
		if err != nil {
			return err
		}
		first, err := castplan.Start(shelf, bench)
		if err != nil {
			return fmt.Errorf("plan for %s: %w", resin.Code, err)
		}
		names, err := pigmentNames(ctx, b)
		if err != nil {
			return err
		}
		p := planPaper(&o.planOptions, names, resin, first, read, o.paper.heading(env))
		p.Plan = "First chips"
		if len(shelf.Whites) > 0 {
			p.Notes = append(p.Notes, fmt.Sprintf("Colours are let down in %s; --whites says otherwise.", shelf.Whites[0]))
		} else {
			p.Notes = append(p.Notes, "No white is known among these pigments: name it with --whites, so that tints are planned.")
		}
		if len(chips) > 0 {
			p.Notes = append(p.Notes, fmt.Sprintf("%s of %s are on the bench already; masstone plan next says what to add to them.", plural(len(chips), "chip"), resin.Code))
		}
		return o.put(env, p, planView{})
	})
}

// shelf is what to plan for: the pigments named, or all, and the whites among
// them.
func (o *planStartOptions) shelf(ctx context.Context, b *archive.Bench) (castplan.Shelf, error) {
	s := castplan.Shelf{PerColour: o.perColour, Level: calibrate.PHR(o.level)}
	pigments, err := b.Pigments(ctx)
	if err != nil {
		return s, err
	}
	wanted := o.pigments
	for i := range wanted {
		wanted[i] = strings.TrimSpace(wanted[i])
		if _, err := b.Pigment(ctx, wanted[i]); err != nil {
			return s, err
		}
	}
	var named []string
	for _, p := range pigments {
		if len(wanted) > 0 && !slices.Contains(wanted, p.Code) {
			continue
		}
		s.Pigments = append(s.Pigments, p.Code)
		if castplan.WhiteByName(p.CIName) || p.CIName == "" && slices.Contains(strings.Fields(strings.ToLower(p.Name)), "white") {
			named = append(named, p.Code)
		}
	}
	if len(s.Pigments) == 0 {
		return s, fmt.Errorf("no pigment to plan for; masstone pigment import FILE")
	}
	if len(o.whites) == 0 {
		o.whites = named
	}
	s.Whites = o.whites
	for _, w := range s.Whites {
		if !slices.Contains(s.Pigments, w) {
			return s, misusef("--whites %s: is not among the pigments to plan for; they are %s", w, listed(s.Pigments))
		}
	}
	return s, nil
}
