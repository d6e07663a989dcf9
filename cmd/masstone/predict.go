package main

import (
	"context"
	"fmt"
	"maps"
	"slices"

	"github.com/spf13/cobra"

	"masstone/calibrate"
	"masstone/color"
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
	plain   bool // the lots in use are not counted
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

The strength of the lots in use is counted as far as it is known, as in a match;
--as-calibrated predicts for the lots that were calibrated, such as for mixtures
cast back then.

  masstone predict CLR --phr WH=1,RD=0.2 --thickness 3 --over white
  masstone predict CLR --file mixtures.csv

JSON keys with --phr: resin, calibration, mix, loadings_phr, thickness_mm, over,
specular, lab (L, a, b under the main light), half95 (half widths of the 95 % bars
of L, a, b), expected_dE00 and upper95_dE00 (how far the true colour lies from the
predicted), opacity, hides_mm, colors (a list of under, lab, half95,
expected_dE00, upper95_dE00, swatch, swatch_in_gamut), lots (the lots counted, a
list of ` + strengthKeys + `), notes.

JSON keys with --file: resin, calibration, lots and notes as above, rows (a list of
mix, loadings_phr, under, lab, half95, expected_dE00, upper95_dE00 and, where the
row has a reading, measured, dE00, inside95 (the reading lies in the 95 % region)),
summary (n, mean, median, p95, max of dE00; coverage95, the share of all readings'
L*, a* and b* that lie in their own interval, lab +- half95, the three channels of
all rows pooled;
region95, the share of readings in the 95 % region of the three together;
upper95_share, the share of dE00 at or below upper95_dE00; null if the file has no
reading), by_light (the same per light).`,
		Args: needs("RESIN"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.resin = args[0]
			return runPredict(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	f.Var(loadings[float64]{inPHR, &o.phr}, "phr", "loadings, grams of paste per 100 g of mixed resin, such as WH=1,RD=0.2")
	f.StringVar(&o.file, "file", "", "`FILE` of mixtures, - for standard input")
	f.IntVar(&o.version, "calibration", 0, "version of the calibration (else the newest)")
	f.BoolVar(&o.plain, "as-calibrated", false, "for the lots that were calibrated, not those in use")
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
	Resin       string         `json:"resin"`
	Calibration string         `json:"calibration"`
	Mix         string         `json:"mix"`
	Loadings    map[string]fig `json:"loadings_phr"`
	ThicknessMM fig            `json:"thickness_mm"`
	Over        string         `json:"over"`
	Specular    string         `json:"specular"`
	Lab         labView        `json:"lab"`
	Half95      labView        `json:"half95"`
	Expected    fig            `json:"expected_dE00"`
	Upper95     fig            `json:"upper95_dE00"`
	Opacity     fig            `json:"opacity"`
	HidesMM     *fig           `json:"hides_mm"`
	Colors      []colorView    `json:"colors"`
	lotsCounted
}

// lotsCounted is, in JSON, what a prediction counts of the lots in use.
type lotsCounted struct {
	Lots  []strengthView `json:"lots"`
	Notes []string       `json:"notes"`
}

// forLots is the calibration for the lots in use of some pigments, unless the
// calibrated ones are asked for.
func (o predictOptions) forLots(ctx context.Context, b *archive.Bench, stored archive.Calibration, cal *calibrate.Calibration, codes []string) (*calibrate.Calibration, lotsCounted, error) {
	none := lotsCounted{[]strengthView{}, []string{}}
	if o.plain {
		return cal, none, nil
	}
	cal, belief, notes, err := withLotsInUse(ctx, b, stored, cal, codes)
	if err != nil {
		return nil, none, err
	}
	lots, err := viewStrengths(ctx, b, stored.Resin, belief)
	return cal, lotsCounted{lots, append(none.Notes, notes...)}, err
}

func (l lotsCounted) print(env *Env) {
	for _, line := range l.Notes {
		env.print("%s", tidy(line))
	}
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
	cal, counted, err := o.forLots(ctx, b, stored, cal, slices.Collect(maps.Keys(o.phr)))
	if err != nil {
		return err
	}
	counted.Notes = append(counted.Notes, beyond(cal, o.phr)...)
	if text, err := beyondResin(ctx, b, stored.Resin, o.phr); err != nil {
		return err
	} else if text != "" {
		counted.Notes = append(counted.Notes, text)
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
		v := mixView{stored.Resin, stored.Name(), recipeText(o.phr, " ", ", "), figures(o.phr), fig(o.reading.thickness), o.reading.over, string(how.Specular),
			viewLab(main.Lab), view3(main.Half95), fig(main.Expected), fig(main.Upper95), fig(opacity), finite(float64(hides)), viewColors(p.Colors), counted}
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
	counted.print(env)
	return nil
}

// beyond names the pigments of which there is more in a mixture than in any
// chip of a calibration.
func beyond(cal *calibrate.Calibration, mix map[string]float64) []string {
	var notes []string
	for _, code := range slices.Sorted(maps.Keys(mix)) {
		q := cal.Index(code)
		if q == 0 {
			continue
		}
		if most := float64(cal.Curves[q].MaxPHR); mix[code] > 1.001*most {
			notes = append(notes, fmt.Sprintf("%s %s phr is more than any chip holds (%s): how it goes on from there was not seen", code, short(mix[code]), short(most)))
		}
	}
	return notes
}

// beyondResin says so if a mixture holds more paste than its resin bears.
func beyondResin(ctx context.Context, b *archive.Bench, code string, mix map[string]float64) (string, error) {
	resin, err := b.Resin(ctx, code)
	if err != nil || resin.MaxPHR == 0 {
		return "", err
	}
	sum := 0.0
	for _, phr := range mix {
		sum += phr
	}
	if sum <= 1.001*resin.MaxPHR {
		return "", nil
	}
	return fmt.Sprintf("%s phr of paste is more than %s bears (%s)", short(sum), code, short(resin.MaxPHR)), nil
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
func finite(v float64) *fig {
	if !(v > 0 && v < 1e6) {
		return nil
	}
	f := fig(v)
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
