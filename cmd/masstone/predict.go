package main

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"

	"github.com/spf13/cobra"
	"gonum.org/v1/gonum/stat"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes"
	"masstone/recipes/archive"
)

type predictOptions struct {
	resin   string
	version int
	phr     map[string]float64
	file    string
	under   []string
	reading readingFlags
}

func newPredictCommand(env *Env) *cobra.Command {
	var o predictOptions
	cmd := &cobra.Command{
		Use:   "predict RESIN (--phr CODE=PHR,... | --file FILE)",
		Short: "Say what colour a mixture will have",
		Long: `Says what colour a mixture will have, with 95 % bars: a mixture typed with --phr,
or every row of a file. The file names its mixtures (mix) and has a column per
pigment; thickness and backing stand in it or come from --thickness and --over.
Where it carries readings, the predictions are compared with them.

  masstone predict CLR --phr WH=1,RD=0.2 --thickness 3 --over white
  masstone predict CLR --file mixtures.csv

JSON keys with --phr: resin, calibration, mix, loadings_phr, thickness_mm, over,
specular, lab (L, a, b under the main light), half95 (half widths of the 95 % bars
of L, a, b), expected_dE00 and upper95_dE00 (how far the true colour lies from the
predicted), opacity, hides_mm, colors (a list of under, lab, half95,
expected_dE00, upper95_dE00, swatch, swatch_in_gamut).

JSON keys with --file: resin, calibration, rows (a list of mix, loadings_phr,
under, lab, half95, expected_dE00, upper95_dE00 and, where the row has a reading,
measured, dE00, inside95), summary (n, mean, median, p95, max of dE00, and
coverage95, the share of readings inside the predicted 95 % region; null if the
file has no reading), by_light (the same per light).`,
		Args: needs("RESIN"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.resin = args[0]
			return runPredict(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	f.Var(loadings{inPHR, &o.phr}, "phr", "loadings, grams of paste per 100 g of mixed resin, such as WH=1,RD=0.2")
	f.StringVar(&o.file, "file", "", "`FILE` of mixtures, - for standard input")
	f.IntVar(&o.version, "calibration", 0, "version of the calibration (else the newest)")
	f.StringArrayVar(&o.under, "under", nil, "`LIGHT/OBSERVER` to predict under, such as A/10 (may be repeated)")
	o.reading.addPiece(f, "white", 3)
	o.reading.addConditions(f)
	o.reading.addLayout(f)
	o.reading.addPercent(f)
	f.BoolVar(&o.reading.repeats, "repeats", false, "rows of one name are readings of one piece")
	return cmd
}

func runPredict(ctx context.Context, env *Env, o predictOptions) error {
	if (o.phr == nil) == (o.file == "") {
		return misusef("predict %s: give either --phr CODE=PHR,... or --file FILE", o.resin)
	}
	var under []color.Condition
	for _, text := range o.under {
		c, err := color.ParseCondition(text)
		if err != nil {
			return misuse{fmt.Errorf("--under: %w", err)}
		}
		under = append(under, c)
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		stored, cal, err := calibrationOn(ctx, b, o.resin, o.version)
		if err != nil {
			return err
		}
		if o.file != "" {
			return predictFile(ctx, env, b, o, stored, cal, under)
		}
		return predictMix(ctx, env, b, o, stored, cal, under)
	})
}

// lightsOf are the lights to predict under: the main one, then those asked for
// or else those that the chips were read under.
func lightsOf(cal *calibrate.Calibration, asked []color.Condition) []color.Condition {
	lights := []color.Condition{cal.Main}
	if len(asked) == 0 {
		asked = cal.Lights
		if cal.Spectral {
			asked = append(slices.Clone(asked), color.Under(color.A, cal.Main.Observer), color.Under(color.FL11, cal.Main.Observer))
		}
	}
	for _, c := range asked {
		if !slices.Contains(lights, c) {
			lights = append(lights, c)
		}
	}
	return lights
}

// mixView is a typed mixture in JSON.
type mixView struct {
	Resin       string            `json:"resin"`
	Calibration string            `json:"calibration"`
	Mix         string            `json:"mix"`
	Loadings    map[string]figure `json:"loadings_phr"`
	ThicknessMM figure            `json:"thickness_mm"`
	Over        string            `json:"over"`
	Specular    string            `json:"specular"`
	Lab         labView           `json:"lab"`
	Half95      labView           `json:"half95"`
	Expected    figure            `json:"expected_dE00"`
	Upper95     figure            `json:"upper95_dE00"`
	Opacity     figure            `json:"opacity"`
	HidesMM     *figure           `json:"hides_mm"`
	Colors      []colorView       `json:"colors"`
}

func predictMix(ctx context.Context, env *Env, b *archive.Bench, o predictOptions, stored archive.Calibration, cal *calibrate.Calibration, under []color.Condition) error {
	if err := checkFitted(ctx, b, stored, cal, o.phr); err != nil {
		return err
	}
	how := o.reading.measurement()
	setting, err := settingOf(ctx, b, o.reading.thickness, o.reading.over, how.Specular)
	if err != nil {
		return err
	}
	mix := phrs(o.phr)
	p, err := cal.Predict(calibrate.Sample{Loadings: mix, Setting: setting}, lightsOf(cal, under)...)
	if err != nil {
		return err
	}
	opacity, hides, err := recipes.Opacity(cal, mix, setting.Thickness)
	if err != nil {
		return err
	}
	main := p.Colors[0]
	if env.JSON {
		v := mixView{stored.Resin, stored.Name(), recipeText(o.phr, " ", ", "), figures(o.phr), figure(o.reading.thickness), o.reading.over, string(how.Specular),
			viewLab(main.Lab), view3(main.Half95), figure(main.Expected), figure(main.Upper95), figure(opacity), finite(float64(hides)), viewColors(p.Colors)}
		return env.emit(v)
	}
	env.print("%s in %s, %s over %s", recipeText(o.phr, " ", ", ")+" phr", stored.Name(), short(o.reading.thickness)+" mm", tidy(o.reading.over))
	t := newTable("light", ">L*", ">a*", ">b*", ">dE00 of doubt", ">95 %", "on a screen")
	for _, c := range p.Colors {
		t.add(c.Lab.Under.String(), bar(c.Lab.L, c.Half95[0]), bar(c.Lab.A, c.Half95[1]), bar(c.Lab.B, c.Half95[2]),
			fmt.Sprintf("%.2f", c.Expected), fmt.Sprintf("%.2f", c.Upper95), screen(c.Lab))
		t.paint(env.swatch(c.Lab))
	}
	t.print(env.Stdout)
	env.print("%s", opacityText(opacity, float64(hides), o.reading.thickness))
	return nil
}

func bar(v, half float64) string { return fmt.Sprintf("%.2f ± %.2f", v, half) }

func opacityText(opacity, hides, thickness float64) string {
	text := fmt.Sprintf("contrast over black and white %.1f %% at %s mm", 100*opacity, short(thickness))
	if finite(hides) != nil {
		text += fmt.Sprintf("; 98 %% from %.1f mm", hides)
	}
	return text
}

// finite is a number in JSON that is null when there is none.
func finite(v float64) *figure {
	if !(v > 0 && v < 1e6) {
		return nil
	}
	f := figure(v)
	return &f
}

// checkFitted names the first pigment of a mixture that the calibration does
// not know, and says whether the shelf does.
func checkFitted(ctx context.Context, b *archive.Bench, stored archive.Calibration, cal *calibrate.Calibration, mix map[string]float64) error {
	for _, code := range slices.Sorted(maps.Keys(mix)) {
		if cal.Index(code) > 0 || mix[code] == 0 {
			continue
		}
		if _, err := b.Pigment(ctx, code); err != nil {
			return err
		}
		return notFitted(code, stored)
	}
	return nil
}

func notFitted(code string, stored archive.Calibration) error {
	return fmt.Errorf("pigment %s is on the shelf but not in calibration %s; import chips that hold it and run masstone fit %s", code, stored.Name(), stored.Resin)
}

// rowView is a predicted row of a file in JSON.
type rowView struct {
	Mix      string            `json:"mix"`
	Loadings map[string]figure `json:"loadings_phr"`
	Under    string            `json:"under"`
	Lab      labView           `json:"lab"`
	Half95   labView           `json:"half95"`
	Expected figure            `json:"expected_dE00"`
	Upper95  figure            `json:"upper95_dE00"`
	Measured *labView          `json:"measured,omitempty"`
	DE00     *figure           `json:"dE00,omitempty"`
	Inside   *bool             `json:"inside95,omitempty"`
}

// summaryView sums up how predictions compare with readings.
type summaryView struct {
	N        int    `json:"n"`
	Mean     figure `json:"mean"`
	Median   figure `json:"median"`
	P95      figure `json:"p95"`
	Max      figure `json:"max"`
	Coverage figure `json:"coverage95"`
}

// A judged colour is a prediction beside its reading.
type judged struct {
	predicted calibrate.PredictedColor
	measured  color.Lab
	de        float64
	inside    bool
}

func summarise(all []judged) *summaryView {
	if len(all) == 0 {
		return nil
	}
	de, inside := make([]float64, len(all)), make([]float64, len(all))
	for i, j := range all {
		de[i] = j.de
		if j.inside {
			inside[i] = 1
		}
	}
	slices.Sort(de)
	return &summaryView{len(all), figure(stat.Mean(de, nil)), figure(stat.Quantile(0.5, stat.LinInterp, de, nil)),
		figure(stat.Quantile(0.95, stat.LinInterp, de, nil)), figure(de[len(de)-1]), figure(stat.Mean(inside, nil))}
}

func predictFile(ctx context.Context, env *Env, b *archive.Bench, o predictOptions, stored archive.Calibration, cal *calibrate.Calibration, under []color.Condition) error {
	pigments, err := pigmentCodes(ctx, b)
	if err != nil {
		return err
	}
	options, err := o.reading.options(o.file, pigments)
	if err != nil {
		return err
	}
	t, err := readTable(env, o.file, options, readings.Mixtures)
	if err != nil {
		return err
	}
	pieces, err := readings.Pieces(options.File, t.Rows)
	if err != nil {
		return err
	}
	if err := checkMixtures(options.File, pieces, cal, stored); err != nil {
		return err
	}
	backings, err := backingsOn(ctx, b)
	if err != nil {
		return err
	}
	main := cal.Main
	if len(under) > 0 {
		main = under[0]
	}
	rows := make([]rowView, len(pieces))
	colors := make([]color.Lab, len(pieces))
	var own []judged
	byLight := map[color.Condition][]judged{}
	for i, p := range pieces {
		if err := ctx.Err(); err != nil {
			return err
		}
		backing, known := backings[p.Backing]
		if !known {
			return &readings.RowError{File: options.File, Row: p.Line, Name: p.Name, Problem: fmt.Sprintf("backing %q is not on the bench", p.Backing), Hint: "add it with masstone backing add"}
		}
		measured, err := measuredOf(p, main)
		if err != nil {
			return err
		}
		lights := []color.Condition{main}
		for _, lab := range measured {
			if !slices.Contains(lights, lab.Under) {
				lights = append(lights, lab.Under)
			}
		}
		predicted, err := cal.Predict(calibrate.Sample{Loadings: phrs(p.Loadings), Setting: calibrate.Setting{
			Thickness: calibrate.ThicknessMM(p.ThicknessMM), Backing: backing, Specular: p.Measurement.Specular}}, lights...)
		if err != nil {
			return &readings.RowError{File: options.File, Row: p.Line, Name: p.Name, Problem: err.Error()}
		}
		shown := predicted.Colors[0]
		var mine *judged
		for _, lab := range measured {
			c := predicted.Colors[slices.Index(lights, lab.Under)]
			de, err := lab.DeltaE00(c.Lab)
			if err != nil {
				return err
			}
			j := judged{c, lab, de, c.Covers(lab)}
			byLight[lab.Under] = append(byLight[lab.Under], j)
			if mine == nil || lab.Under == main {
				mine, shown = &j, c
			}
		}
		rows[i] = rowView{Mix: p.Name, Loadings: figures(p.Loadings), Under: shown.Lab.Under.String(), Lab: viewLab(shown.Lab), Half95: view3(shown.Half95),
			Expected: figure(shown.Expected), Upper95: figure(shown.Upper95)}
		colors[i] = shown.Lab
		if mine != nil {
			m, de, inside := viewLab(mine.measured), figure(mine.de), mine.inside
			rows[i].Measured, rows[i].DE00, rows[i].Inside = &m, &de, &inside
			own = append(own, *mine)
		}
	}
	summary := summarise(own)
	if env.JSON {
		lights := map[string]*summaryView{}
		for c, all := range byLight {
			lights[c.String()] = summarise(all)
		}
		return env.emit(struct {
			Resin       string                  `json:"resin"`
			Calibration string                  `json:"calibration"`
			Rows        []rowView               `json:"rows"`
			Summary     *summaryView            `json:"summary"`
			ByLight     map[string]*summaryView `json:"by_light"`
		}{stored.Resin, stored.Name(), rows, summary, lights})
	}
	printRows(env, rows, colors, summary != nil)
	if summary == nil {
		env.print("%s predicted with %s", plural(len(rows), "mixture"), stored.Name())
		return nil
	}
	env.print("")
	s := newTable("light", ">n", ">mean", ">median", ">p95", ">max", ">inside 95 % bars")
	for _, c := range slices.SortedFunc(maps.Keys(byLight), func(a, b color.Condition) int { return mainFirst(main, a, b) }) {
		v := summarise(byLight[c])
		s.add(c.String(), fmt.Sprint(v.N), fmt.Sprintf("%.3f", v.Mean), fmt.Sprintf("%.3f", v.Median), fmt.Sprintf("%.3f", v.P95), fmt.Sprintf("%.3f", v.Max), fmt.Sprintf("%.1f %%", 100*v.Coverage))
	}
	env.print("CIEDE2000 between reading and prediction with %s", stored.Name())
	s.print(env.Stdout)
	return nil
}

func mainFirst(main, a, b color.Condition) int {
	switch {
	case a == b:
		return 0
	case a == main:
		return -1
	case b == main || b.String() < a.String():
		return 1
	}
	return -1
}

// measuredOf lists what was read of a mixture: its Labs, or its spectrum under
// the main light.
func measuredOf(p readings.Piece, main color.Condition) ([]color.Lab, error) {
	if len(p.Labs) > 0 || p.Spectrum == nil {
		return p.Labs, nil
	}
	lab, err := p.Spectrum.Lab(main)
	return []color.Lab{lab}, err
}

// checkMixtures reports every row with a pigment that the calibration does not
// know.
func checkMixtures(file string, pieces []readings.Piece, cal *calibrate.Calibration, stored archive.Calibration) error {
	var bad []error
	for _, p := range pieces {
		for _, code := range slices.Sorted(maps.Keys(p.Loadings)) {
			if cal.Index(code) == 0 && len(bad) < 20 {
				bad = append(bad, &readings.RowError{File: file, Row: p.Line, Name: p.Name, Column: code,
					Problem: "the pigment is not in calibration " + stored.Name(), Hint: "import chips that hold it and fit again, or leave the row out"})
			}
		}
	}
	return errors.Join(bad...)
}

func printRows(env *Env, rows []rowView, colors []color.Lab, compared bool) {
	heads := []string{"mix", "predicted L* a* b*", ">doubt", ">95 %"}
	if compared {
		heads = append(heads, "read", ">dE00", "")
	}
	t := newTable(heads...)
	for i, r := range rows {
		cells := []string{r.Mix, labText(colors[i]), fmt.Sprintf("%.2f", r.Expected), fmt.Sprintf("%.2f", r.Upper95)}
		if compared {
			read, de, flag := "-", "-", ""
			if r.DE00 != nil {
				read, de = fmt.Sprintf("%.2f %.2f %.2f", r.Measured.L, r.Measured.A, r.Measured.B), fmt.Sprintf("%.2f", *r.DE00)
				if !*r.Inside {
					flag = "outside its 95 % bars"
				}
			}
			cells = append(cells, read, de, flag)
		}
		t.add(cells...)
		t.paint(env.swatch(colors[i]))
	}
	t.print(env.Stdout)
}
