package main

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"masstone/color/readings"
	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func newReadingCheckCommand(env *Env) *cobra.Command {
	var r workbench.CheckFileRequest
	var reading readingFlags
	var rows int
	cmd := &cobra.Command{
		Use:   "check FILE",
		Short: "Show what a file of readings holds, and store nothing",
		Long: `Shows what a file holds as it would be taken in: the format that was found, the
kind of content, the conditions, every piece with the mean and the scatter of its
readings, and what is doubtful. "-" is standard input. CSV, text drawn with bars or
blanks, XLSX, ODS, ISO 28178 text and ISO 17972-1 XML (CxF3) are told apart by their
content.

Where a file holds several ways of reading one piece, --specular, --geometry or
--m-condition takes one. An option that contradicts the file is refused.

Pigment columns are those of the bench, where there is one, and of --pigments.

` + jsonKeys(workbench.CheckedFile{}),
		Args: needs("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if rows < 0 {
				return misusef("--rows %d: is out of range; give 0 or more", rows)
			}
			return reading.opened(cmd.Context(), env, args[0], func(f *workbench.File) error {
				r.File = *f
				return runReadingCheck(cmd.Context(), env, r, rows, func(v workbench.CheckedFile) string { return takeIn(cmd, v, args[0]) })
			})
		},
	}
	f := cmd.Flags()
	f.StringSliceVar(&r.Pigments, "pigments", nil, "`CODES` of pigments whose columns are loadings")
	wholeVar(f, &rows, "rows", 40, "most pieces to list, 0 for all")
	reading.addPiece(f, "", 0)
	reading.addConditions(f)
	reading.addLayout(f)
	reading.addPercent(f)
	f.BoolVar(&reading.repeats, "repeats", true, "rows of one name are readings of one piece; =false refuses them")
	return cmd
}

func runReadingCheck(ctx context.Context, env *Env, r workbench.CheckFileRequest, rows int, next func(workbench.CheckedFile) string) error {
	return atAnyBench(ctx, env, func(b *workbench.Bench) error {
		v, err := workbench.CheckFile(ctx, b, r)
		if err != nil {
			return err
		}
		env.remark(v.Remarks)
		if env.JSON {
			return env.emit(v)
		}
		printFile(env, v, rows)
		env.print("nothing was stored; to take it in: %s", next(v))
		return nil
	})
}

func printFile(env *Env, v workbench.CheckedFile, rows int) {
	env.print("%s holds %s", tidy(v.File), kindText(v.Kind))
	for _, n := range v.Notes {
		env.print("  %s", tidy(n))
	}
	for _, a := range v.Assumed {
		env.print("  %s; if not, say --geometry and --specular", a)
	}
	if v.Kind == readings.PigmentsKind {
		t := newTable("code", "CI name", "name", ">density", ">max phr", ">price/kg")
		for _, c := range v.Cards {
			t.add(c.Code, c.CIName, c.Name, numberOr(c.Density, "-"), numberOr(c.MaxPHR, "-"), numberOr(c.PricePerKG, "-"))
		}
		t.print(env.Stdout)
	} else {
		printPieces(env, v.Pieces, v.Kind != readings.SamplesKind, rows)
	}
}

// numberOr writes a number that may not be known.
func numberOr(n *figure.Number, otherwise string) string {
	if n == nil {
		return otherwise
	}
	return figure.Short(float64(*n))
}

func printPieces(env *Env, pieces []workbench.FilePiece, poured bool, most int) {
	heads := []string{"piece"}
	if poured {
		heads = append(heads, "loadings (phr)", "over", ">mm")
	}
	t := newTable(append(heads, "read", ">readings", ">MCDM", "")...)
	for i, p := range pieces {
		if most > 0 && i == most {
			break
		}
		cells := []string{p.Name}
		if poured {
			cells = append(cells, figure.Loadings(p.Loadings), cmp.Or(p.Over, "-"), numberOr(p.ThicknessMM, "-"))
		}
		mcdm, remark := "-", ""
		colors := p.Colors
		if p.OfSpectra != nil {
			colors = append(slices.Clone(colors), p.OfSpectra.MeanReading)
		}
		if len(colors) > 0 {
			mcdm = scatter(p.Readings, colors[0].MCDM)
		}
		for i, c := range colors {
			if c.Outlier != nil && i < len(p.Colors) {
				remark = fmt.Sprintf("reading %d does not belong under %s", *c.Outlier, c.Under)
			} else if c.Outlier != nil {
				remark = fmt.Sprintf("spectrum %d does not belong", *c.Outlier)
			}
		}
		t.add(append(cells, pieceRead(p), fmt.Sprint(p.Readings), mcdm, remark)...)
		if len(colors) > 0 {
			t.paint(env.swatch(colors[0].Lab.Color(colors[0].Under)))
		}
	}
	t.print(env.Stdout)
	if more := len(pieces) - most; most > 0 && more > 0 {
		env.print("and %d more; --rows 0 lists all", more)
	}
}

// pieceRead says in short what was read of a piece of a file.
func pieceRead(p workbench.FilePiece) string {
	var parts []string
	if len(p.Colors) > 0 {
		text := p.Colors[0].Lab.String() + " " + p.Colors[0].Under
		if more := len(p.Colors) - 1; more > 0 {
			text += " and " + figure.Count(more, "light")
		}
		parts = append(parts, text)
	}
	switch c := p.OfSpectra; {
	case c != nil && len(p.Colors) == 0:
		parts = append(parts, "spectrum, "+c.Lab.String()+" "+c.Under)
	case p.Spectrum != nil:
		parts = append(parts, "spectrum")
	}
	return cmp.Or(figure.List(parts), "-")
}

// takeIn is the command that would take a file in as it was read here.
func takeIn(check *cobra.Command, v workbench.CheckedFile, file string) string {
	name, verb, rest := quoted(file), []string{"target", "add"}, "NAME --file "
	switch v.Kind {
	case readings.ChipsKind:
		verb, rest = []string{"chip", "import"}, ""
		name += " --resin CODE"
		if slices.ContainsFunc(v.Pieces, func(p workbench.FilePiece) bool { return p.Readings > 1 }) {
			name += " --repeats"
		}
	case readings.MixturesKind:
		verb, rest = []string{"predict"}, "CODE --file "
	case readings.PigmentsKind:
		verb, rest = []string{"pigment", "import"}, ""
	default:
		if len(v.Pieces) > 1 {
			name += " --row NAME"
		}
	}
	to, _, err := check.Root().Find(verb)
	if err != nil {
		return ""
	}
	return to.CommandPath() + " " + rest + name + again(check.Flags(), to)
}
