package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes/archive"
)

type pourReadOptions struct {
	pour       string
	labs       []string
	file, row  string
	reading    readingFlags
	date, note string
}

func newPourReadCommand(env *Env) *cobra.Command {
	var o pourReadOptions
	cmd := &cobra.Command{
		Use:   "read POUR (--lab L,a,b ... | --file FILE)",
		Short: "Take the reading of a cured part, and judge it",
		Long: `Takes the reading of a cured part of a pour, and holds it against the target: in
the target's own formula and tolerance, or its limits per axis, with the signed
differences in plain words.

Say --lab again for every reading of the piece; they are averaged. Without
--illuminant they were read under the target's light. Reading the part again later
replaces the reading; the old one is kept.

  masstone pour read P1 --lab 64.8,-10.9,-2.1 --lab 64.7,-10.9,-2.2
  masstone pour read P1 --file part.csv

JSON keys: pour, read_on, readings, colors (a list of under, lab, readings, mcdm,
outlier, swatch, swatch_in_gamut), verdict: ` + verdictKeys + `.`,
		Args: needs("POUR"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.pour = args[0]
			return runPourRead(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	f.StringArrayVar(&o.labs, "lab", nil, "a reading, L,a,b (repeat it for every reading)")
	f.StringVar(&o.file, "file", "", "`FILE` with readings of the part, - for standard input")
	f.StringVar(&o.file, "spectrum", "", "the same as --file")
	f.StringVar(&o.row, "row", "", "`NAME` of the readings in the file, if it has several pieces")
	dayVar(f, &o.date, "date", "day it was read, 2026-03-31 (else today)")
	f.StringVar(&o.note, "note", "", "remark kept with the reading")
	o.reading.over, o.reading.thickness = "white", usualThickness
	o.reading.addConditions(f)
	o.reading.addLayout(f)
	o.reading.addPercent(f)
	return cmd
}

// pourReadView is a reading in JSON.
type pourReadView struct {
	Pour     string            `json:"pour"`
	On       string            `json:"read_on"`
	Readings int               `json:"readings"`
	Colors   []targetColorView `json:"colors"`
	Verdict  *verdictView      `json:"verdict,omitempty"`
}

func runPourRead(ctx context.Context, env *Env, o pourReadOptions) error {
	if (len(o.labs) == 0) == (o.file == "") {
		return misusef("pour %s: give readings, either --lab L,a,b (repeated) or --file FILE", o.pour)
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		c, err := castNamed(ctx, b, o.pour)
		if err != nil {
			return err
		}
		rows, err := pourRows(ctx, env, b, o, c)
		if err != nil {
			return err
		}
		reading := archive.PourReading{Pour: c.pour.Ref, ReadOn: o.date, Readings: readingsOf(rows), Note: o.note}
		piece, err := pieceOf(c.pour.ID(), reading.Readings)
		if err != nil {
			return err
		}
		verdict, err := inspect(ctx, b, c.recipe, piece)
		if err != nil {
			return err
		}
		if reading.Verdict, err = verdict.document(); err != nil {
			return err
		}
		if reading, err = b.AddPourReading(ctx, reading); err != nil {
			return err
		}
		env.warnAhead(o.date)
		if env.JSON {
			v := viewTarget(archive.Target{}, piece)
			return env.emit(pourReadView{c.pour.ID(), reading.ReadOn, len(piece.Readings), v.Colors, verdict})
		}
		printPourRead(env, c, piece, verdict)
		return nil
	})
}

// pourRows are the readings typed or in the file.
func pourRows(ctx context.Context, env *Env, b *archive.Bench, o pourReadOptions, c cast) ([]readings.Row, error) {
	if o.file != "" {
		return readSamples(env, o.file, o.row, &o.reading)
	}
	under := o.reading.condition()
	if o.reading.illuminant == "" {
		t, err := targetOf(ctx, b, c.recipe)
		if err != nil {
			return nil, err
		}
		if t == nil {
			return nil, misusef("pour %s: --illuminant is missing; say under which light --lab was read, such as --illuminant D65 --observer 10", c.pour.ID())
		}
		piece, err := pieceOf(t.Name, t.Readings)
		if err != nil {
			return nil, err
		}
		if len(piece.Labs) != 1 {
			return nil, misusef("pour %s: --illuminant is missing; its target was read under several lights, so say under which --lab was read", c.pour.ID())
		}
		under.Illuminant = piece.Labs[0].Under.Illuminant
		if o.reading.observer == 0 {
			under.Observer = piece.Labs[0].Under.Observer
		}
	}
	how := o.reading.measurement()
	if err := how.Check(); err != nil {
		return nil, misuse{fmt.Errorf("--specular: %w", err)}
	}
	rows := make([]readings.Row, len(o.labs))
	for i, text := range o.labs {
		lab, err := readings.Typed(text, under)
		if err != nil {
			return nil, misuse{fmt.Errorf("--lab %w", err)}
		}
		rows[i] = readings.Row{Line: i + 1, Name: c.pour.ID(), Labs: []color.Lab{lab}, Measurement: how}
	}
	if o.reading.illuminant == "" {
		env.say("taken as read under %s, as the target; say --illuminant and --observer if not", under)
	}
	return rows, nil
}

func printPourRead(env *Env, c cast, piece readings.Piece, verdict *verdictView) {
	for i, lab := range piece.Labs {
		r := piece.Repeat[i]
		env.print("%s read %s under %s  %s%s, %s, MCDM %.2f", c.pour.ID(), labText(lab), lab.Under, screen(lab), spaced(env.swatch(lab)),
			plural(readingsUnder(piece, lab.Under), "reading"), r.MCDM)
		if r.Outlier >= 0 {
			env.say("warning: reading %d under %s does not belong to the others; read the part again", r.Outlier+1, lab.Under)
		} else if apart(r) {
			env.say("warning: the readings under %s lie %.1f from their mean; read the part again", lab.Under, r.MCDM)
		}
	}
	if piece.Spectrum != nil {
		env.print("%s read as a spectrum %d-%d nm by %d", c.pour.ID(), piece.Spectrum.FirstNM, piece.Spectrum.LastNM(), piece.Spectrum.StepNM)
	}
	if verdict == nil {
		env.say("recipe %s is for no target, so there is nothing to hold the part against", c.recipe.ID())
		return
	}
	printVerdict(env, verdict)
	if verdict.Passes {
		env.say("if the client agrees: masstone approve %s --pour %s", c.recipe.ID(), c.pour.ID())
	} else {
		env.say("what can be done: masstone correct %s", c.pour.ID())
	}
}
