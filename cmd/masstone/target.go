package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes"
	"masstone/recipes/archive"
)

func newTargetCommand(env *Env) *cobra.Command {
	return newFamily("target", "Colours to match: add, list, show", newTargetAddCommand(env), newTargetListCommand(env), newTargetShowCommand(env))
}

type targetOptions struct {
	name, client, part, note string
	labs                     []string
	file, row                string
	reading                  readingFlags
	tolerance                float64
	formula                  color.Formula
	limits                   map[string]float64
	replace                  bool
}

const targetKeys = `target, client, part,
thickness_mm, over, geometry, specular, tolerance, formula, limits (by axis), colors
(a list of under, lab, readings, mcdm, outlier (number of a reading that does not
belong, from 1), swatch, swatch_in_gamut), spectrum (first_nm, step_nm, r),
note`

func newTargetAddCommand(env *Env) *cobra.Command {
	o := targetOptions{formula: color.CIEDE2000}
	cmd := &cobra.Command{
		Use:   "add NAME (--lab L,a,b ... | --file FILE)",
		Short: "Add a colour to match",
		Long: `Adds a colour to match: readings of a part, typed with --lab (say it again for
every reading of the same piece) or from a file of readings. Several readings are
averaged; their scatter is told, and a reading that does not belong is named.

--thickness and --over say what the cast part will be: its thickness, and what
lies behind it.

  masstone target add "Harbour lamp / housing" --client "Tern Lighting" \
      --lab 61.2,38.9,21.4 --lab 61.3,38.7,21.5 --illuminant D65 --observer 10 \
      --thickness 3 --tolerance 1.0

JSON keys: outcome (added, unchanged, changed), ` + targetKeys + `.`,
		Args: needs("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.name = args[0]
			if len(o.limits) > 0 && !cmd.Flags().Changed("tolerance") {
				o.tolerance = 0 // the limits alone count
			}
			return runTargetAdd(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.client, "client", "", "who the part is for")
	f.StringVar(&o.part, "part", "", "the client's part")
	f.StringArrayVar(&o.labs, "lab", nil, "a reading, L,a,b (repeat it for every reading)")
	f.StringVar(&o.file, "file", "", "`FILE` with readings of the part, - for standard input")
	f.StringVar(&o.file, "spectrum", "", "the same as --file")
	f.StringVar(&o.row, "row", "", "`NAME` of the readings in the file, if it has several pieces")
	numberVar(f, &o.tolerance, "tolerance", inDE, 1, "largest difference the client accepts")
	f.Var(parsed[color.Formula]{&o.formula, color.ParseFormula, func(x color.Formula) string { return string(x) }, "name"}, "formula", "colour difference of the tolerance, such as CMC(2:1)")
	f.Var(axisLimits{&o.limits}, "limits", "largest difference the client accepts along single axes, such as L=0.8,a=0.5,b=0.5 (of L, a, b, C, H; alone, or beside --tolerance)")
	f.StringVar(&o.note, "note", "", "remark kept with the target")
	f.BoolVar(&o.replace, "replace", false, "replace the target of this name")
	o.reading.addPiece(f, "white", 3)
	o.reading.addConditions(f)
	o.reading.addLayout(f)
	o.reading.addPercent(f)
	return cmd
}

func runTargetAdd(ctx context.Context, env *Env, o targetOptions) error {
	rows, err := targetRows(env, o)
	if err != nil {
		return err
	}
	t := archive.Target{Client: o.client, Part: o.part, Name: o.name, Readings: readingsOf(rows), ThicknessMM: o.reading.thickness,
		Backing: o.reading.over, Tolerance: o.tolerance, Formula: string(o.formula), Limits: o.limits, Note: o.note}
	piece, err := pieceOf(t.Name, t.Readings)
	if err != nil {
		return err
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		outcome, err := b.PutTarget(ctx, t, onChange(o.replace))
		if err != nil {
			return advise(err, "add --replace to replace the target, or give it another name")
		}
		if env.JSON {
			return env.emit(struct {
				Outcome archive.Outcome `json:"outcome"`
				targetView
			}{outcome, viewTarget(t, piece)})
		}
		env.print("target %q%s %s", tidy(t.Name), forClient(t.Client), outcome)
		printTarget(env, t, piece)
		return nil
	})
}

// targetRows are the readings typed or in the file.
func targetRows(env *Env, o targetOptions) ([]readings.Row, error) {
	if (len(o.labs) == 0) == (o.file == "") {
		return nil, misusef("target %q: give readings, either --lab L,a,b (repeated) or --file FILE", o.name)
	}
	if o.file != "" {
		return readSamples(env, o.file, o.row, &o.reading)
	}
	if o.reading.illuminant == "" {
		return nil, misusef("target %q: --illuminant is missing; say under which light --lab was read, such as --illuminant D65 --observer 10", o.name)
	}
	how := o.reading.measurement()
	if err := how.Check(); err != nil {
		return nil, misuse{fmt.Errorf("--specular: %w", err)}
	}
	rows := make([]readings.Row, len(o.labs))
	for i, text := range o.labs {
		lab, err := readings.Typed(text, o.reading.condition())
		if err != nil {
			return nil, misuse{fmt.Errorf("--lab %w", err)}
		}
		rows[i] = readings.Row{Line: i + 1, Name: o.name, Labs: []color.Lab{lab}, Measurement: how}
	}
	return rows, nil
}

func forClient(client string) string {
	if client == "" {
		return ""
	}
	return " for " + tidy(client)
}

// targetView is a target in JSON.
type targetView struct {
	Target    string            `json:"target"`
	Client    string            `json:"client,omitempty"`
	Part      string            `json:"part,omitempty"`
	Thickness fig               `json:"thickness_mm"`
	Over      string            `json:"over"`
	Geometry  string            `json:"geometry"`
	Specular  string            `json:"specular"`
	Tolerance fig               `json:"tolerance"`
	Formula   string            `json:"formula"`
	Limits    map[string]fig    `json:"limits,omitempty"`
	Colors    []targetColorView `json:"colors"`
	Spectrum  *archive.Spectrum `json:"spectrum,omitempty"`
	Note      string            `json:"note,omitempty"`
}

type targetColorView struct {
	Under    string  `json:"under"`
	Lab      labView `json:"lab"`
	Readings int     `json:"readings"`
	MCDM     fig     `json:"mcdm"`
	Outlier  *int    `json:"outlier,omitempty"`
	Screen   string  `json:"swatch"`
	InGamut  bool    `json:"swatch_in_gamut"`
}

func viewTarget(t archive.Target, p readings.Piece) targetView {
	v := targetView{Target: t.Name, Client: t.Client, Part: t.Part, Thickness: fig(t.ThicknessMM), Over: t.Backing, Geometry: string(p.Measurement.Geometry),
		Specular: string(p.Measurement.Specular), Tolerance: fig(t.Tolerance), Formula: t.Formula, Colors: []targetColorView{}, Note: t.Note}
	if len(t.Limits) > 0 {
		v.Limits = figures(t.Limits)
	}
	for i, lab := range p.Labs {
		c := targetColorView{Under: lab.Under.String(), Lab: viewLab(lab), Readings: readingsUnder(p, lab.Under), MCDM: fig(p.Repeat[i].MCDM)}
		if n := p.Repeat[i].Outlier; n >= 0 {
			n++
			c.Outlier = &n
		}
		if s, err := lab.Swatch(); err == nil {
			c.Screen, c.InGamut = s.Hex(), s.InGamut
		}
		v.Colors = append(v.Colors, c)
	}
	if p.Spectrum != nil {
		s := archive.SpectrumOf(*p.Spectrum)
		v.Spectrum = &s
	}
	return v
}

// readingsUnder counts the readings of a piece under a light.
func readingsUnder(p readings.Piece, under color.Condition) int {
	n := 0
	for _, r := range p.Readings {
		for _, lab := range r.Labs {
			if lab.Under == under {
				n++
			}
		}
	}
	return n
}

// spectraOf counts the spectra that were read of a piece.
func spectraOf(p readings.Piece) int {
	n := 0
	for _, r := range p.Readings {
		if r.Spectrum != nil {
			n++
		}
	}
	return n
}

func printTarget(env *Env, t archive.Target, p readings.Piece) {
	table := newTable("light", ">L*", ">a*", ">b*", ">readings", ">MCDM", "on a screen")
	for i, lab := range p.Labs {
		table.add(lab.Under.String(), fmt.Sprintf("%.2f", lab.L), fmt.Sprintf("%.2f", lab.A), fmt.Sprintf("%.2f", lab.B),
			fmt.Sprint(readingsUnder(p, lab.Under)), fmt.Sprintf("%.2f", p.Repeat[i].MCDM), screen(lab))
		table.paint(env.swatch(lab))
	}
	if len(p.Labs) > 0 {
		table.print(env.Stdout)
	}
	if p.Spectrum != nil {
		env.print("spectrum %d-%d nm by %d", p.Spectrum.FirstNM, p.Spectrum.LastNM(), p.Spectrum.StepNM)
	}
	env.print("part %s mm over %s, read %s; tolerance %s", short(t.ThicknessMM), tidy(t.Backing), p.Measurement, toleranceText(t))
	for i, r := range p.Repeat {
		if r.Outlier >= 0 {
			env.say("warning: reading %d under %s does not belong to the others; read the part again, or add the target without it", r.Outlier+1, p.Labs[i].Under)
		} else if apart(r) {
			env.say("warning: the readings under %s lie %.1f from their mean; read the part again and add it with --replace", p.Labs[i].Under, r.MCDM)
		}
	}
}

// recipesTarget is an archived target for the recipes package.
func recipesTarget(ctx context.Context, b *archive.Bench, t archive.Target, cal *calibrate.Calibration, thickness float64, over string) (recipes.Target, error) {
	piece, err := pieceOf(t.Name, t.Readings)
	if err != nil {
		return recipes.Target{}, err
	}
	bands, err := bandsOf(piece)
	if err != nil {
		return recipes.Target{}, err
	}
	setting, err := settingOf(ctx, b, thickness, over, piece.Measurement.Specular)
	if err != nil {
		return recipes.Target{}, err
	}
	held, _, err := admitted(t, cal)
	if err != nil {
		return recipes.Target{}, err
	}
	target := recipes.Target{Name: t.Name, Client: t.Client, Labs: held.Labs, Spectrum: bands, Readings: len(piece.Readings), Setting: setting,
		Tolerance: t.Tolerance, Formula: color.Formula(t.Formula), Axes: t.Limits}
	if n := readingsUnder(piece, target.Labs[0].Under); n > 0 {
		target.Readings = n
	} else { // the colour comes from the spectrum
		target.Readings = spectraOf(piece)
	}
	return target, nil
}

func newTargetListCommand(env *Env) *cobra.Command {
	var client string
	cmd := &cobra.Command{
		Use:   "list",
		Short: "List the targets",
		Long: `Lists the targets.

JSON keys: targets, a list of ` + targetKeys + `.`,
		Args: needs(),
		RunE: func(cmd *cobra.Command, args []string) error { return runTargetList(cmd.Context(), env, client) },
	}
	cmd.Flags().StringVar(&client, "client", "", "of this client only")
	return cmd
}

func runTargetList(ctx context.Context, env *Env, client string) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		targets, err := b.Targets(ctx, client)
		if err != nil {
			return err
		}
		views := make([]targetView, len(targets))
		t := newTable("target", "client", "read", ">mm", "over", "tolerance")
		for i, k := range targets {
			piece, err := pieceOf(k.Name, k.Readings)
			if err != nil {
				return err
			}
			views[i] = viewTarget(k, piece)
			read := "spectrum"
			if len(piece.Labs) > 0 {
				read = labText(piece.Labs[0]) + " " + piece.Labs[0].Under.String()
			}
			t.add(k.Name, k.Client, read, short(k.ThicknessMM), k.Backing, toleranceText(k))
			if len(piece.Labs) > 0 {
				t.paint(env.swatch(piece.Labs[0]))
			}
		}
		switch {
		case env.JSON:
			return env.emit(struct {
				Targets []targetView `json:"targets"`
			}{views})
		case len(targets) == 0:
			env.say("no target yet; masstone target add NAME --lab L,a,b --illuminant D65")
			return nil
		}
		t.print(env.Stdout)
		return nil
	})
}

func newTargetShowCommand(env *Env) *cobra.Command {
	var client string
	cmd := &cobra.Command{
		Use:   "show NAME",
		Short: "Show a target, its readings and its recipes",
		Long: `Shows a target: mean and scatter of its readings, and the recipes found for it.

JSON keys: ` + targetKeys + `, recipes (a list with the keys of "recipe show").`,
		Args: needs("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runTargetShow(cmd.Context(), env, client, args[0])
		},
	}
	cmd.Flags().StringVar(&client, "client", "", "client, where several have a target of this name")
	return cmd
}

func runTargetShow(ctx context.Context, env *Env, client, name string) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		t, err := b.Target(ctx, client, name)
		if err != nil {
			return err
		}
		piece, err := pieceOf(t.Name, t.Readings)
		if err != nil {
			return err
		}
		found, err := b.Recipes(ctx, t.Client, t.Name)
		if err != nil {
			return err
		}
		if env.JSON {
			return env.emit(struct {
				targetView
				Recipes []recipeView `json:"recipes"`
			}{viewTarget(t, piece), viewRecipes(found)})
		}
		env.print("target %q%s", tidy(t.Name), forClient(t.Client))
		printTarget(env, t, piece)
		if len(found) > 0 {
			env.print("")
			printRecipes(env, found)
		}
		return nil
	})
}
