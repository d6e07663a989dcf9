package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes/archive"
	"masstone/recipes/papers"
)

type readingAddOptions struct {
	kind, name, client, resin string
	labs                      []string
	leaveOut                  []int
	phr                       map[string]float64
	bare                      bool
	chipGrams, scale          float64
	tolerance                 float64
	replace                   bool
	reading                   readingFlags
}

// readKinds are what readings are typed for.
var readKinds = []string{"target", "backing", "chip"}

func newReadingAddCommand(env *Env) *cobra.Command {
	var o readingAddOptions
	cmd := &cobra.Command{
		Use:   "add [target|backing|chip] [NAME]",
		Short: "Type in several readings of one piece",
		Long: `Takes several Lab readings of one piece, of a target, a backing or a chip: at the
prompt, which asks for what is missing; a line each from another program on
standard input; or with --lab, repeated. Every reading is checked as it comes. The
mean, how far the readings lie from it (MCDM, the mean CIEDE2000 from the mean) and
a reading that does not belong are told before anything is stored.

A piece that the bench knows gets the readings beside those it has, or with
--replace in their place; the old card is kept. A new target takes --thickness,
--over and --tolerance; a new chip --phr (or --bare), --over, --thickness,
--chip-grams and --scale. A backing read so must be a grey, and its readings always
stand for themselves.

  masstone reading add target "Harbour lamp / housing" --illuminant D65
  masstone reading add chip RD-3 --phr WH=1,RD=0.2 --lab 61.2,38.9,21.4 --illuminant D65
  instrument | masstone reading add backing white --illuminant D65 --replace

JSON keys: outcome (added, changed, unchanged), kind, name, under, lab (the mean),
readings (how many went in), mcdm, outlier (number of a reading that does not
belong, from 1), from_mean_dE00 (of each reading), left_out (numbers), in_all (how
many the piece has under this light now).`,
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
			return runReadingAdd(cmd.Context(), env, o, cmd.Flags().Changed)
		},
	}
	f := cmd.Flags()
	f.StringArrayVar(&o.labs, "lab", nil, "a reading, L,a,b (repeat it for every reading)")
	f.IntSliceVar(&o.leaveOut, "leave-out", nil, "`NUMBERS` of readings to leave out, from 1")
	f.StringVar(&o.client, "client", "", "client of the target")
	f.StringVar(&o.resin, "resin", "", "`CODE` of the resin of the chip")
	f.Var(loadings[float64]{inPHR, &o.phr}, "phr", "what is in a new chip, such as WH=1,RD=0.2")
	f.BoolVar(&o.bare, "bare", false, "a new chip is of bare resin")
	numberVar(f, &o.chipGrams, "chip-grams", inGrams, 0, "mixed resin in the cup of a new chip")
	numberVar(f, &o.scale, "scale", inGrams, 0, "step of the scale a new chip was weighed on")
	numberVar(f, &o.tolerance, "tolerance", inDE, 1, "largest difference the client of a new target accepts")
	f.BoolVar(&o.replace, "replace", false, "take the place of the readings the bench has")
	o.reading.addPiece(f, "white", 3)
	o.reading.addConditions(f)
	return cmd
}

// about reads the arguments: what the readings are of.
func (o *readingAddOptions) about(args []string) error {
	if len(args) == 1 && isCode(args[0]) {
		ref, err := papers.ParseRef(args[0])
		if err != nil {
			return misuse{err}
		}
		args = []string{ref.Kind, ref.Names[len(ref.Names)-1]}
		if len(ref.Names) > 1 {
			o.client, o.resin = firstText(o.client, ref.Names[0]), firstText(o.resin, ref.Names[0])
		}
	}
	if len(args) > 0 {
		if err := o.setKind(args[0]); err != nil {
			return misuse{err}
		}
	}
	if len(args) > 1 {
		o.name = strings.TrimSpace(args[1])
	}
	return nil
}

func (o *readingAddOptions) setKind(text string) error {
	text = strings.ToLower(strings.TrimSpace(text))
	if !slices.Contains(readKinds, text) {
		return fmt.Errorf("%q: readings are of a target, a backing or a chip; masstone reading add target NAME", text)
	}
	o.kind = text
	return nil
}

func (o *readingAddOptions) setName(text string) error {
	if o.name = strings.TrimSpace(text); o.name == "" {
		return errors.New("give the name it goes by")
	}
	return nil
}

func runReadingAdd(ctx context.Context, env *Env, o readingAddOptions, given func(string) bool) error {
	d := env.dialogue()
	if err := o.settle(ctx, env, d); err != nil {
		return err
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		place, err := newPlace(ctx, b, &o)
		if err != nil {
			return err
		}
		if place.fresh && o.asks(env) {
			if err := place.describe(ctx, b, d, &o, given); err != nil {
				return err
			}
		}
		if place.fresh && o.kind == "chip" && len(o.phr) == 0 && !o.bare {
			return misusef("chip %s is new: say what is in it, --phr CODE=PHR,..., or --bare", o.name)
		}
		rows, err := o.take(ctx, env, d)
		if err != nil {
			return err
		}
		rows, left, err := o.sift(ctx, env, d, rows)
		if err != nil {
			return err
		}
		piece, err := onePiece(o.name, rows)
		if err != nil {
			return err
		}
		if o.asks(env) {
			switch yes, err := d.agrees(ctx, fmt.Sprintf("Store this as the reading of %s %q?", o.kind, o.name)); {
			case err != nil:
				return err
			case !yes:
				env.say("nothing was stored")
				return nil
			}
		}
		outcome, all, err := place.store(ctx, b, o, rows)
		if err != nil {
			return err
		}
		return o.report(env, outcome, piece, left, all)
	})
}

// settle asks for, or demands, what every reading needs: of what, and under
// which light.
func (o *readingAddOptions) settle(ctx context.Context, env *Env, d *dialogue) error {
	if !env.Asks {
		switch {
		case o.kind == "":
			return misusef("reading add: of what? masstone reading add target NAME, backing NAME or chip NAME")
		case o.name == "":
			return misusef("reading add %s: NAME is missing", o.kind)
		case o.reading.illuminant == "":
			return misusef("%s %q: --illuminant is missing; say under which light it was read, such as --illuminant D65 --observer 10", o.kind, o.name)
		}
		return o.checkHow()
	}
	if o.kind == "" {
		if err := d.until(ctx, "Readings of a target, a backing or a chip", "target", o.setKind); err != nil {
			return err
		}
	}
	if o.name == "" {
		if err := d.until(ctx, "Name of the "+o.kind, "", o.setName); err != nil {
			return err
		}
	}
	if o.reading.illuminant == "" {
		err := d.until(ctx, "Read under which light and observer", "D65/10", func(text string) error {
			c, err := color.ParseCondition(text)
			if err != nil {
				c.Observer = o.reading.condition().Observer
				if c.Illuminant, err = color.ParseIlluminant(text); err != nil {
					return err
				}
			}
			o.reading.illuminant, o.reading.observer = c.Illuminant, c.Observer
			return nil
		})
		if err != nil {
			return err
		}
	}
	return o.checkHow()
}

func (o *readingAddOptions) checkHow() error {
	if err := o.reading.measurement().Check(); err != nil {
		return misuse{fmt.Errorf("--specular: %w", err)}
	}
	return nil
}

// take takes the readings: from --lab, from the prompt, or line by line.
func (o *readingAddOptions) take(ctx context.Context, env *Env, d *dialogue) ([]readings.Row, error) {
	under, how := o.reading.condition(), o.reading.measurement()
	var rows []readings.Row
	add := func(text string, line int) error {
		lab, err := readings.Typed(text, under)
		if err != nil {
			return err
		}
		row := readings.Row{Line: line, Name: o.name, Labs: []color.Lab{lab}, Measurement: how}
		warnings, err := readings.Judge("reading", []readings.Row{row})
		if err != nil {
			return err
		}
		for _, w := range warnings {
			env.say("warning: %s", w.Error())
		}
		rows = append(rows, row)
		return nil
	}
	for i, text := range o.labs {
		if err := add(text, i+1); err != nil {
			return nil, misuse{fmt.Errorf("--lab %w", err)}
		}
	}
	if len(o.labs) > 0 {
		return rows, nil
	}
	if env.Asks {
		env.say("Type the readings under %s as L a b, each on a line; - takes the last one back, an empty line ends.", under)
	}
	var bad []error
	for {
		if env.Asks {
			fmt.Fprintf(env.Stderr, "reading %d: ", len(rows)+1)
		}
		text, err := d.next(ctx)
		switch {
		case err == io.EOF, err == nil && text == "" && env.Asks && len(rows) > 0:
			if len(bad) > 0 {
				return nil, errors.Join(bad...)
			}
			if len(rows) == 0 && env.Asks {
				return nil, errEnded
			}
			if len(rows) == 0 {
				return nil, fmt.Errorf("standard input holds no reading of %s %q; pipe lines of L a b, or say --lab L,a,b", o.kind, o.name)
			}
			return rows, nil
		case err != nil:
			return nil, err
		case text == "", strings.HasPrefix(text, "#") && !env.Asks:
			continue
		case text == "-" && env.Asks:
			rows = rows[:max(0, len(rows)-1)]
			continue
		}
		if err := add(text, d.line); err == nil {
			continue
		} else if env.Asks {
			env.say("  %v", err)
		} else if len(bad) < 20 {
			bad = append(bad, fmt.Errorf("standard input:%d: %w", d.line, err))
		}
	}
}

// asks tells whether readings are typed at the prompt.
func (o *readingAddOptions) asks(env *Env) bool { return env.Asks && len(o.labs) == 0 }

// sift tells how the readings scatter and leaves out those that are not to
// count.
func (o *readingAddOptions) sift(ctx context.Context, env *Env, d *dialogue, rows []readings.Row) (kept []readings.Row, left []int, err error) {
	for _, n := range o.leaveOut {
		if n < 1 || n > len(rows) {
			return nil, nil, misusef("--leave-out %d: there are %s; give numbers from 1", n, plural(len(rows), "reading"))
		}
	}
	left = slices.Compact(slices.Sorted(slices.Values(o.leaveOut)))
	for {
		kept = nil
		var numbers []int
		for i, r := range rows {
			if !slices.Contains(left, i+1) {
				kept, numbers = append(kept, r), append(numbers, i+1)
			}
		}
		if len(kept) == 0 {
			return nil, nil, fmt.Errorf("%s %q: no reading is left; nothing was stored", o.kind, o.name)
		}
		piece, err := onePiece(o.name, kept)
		if err != nil {
			return nil, nil, err
		}
		r := piece.Repeat[0]
		if o.asks(env) { // else with the report, once it is stored
			if err := printScatter(env, kept, left, r); err != nil {
				return nil, nil, err
			}
		}
		if r.Outlier < 0 {
			return kept, left, nil
		}
		odd := numbers[r.Outlier]
		if !o.asks(env) {
			env.say("warning: reading %d does not belong to the others; read the piece again, or add --leave-out %d", odd, odd)
			return kept, left, nil
		}
		yes, err := d.agrees(ctx, fmt.Sprintf("Reading %d does not belong to the others. Leave it out?", odd))
		if err != nil {
			return nil, nil, err
		}
		if !yes {
			return kept, left, nil
		}
		left = append(left, odd)
	}
}

// printScatter shows readings of one piece and how far each lies from the mean.
// Those left out keep their numbers.
func printScatter(env *Env, rows []readings.Row, left []int, r color.Repeatability) error {
	t := newTable(">reading", ">L*", ">a*", ">b*", ">dE00 from mean", "")
	line := func(name string, lab color.Lab, more ...string) {
		t.add(append([]string{name, fmt.Sprintf("%.2f", lab.L), fmt.Sprintf("%.2f", lab.A), fmt.Sprintf("%.2f", lab.B)}, more...)...)
		t.paint(env.swatch(lab))
	}
	number := 0
	for i, row := range rows {
		de, err := row.Labs[0].DeltaE00(r.Mean)
		if err != nil {
			return err
		}
		for number++; slices.Contains(left, number); number++ {
		}
		remark := ""
		if i == r.Outlier {
			remark = "does not belong"
		}
		line(fmt.Sprint(number), row.Labs[0], fmt.Sprintf("%.2f", de), remark)
	}
	line("mean", r.Mean, fmt.Sprintf("%.2f", r.MCDM), "MCDM")
	t.print(env.Stdout)
	return nil
}

// report says what was stored.
func (o *readingAddOptions) report(env *Env, outcome archive.Outcome, piece readings.Piece, left []int, all int) error {
	r := piece.Repeat[0]
	if env.JSON {
		var from []fig
		for _, row := range piece.Readings {
			de, err := row.Labs[0].DeltaE00(r.Mean)
			if err != nil {
				return err
			}
			from = append(from, fig(de))
		}
		if left == nil {
			left = []int{}
		}
		return env.emit(struct {
			Outcome archive.Outcome `json:"outcome"`
			Kind    string          `json:"kind"`
			Name    string          `json:"name"`
			scatterView
			From []fig `json:"from_mean_dE00"`
			Left []int `json:"left_out"`
			All  int   `json:"in_all"`
		}{outcome, o.kind, o.name, viewScatter(piece)[0], from, left, all})
	}
	if !o.asks(env) {
		if err := printScatter(env, piece.Readings, left, r); err != nil {
			return err
		}
	}
	env.print("%s %q %s: mean of %s under %s %s, MCDM %.2f%s", o.kind, tidy(o.name), outcome, plural(len(piece.Readings), "reading"),
		r.Mean.Under, labText(r.Mean), r.MCDM, spaced(env.swatch(r.Mean)))
	if all > len(piece.Readings) {
		env.print("with those it had before, %d under this light", all)
	}
	return nil
}
