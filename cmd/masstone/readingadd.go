package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes/figure"
	"masstone/recipes/papers"
	"masstone/recipes/workbench"
)

// typedReadings is what "reading add" was told, and the place it is for.
type typedReadings struct {
	workbench.AddReadingsRequest
	texts   []string // --lab
	reading readingFlags
	given   func(flag string) bool
}

func newReadingAddCommand(env *Env) *cobra.Command {
	var o typedReadings
	cmd := &cobra.Command{
		Use:   "add [target|backing|chip] [NAME]",
		Short: "Type in several readings of one piece",
		Long: `Takes several Lab readings of one piece, of a target, a backing or a chip: at the
prompt, which asks for what is missing; a line each from another program on
standard input; or with --lab, repeated. Every reading is checked as it comes. The
mean, how far the readings lie from it (MCDM, the mean CIEDE2000 from the mean) and
a reading that does not belong are told before anything is stored.

A chip of a plan needs its name or the code on its label, nothing else: what is in it
and what it lies on are as planned, unless told otherwise, and the light is the one it
was to be read under, where that is one.

A piece that the bench knows gets the readings beside those it has, or with
--replace in their place; the old card is kept. A card that someone else changed
while the readings were typed is not replaced. Where a target reads otherwise than
before, by more than readings of one piece differ, it asks: the same piece again
(--same-piece, averaged), or has it changed (--replace)? A new target takes --thickness,
--over and --tolerance; a new chip --phr (or --bare), --over, --thickness,
--chip-grams and --scale. A backing read so must be a grey, and its readings always
stand for themselves.

  masstone reading add target "Harbour lamp / housing" --illuminant D65
  masstone reading add masstone:chip/CLR/WH2-RD0.5-white
  masstone reading add chip RD-3 --phr WH=1,RD=0.2 --lab 61.2,38.9,21.4 --illuminant D65
  instrument | masstone reading add backing white --illuminant D65 --replace

` + jsonKeys(workbench.AddedReadings{}),
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 2 {
				return misusef("%s: %q is one argument too many; put names with spaces in quotes", cmd.CommandPath(), args[2])
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := o.about(args); err != nil {
				return err
			}
			o.given = cmd.Flags().Changed
			return runReadingAdd(cmd.Context(), env, &o)
		},
	}
	f := cmd.Flags()
	f.StringArrayVar(&o.texts, "lab", nil, "a reading, L,a,b (repeat it for every reading)")
	f.Var(wholes{&o.LeaveOut}, "leave-out", "`NUMBERS` of readings to leave out, from 1")
	f.StringVar(&o.Place.Client, "client", "", "client of the target")
	f.StringVar(&o.Place.Resin, "resin", "", "`CODE` of the resin of the chip")
	f.Var(loadings[calibrate.PHR]{inPHR, &o.Piece.Loadings}, "phr", "what is in a new chip, such as WH=1,RD=0.2")
	f.BoolVar(&o.Piece.Bare, "bare", false, "a new chip is of bare resin")
	numberVar(f, &o.Piece.ChipGrams, "chip-grams", inGrams, 0, "mixed resin in the cup of a new chip")
	thicknessSDVar(f, &o.Piece.ThicknessSDMM, "a new chip or of the part of a new target", usualMisses)
	scaleVar(f, &o.Piece.ScaleGrams, &o.Piece.ScaleChoice, ", else not known")
	f.StringVar(&o.Place.Instrument, "instrument", "", "`NAME` of the instrument (else the one in use)")
	addAperture(f, &o.Place.ApertureMM)
	numberVar(f, &o.Piece.Tolerance, "tolerance", inDE, 1, "largest difference the client of a new target accepts")
	f.BoolVar(&o.SamePiece, "same-piece", false, "average readings of a target with those it has although they differ")
	f.BoolVar(&o.Replace, "replace", false, "take the place of the readings the bench has")
	againVar(f, &o.Again)
	o.reading.addPiece(f, "white", 3)
	o.reading.addConditions(f)
	return cmd
}

// about reads the arguments: what the readings are of. A code says it all.
func (o *typedReadings) about(args []string) error {
	if len(args) == 1 && papers.IsRef(args[0]) {
		o.Place.Name = args[0]
		return nil
	}
	if len(args) > 0 {
		if err := o.setKind(args[0]); err != nil {
			return err
		}
	}
	if len(args) > 1 {
		o.Place.Name = strings.TrimSpace(args[1])
	}
	return nil
}

func (o *typedReadings) setKind(text string) (err error) {
	o.Place.Kind, err = workbench.ParsePieceKind(text)
	return err
}

func runReadingAdd(ctx context.Context, env *Env, o *typedReadings) error {
	d := env.dialogue()
	if env.Asks {
		if err := o.askWhat(ctx, d); err != nil {
			return err
		}
	}
	asks := env.Asks && len(o.texts) == 0
	return withBench(ctx, env, func(b *workbench.Bench) (err error) {
		if err := o.find(ctx, b, d); err != nil {
			return err
		}
		planned := o.Place.Planned != nil
		if planned {
			env.say("%s is of plan %s: %s", o.Place, o.Place.Plan, chipText(*o.Place.Planned))
		} else if o.Place.New && asks {
			if err := o.askNew(ctx, b, d); err != nil {
				return err
			}
		}
		if !planned || o.given("thickness") {
			o.Piece.ThicknessMM = o.reading.thickness
		}
		if !planned || o.given("over") {
			o.Piece.Over = o.reading.over
		}
		if err := workbench.CheckNewPiece(ctx, b, o.Place, o.Piece); err != nil {
			return err
		}
		if err := o.take(ctx, env, d); err != nil {
			return err
		}
		if asks {
			switch yes, err := o.askStore(ctx, env, d); {
			case err != nil:
				return err
			case !yes:
				env.say("nothing was stored")
				return nil
			}
		}
		o.Again = o.Again || asks // the person just typed them
		v, err := o.samePiece(ctx, env, func() (workbench.AddedReadings, error) { return workbench.AddReadings(ctx, b, o.AddReadingsRequest) })
		if err != nil {
			return err
		}
		if !asks { // else it was told before it was stored
			env.remark(v.Remarks)
		}
		if env.JSON {
			return env.emit(v)
		}
		if !asks {
			printScatter(env, o.Labs, v.ReadingScatter)
		}
		env.print("%s %s: mean of %s under %s %s, MCDM %.2f%s", tidy(o.Place.String()), v.Outcome, figure.Count(v.Readings, "reading"), v.Under, v.Lab, v.MCDM, spaced(env.swatch(v.Lab.Color(v.Under))))
		if v.InAll > v.Readings {
			env.print("with those it had before, %d under this light", v.InAll)
		}
		return nil
	})
}

// samePiece stores readings; where a target reads otherwise than before, a person
// at the prompt is asked whether it is the same piece.
func (o *typedReadings) samePiece(ctx context.Context, env *Env, store func() (workbench.AddedReadings, error)) (workbench.AddedReadings, error) {
	v, err := onceMore(ctx, env, &o.Again, store)
	var asked *workbench.Error
	if !env.Asks || !errors.As(err, &asked) || asked.Field != "same-piece" {
		return v, err
	}
	env.say("%s", err)
	switch yes, failed := env.dialogue().means(ctx, "average them, the piece is as it was?"); {
	case failed != nil:
		return v, err
	case yes:
		o.SamePiece = true
		return store()
	}
	if yes, failed := env.dialogue().means(ctx, "the piece has changed; a new card?"); failed != nil || !yes {
		return v, err
	}
	o.Replace = true
	return store()
}

// find finds the card of the piece; at the prompt it asks for the light where the
// plan of the chip does not say it.
func (o *typedReadings) find(ctx context.Context, b *workbench.Bench, d *dialogue) (err error) {
	p := o.Place.PlaceRequest
	p.Measurement = o.reading.said()
	for {
		p.Condition = color.Condition{Illuminant: o.reading.illuminant, Observer: o.reading.observer}
		var asked *workbench.Error
		o.Place, err = workbench.Place(ctx, b, p)
		if !errors.As(err, &asked) || asked.Field != "illuminant" || !d.env.Asks || o.reading.illuminant != "" {
			return err
		}
		if err := o.askLight(ctx, d); err != nil {
			return err
		}
	}
}

// chipText is a chip as it was cast.
func chipText(n workbench.NewPiece) string {
	what := "bare resin"
	if len(n.Loadings) > 0 {
		what = figure.Loadings(n.Loadings)
	}
	return fmt.Sprintf("%s, %s mm, over %s", what, figure.Short(n.ThicknessMM), n.Over)
}

// take takes the readings: from --lab, from the prompt, or line by line.
func (o *typedReadings) take(ctx context.Context, env *Env, d *dialogue) error {
	add := func(text string, number int) error {
		c, err := workbench.CheckReading(o.Place, number, text)
		if err != nil {
			return err
		}
		env.remark(c.Remarks)
		o.Labs = append(o.Labs, c.Lab)
		return nil
	}
	for i, text := range o.texts {
		if err := add(text, i+1); err != nil {
			return fmt.Errorf("--lab %w", err)
		}
	}
	if len(o.texts) > 0 {
		return nil
	}
	if env.Asks {
		env.say("Type the readings under %s as L a b, each on a line; - takes the last one back, an empty line ends.", o.Place.Condition)
	}
	var bad []error
	for {
		if env.Asks {
			fmt.Fprintf(env.Stderr, "reading %d: ", len(o.Labs)+1)
		}
		text, err := d.next(ctx)
		switch {
		case err == io.EOF, err == nil && text == "" && env.Asks && len(o.Labs) > 0:
			switch {
			case len(bad) > 0:
				return errors.Join(bad...)
			case len(o.Labs) > 0:
				return nil
			case env.Asks:
				return errEnded
			}
			return fmt.Errorf("standard input holds no reading of %s; pipe lines of L a b, or say --lab L,a,b", o.Place)
		case err != nil:
			return err
		case text == "", strings.HasPrefix(text, "#") && !env.Asks:
			continue
		case text == "-" && env.Asks:
			o.Labs = o.Labs[:max(0, len(o.Labs)-1)]
			continue
		}
		if err := add(text, d.line); err == nil {
			continue
		} else if env.Asks {
			env.say("  %s", err)
		} else if len(bad) < 20 { // in the input, no wrong use
			bad = append(bad, fmt.Errorf("standard input:%d: %v", d.line, err))
		}
	}
}

// printScatter shows readings of one piece and how far each lies from the mean.
func printScatter(env *Env, labs []color.Lab, s workbench.ReadingScatter) {
	t := newTable(">reading", ">L*", ">a*", ">b*", ">dE00 from mean", "")
	line := func(name string, lab color.Lab, more ...string) {
		t.add(append([]string{name, fmt.Sprintf("%.2f", lab.L), fmt.Sprintf("%.2f", lab.A), fmt.Sprintf("%.2f", lab.B)}, more...)...)
		t.paint(env.swatch(lab))
	}
	from := s.From
	for i, lab := range labs {
		if slices.Contains(s.LeftOut, i+1) {
			continue
		}
		remark := ""
		if s.Outlier != nil && *s.Outlier == i+1 {
			remark = "does not belong"
		}
		line(fmt.Sprint(i+1), lab, fmt.Sprintf("%.2f", from[0]), remark)
		from = from[1:]
	}
	line("mean", s.Lab.Color(s.Under), fmt.Sprintf("%.2f", s.MCDM), "MCDM")
	t.print(env.Stdout)
}
