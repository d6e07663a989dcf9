package main

import (
	"context"

	"github.com/spf13/cobra"

	"masstone/color"
	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func newPourReadCommand(env *Env) *cobra.Command {
	var r workbench.ReadPourRequest
	var file string
	var reading readingFlags
	var warm float64
	cmd := &cobra.Command{
		Use:   "read POUR (--lab L,a,b ... | --file FILE)",
		Short: "Take the reading of a cured part, and judge it",
		Long: `Takes the reading of a cured part of a pour, and holds it against the target: in
the target's own formula and tolerance, or its limits per axis, with the signed
differences in plain words.

Say --lab again for every reading of the piece; they are averaged. Without
--illuminant they were read under the target's light. Reading the part again later
replaces the reading; the old one is kept. Of a cup of several parts --part says
which was read; corrections and approvals go by their mean.

With --age a part read before it is settled, at 7 days, is judged as it will be then
too, by what "resin drift" has learnt from parts read at several ages. Until there
are such nothing is assumed and the bars are wider.

A part read at another temperature (--part-temp) than its target, or else than 23 °C,
by more than 5 °C is judged as it was and marked: colours shift with temperature, by
how much is not learnt. It counts for nothing else.

A part too small or too curved for the instrument's aperture is not read: cast a
flat chip of 25 mm or more, as thick as the part, from the same cup, read that over
the same backing, and say --companion. --flat-mm (else the target's) and
--aperture-mm (else as the file says) tell whether it is too small.

  masstone pour read P1 --lab 64.8,-10.9,-2.1 --lab 64.7,-10.9,-2.2
  masstone pour read P1 --file part.csv

` + jsonKeys(workbench.PourReading{}),
		Args: needs("POUR"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Pour = args[0]
			if cmd.Flags().Changed("part-temp") {
				r.PartC = &warm
			}
			r.Readings.Condition = color.Condition{Illuminant: reading.illuminant, Observer: reading.observer}
			r.Readings.Measurement = reading.said()
			if file == "" {
				return runPourRead(cmd.Context(), env, r)
			}
			return reading.opened(cmd.Context(), env, file, func(f *workbench.File) error {
				r.Readings.File = f
				return runPourRead(cmd.Context(), env, r)
			})
		},
	}
	f := cmd.Flags()
	f.StringArrayVar(&r.Readings.Typed, "lab", nil, "a reading, L,a,b (repeat it for every reading)")
	f.StringVar(&file, "file", "", "`FILE` with readings of the part, - for standard input")
	f.StringVar(&file, "spectrum", "", "the same as --file")
	f.StringVar(&r.Readings.Row, "row", "", "`NAME` of the readings in the file, if it has several pieces")
	f.BoolVar(&r.Companion, "companion", false, "a flat chip from the same cup was read in the part's place")
	f.StringVar(&r.Readings.Instrument, "instrument", "", "`NAME` of the instrument (else that of the file, or for typed readings the one in use)")
	thicknessSDVar(f, &r.ThicknessSDMM, "the part", "as the card of its mould or its target says, or as is usual")
	addSpot(f, &r.Spot)
	dayVar(f, &r.On, "date", "day it was read, 2026-03-31 (else today)")
	f.StringVar(&r.Note, "note", "", "remark kept with the reading")
	wholeVar(f, &r.Part, "part", 0, "which of the parts of the pour, from 1 (else the only one)")
	f.Var(ageFlag{&r.AgeHours}, "age", "from the pour to the reading: 24h or 7d")
	numberVar(f, &warm, "part-temp", inMouldCelsius, 0, "temperature of the part in `°C`, such as 23C")
	againVar(f, &r.Again)
	reading.addConditions(f)
	reading.addLayout(f)
	reading.addPercent(f)
	return cmd
}

// ageFlag is a flag for the age of a part in hours; a bare number is hours.
type ageFlag struct{ hours *float64 }

func (a ageFlag) Type() string { return "time" }

func (a ageFlag) String() string {
	if a.hours == nil || *a.hours == 0 {
		return ""
	}
	return figure.Short(*a.hours) + "h"
}

func (a ageFlag) Set(text string) error {
	v, err := inHours.Parse(text)
	if err == nil {
		*a.hours = v
	}
	return err
}

func runPourRead(ctx context.Context, env *Env, r workbench.ReadPourRequest) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := onceMore(ctx, env, &r.Again, func() (workbench.PourReading, error) {
			rewind(r.Readings.File)
			return workbench.ReadPour(ctx, b, r)
		})
		if err != nil {
			return err
		}
		env.remark(v.Remarks)
		if env.JSON {
			return env.emit(v)
		}
		printPourRead(env, v)
		return nil
	})
}

func printPourRead(env *Env, v workbench.PourReading) {
	for _, c := range v.Colors {
		lab := c.Lab.Color(c.Under)
		of := v.Pour
		if v.Companion {
			of += ", a chip from its cup,"
		}
		env.print("%s read %s under %s  %s%s, %s, MCDM %s", of, c.Lab, c.Under, screen(lab), spaced(env.swatch(lab)), figure.Count(c.Readings, "reading"), scatter(c.Readings, c.MCDM))
	}
	if s := v.Spectrum; s != nil {
		env.print("%s read as a spectrum %d-%d nm by %d", v.Pour, s.FirstNM, s.LastNM(), s.StepNM)
	}
	if c := v.OfSpectra; c != nil {
		env.print("%s read %s under %s by its spectrum%s, %s, MCDM %s", v.Pour, c.Lab, c.Under, spaced(env.swatch(c.Lab.Color(c.Under))), figure.Count(c.Readings, "reading"), scatter(c.Readings, c.MCDM))
	}
	printTaken(env, v.Taken)
	if v.Verdict == nil {
		env.say("recipe %s is for no target, so there is nothing to hold the part against", v.Recipe)
		return
	}
	printVerdict(env, v.Verdict)
	if v.Verdict.Passes {
		env.say("if the client agrees: masstone approve %s --pour %s", v.Recipe, v.Pour)
	} else {
		env.say("what can be done: masstone correct %s", v.Pour)
	}
}
