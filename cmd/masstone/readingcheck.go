package main

import (
	"context"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"masstone/color/readings"
	"masstone/recipes/archive"
)

type readingCheckOptions struct {
	file     string
	pigments []string
	rows     int
	reading  readingFlags
}

func newReadingCheckCommand(env *Env) *cobra.Command {
	var o readingCheckOptions
	cmd := &cobra.Command{
		Use:   "check FILE",
		Short: "Show what a file of readings holds, and store nothing",
		Long: `Shows what a file holds as it would be taken in: the format that was found, the
kind of content, the conditions, every piece with the mean and the scatter of its
readings, and what is doubtful. "-" is standard input. CSV, XLSX, ISO 28178 text
and ISO 17972-1 XML (CxF3) are told apart by their content.

Pigment columns are those of the bench, where there is one, and of --pigments.

JSON keys: file, kind (chips, mixtures, readings, pigments), notes (what was
understood), warnings, lights, measurements, pigments (codes), pieces (a list of
name, row, loadings_phr, over, thickness_mm, geometry, specular, colors (a list of
under, lab, readings, mcdm, outlier (number of a reading that does not belong, from
1)), spectrum (first_nm, step_nm, r), readings, note), cards (of a pigment list,
keys of "pigment list").`,
		Args: needs("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.file = args[0]
			return runReadingCheck(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	f.StringSliceVar(&o.pigments, "pigments", nil, "`CODES` of pigments whose columns are loadings")
	f.IntVar(&o.rows, "rows", 40, "most pieces to list, 0 for all")
	o.reading.addPiece(f, "", 0)
	o.reading.addConditions(f)
	o.reading.addLayout(f)
	o.reading.addPercent(f)
	f.BoolVar(&o.reading.repeats, "repeats", true, "rows of one name are readings of one piece; =false refuses them")
	return cmd
}

// pieceView is a piece of a file in JSON.
type pieceView struct {
	Name        string            `json:"name"`
	Row         int               `json:"row"`
	Loadings    map[string]fig    `json:"loadings_phr,omitempty"`
	Over        string            `json:"over,omitempty"`
	ThicknessMM *fig              `json:"thickness_mm,omitempty"`
	Geometry    string            `json:"geometry,omitempty"`
	Specular    string            `json:"specular,omitempty"`
	Colors      []scatterView     `json:"colors"`
	Spectrum    *archive.Spectrum `json:"spectrum,omitempty"`
	Readings    int               `json:"readings"`
	Note        string            `json:"note,omitempty"`
}

func viewPiece(p readings.Piece) pieceView {
	v := pieceView{Name: p.Name, Row: p.Line, Loadings: figures(p.Loadings), Over: p.Backing, ThicknessMM: optional(p.ThicknessMM),
		Geometry: string(p.Measurement.Geometry), Specular: string(p.Measurement.Specular), Colors: viewScatter(p), Readings: timesRead(p), Note: p.Note}
	if p.Spectrum != nil {
		s := archive.SpectrumOf(*p.Spectrum)
		v.Spectrum = &s
	}
	return v
}

func runReadingCheck(ctx context.Context, env *Env, o readingCheckOptions) error {
	if o.rows < 0 {
		return misusef("--rows %d: is out of range; give 0 or more", o.rows)
	}
	options, err := asSaid(&o.reading, o.file, benchPigments(ctx, env, o.pigments))
	if err != nil {
		return err
	}
	got, err := readFile(env, o.file, options)
	if err != nil {
		return err
	}
	pieces, err := readings.Pieces(options.File, got.Table.Rows)
	if err != nil {
		return err
	}
	for _, p := range pieces {
		for _, w := range p.Warnings {
			env.say("warning: %s", w.Error())
		}
	}
	cards := make([]pigmentView, len(got.Pigments))
	for i, p := range got.Pigments {
		cards[i] = viewPigment(cardOf(p))
	}
	if env.JSON {
		views := make([]pieceView, len(pieces))
		for i, p := range pieces {
			views[i] = viewPiece(p)
		}
		warnings := []string{}
		for _, w := range got.Table.Warnings {
			warnings = append(warnings, w.Error())
		}
		for _, p := range pieces {
			for _, w := range p.Warnings {
				warnings = append(warnings, w.Error())
			}
		}
		return env.emit(struct {
			File     string        `json:"file"`
			Kind     readings.Kind `json:"kind"`
			Notes    []string      `json:"notes"`
			Warnings []string      `json:"warnings"`
			Lights   []string      `json:"lights"`
			Ways     []string      `json:"measurements"`
			Pigments []string      `json:"pigments"`
			Pieces   []pieceView   `json:"pieces"`
			Cards    []pigmentView `json:"cards,omitempty"`
		}{options.File, got.Kind, append([]string{}, got.Table.Notes...), warnings, lightsUnder(pieces), waysOf(pieces), append([]string{}, got.Table.Pigments...), views, cards})
	}
	env.print("%s holds %s", tidy(options.File), kindText(got.Kind))
	for _, n := range got.Table.Notes {
		env.print("  %s", tidy(n))
	}
	for _, w := range waysOf(pieces) {
		if w == notSaid {
			w = fmt.Sprintf("in a way that is not said: taken as %s, or say --geometry and --specular", (&readingFlags{}).measurement())
		}
		env.print("  read %s", w)
	}
	if got.Kind == readings.PigmentsKind {
		t := newTable("code", "CI name", "name", ">density", ">max phr", ">price/kg")
		for _, p := range got.Pigments {
			c := cardOf(p)
			t.add(c.Code, c.CIName, c.Name, known(c.Density, ""), known(c.MaxPHR, ""), known(c.PricePerKG, ""))
		}
		t.print(env.Stdout)
	} else {
		printPieces(env, pieces, got.Kind != readings.SamplesKind, o.rows)
	}
	env.print("nothing was stored; to take it in: %s", takeIn(got.Kind, o.file))
	return nil
}

// benchPigments are the codes of the shelf, where there is one, and others.
func benchPigments(ctx context.Context, env *Env, more []string) []string {
	codes := slices.Clone(more)
	path, _, err := env.benchPath()
	if err != nil {
		return codes
	}
	b, err := archive.Open(ctx, path, env.archiveOptions())
	if err != nil {
		return codes // a file can be looked at without a bench
	}
	defer b.Close()
	shelf, err := pigmentCodes(ctx, b)
	if err != nil {
		return codes
	}
	for _, c := range shelf {
		if !slices.Contains(codes, c) {
			codes = append(codes, c)
		}
	}
	return codes
}

func printPieces(env *Env, pieces []readings.Piece, poured bool, most int) {
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
			cells = append(cells, recipeText(p.Loadings, " ", ", "), firstText(p.Backing, "-"), known(p.ThicknessMM, ""))
		}
		mcdm, remark := "-", ""
		if len(p.Repeat) > 0 && timesRead(p) > 1 {
			mcdm = fmt.Sprintf("%.2f", p.Repeat[0].MCDM)
		}
		for k, r := range p.Repeat {
			if r.Outlier >= 0 {
				remark = fmt.Sprintf("reading %d does not belong under %s", r.Outlier+1, p.Labs[k].Under)
			}
		}
		t.add(append(cells, firstText(readText(p), "-"), fmt.Sprint(timesRead(p)), mcdm, remark)...)
		if len(p.Labs) > 0 {
			t.paint(env.swatch(p.Labs[0]))
		}
	}
	t.print(env.Stdout)
	if more := len(pieces) - most; most > 0 && more > 0 {
		env.print("and %d more; --rows 0 lists all", more)
	}
}

// takeIn is the command that would take a file in.
func takeIn(k readings.Kind, file string) string {
	switch name := quoted(file); k {
	case readings.ChipsKind:
		return "masstone chip import " + name + " --resin CODE"
	case readings.MixturesKind:
		return "masstone predict CODE --file " + name
	case readings.PigmentsKind:
		return "masstone pigment import " + name
	default:
		return "masstone target add NAME --file " + name
	}
}
