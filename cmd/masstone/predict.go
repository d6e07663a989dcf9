package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func newPredictCommand(env *Env) *cobra.Command {
	var r workbench.PredictRequest
	var file string
	var reading readingFlags
	cmd := &cobra.Command{
		Use:   "predict RESIN (--phr CODE=PHR,... | --file FILE)",
		Short: "Say what colour a mixture will have",
		Long: `Says what colour a mixture will have, with 95 % bars: a mixture typed with --phr,
or every row of a file. The file names its mixtures (mix) and has a column per
pigment; thickness and backing stand in it or come from --thickness and --over.
Where it carries readings, the predictions are compared with them.

The strength of the lots in use is counted as far as it is known, as in a match;
--as-calibrated predicts for the lots that were calibrated, such as for mixtures
cast back then. The bars are for the mean of many castings; --one-casting counts
what the strength of one casting's portions of paste scatters by, and its thickness
(--thickness-sd-mm), as a match does; with --phr and --grams its weighing too.

  masstone predict CLR --phr WH=1,RD=0.2 --thickness 3 --over white
  masstone predict CLR --file mixtures.csv

With --phr:
` + jsonKeys(workbench.PredictResult{}) + `

With --file:
` + jsonKeys(workbench.PredictFileResult{}),
		Args: needs("RESIN"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Resin = args[0]
			switch {
			case (r.Loadings == nil) == (file == ""):
				return misusef("predict %s: give either --phr CODE=PHR,... or --file FILE", r.Resin)
			case file == "":
				r.Over, r.ThicknessMM, r.Measurement, r.ApertureMM = reading.over, reading.thickness, reading.said(), reading.sight.ApertureMM
				return runPredict(cmd.Context(), env, r)
			}
			if r.Grams != 0 {
				return misusef("predict %s: --grams is for --phr; leave it out with --file", r.Resin)
			}
			return reading.opened(cmd.Context(), env, file, func(f *workbench.File) error {
				return runPredictFile(cmd.Context(), env, workbench.PredictFileRequest{Resin: r.Resin, Calibration: r.Calibration, File: *f, Under: r.Under, AsCalibrated: r.AsCalibrated, OneCasting: r.OneCasting, ThicknessSDMM: r.ThicknessSDMM})
			})
		},
	}
	f := cmd.Flags()
	f.Var(loadings[float64]{inPHR, &r.Loadings}, "phr", "loadings, grams of paste per 100 g of mixed resin, such as WH=1,RD=0.2")
	f.StringVar(&file, "file", "", "`FILE` of mixtures, - for standard input")
	wholeVar(f, &r.Calibration, "calibration", 0, "version of the calibration (else the newest)")
	f.BoolVar(&r.AsCalibrated, "as-calibrated", false, "for the lots that were calibrated, not those in use")
	f.BoolVar(&r.OneCasting, "one-casting", false, "bars for one casting, not for the mean of many")
	numberVar(f, &r.Grams, "grams", inGrams, 0, "mixed resin of the casting, such as 100g: bars for one casting, weighing counted")
	scaleVar(f, &r.ScaleGrams, &r.ScaleChoice, ", else 0.01 g")
	thicknessSDVar(f, &r.ThicknessSDMM, "a piece", "of one casting as is usual, of the mean of many 0")
	f.Var(conditions{&r.Under}, "under", "light and observer to predict under, such as A/10 (may be repeated)")
	reading.addPiece(f, "white", 3)
	reading.addConditions(f)
	addAperture(f, &reading.sight.ApertureMM)
	reading.addLayout(f)
	reading.addPercent(f)
	f.BoolVar(&reading.repeats, "repeats", false, "rows of one name are readings of one piece")
	return cmd
}

func runPredict(ctx context.Context, env *Env, r workbench.PredictRequest) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.PredictResult, error) { return workbench.Predict(ctx, b, r) }, func(v workbench.PredictResult) {
		env.print("%s phr in %s, %s mm over %s", v.Mix, v.Calibration, figure.Short(float64(v.ThicknessMM)), tidy(v.Over))
		t := newTable("light", ">L*", ">a*", ">b*", ">dE00 of doubt", ">95 %", "on a screen")
		bar := func(v, half figure.Number) string { return fmt.Sprintf("%.2f ± %.2f", v, half) }
		for _, c := range v.Colors {
			lab := c.Lab.Color(c.Under)
			t.add(c.Under, bar(c.Lab.L, c.Half95.L), bar(c.Lab.A, c.Half95.A), bar(c.Lab.B, c.Half95.B), fmt.Sprintf("%.2f", c.Expected), fmt.Sprintf("%.2f", c.Upper95), screen(lab))
			t.paint(env.swatch(lab))
		}
		t.print(env.Stdout)
		hides := ""
		if v.HidesMM != nil {
			hides = fmt.Sprintf("; 98 %% from %.1f mm", *v.HidesMM)
		}
		env.print("%s", barsAreFor(v.OneCasting, v.Grams, v.ScaleGrams))
		env.print("contrast over black and white %.1f %% at %s mm%s", 100*v.Opacity, figure.Short(float64(v.ThicknessMM)), hides)
		printNotes(env, v.Notes)
	})
}

// barsAreFor says what the bars of a prediction are for.
func barsAreFor(oneCasting bool, grams, scale *figure.Number) string {
	if oneCasting {
		weighed := "weighed exactly"
		if grams != nil && scale != nil {
			weighed = fmt.Sprintf("of %s g weighed on a scale of %s g", figure.Short(float64(*grams)), figure.Short(float64(*scale)))
		}
		return "the bars are for one casting, " + weighed + ", as strong and as thick as it happens to come out"
	}
	return "the bars are for the mean of many castings, weighed exactly; --one-casting counts what one scatters by, as a match does"
}

func printNotes(env *Env, notes []string) {
	for _, line := range notes {
		env.print("%s", tidy(line))
	}
}

func runPredictFile(ctx context.Context, env *Env, r workbench.PredictFileRequest) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := workbench.PredictFile(ctx, b, r)
		env.remark(v.Remarks) // what was understood of the file helps where it is at fault
		if err != nil {
			return err
		}
		if env.JSON {
			return env.emit(v)
		}
		printRows(env, v)
		if v.Summary == nil {
			env.print("%s predicted with %s", figure.Count(len(v.Rows), "mixture"), v.Calibration)
			env.print("%s", barsAreFor(v.OneCasting, nil, nil))
			printNotes(env, v.Notes)
			return nil
		}
		env.print("")
		t := newTable("light", ">n", ">mean", ">median", ">p95", ">max", ">L*, a*, b* inside", ">all three", ">below 95 %")
		percent := func(v figure.Number) string { return fmt.Sprintf("%.1f %%", 100*v) }
		fixed := func(v figure.Number) string { return fmt.Sprintf("%.3f", v) }
		for _, light := range v.Lights {
			a := v.ByLight[light]
			t.add(light, fmt.Sprint(a.N), fixed(a.Mean), fixed(a.Median), fixed(a.P95), fixed(a.Max), percent(a.Coverage), percent(a.Region), percent(a.Upper95Share))
		}
		env.print("CIEDE2000 between reading and prediction with %s", v.Calibration)
		t.print(env.Stdout)
		env.print("%s", barsAreFor(v.OneCasting, nil, nil))
		printNotes(env, v.Notes)
		return nil
	})
}

func printRows(env *Env, v workbench.PredictFileResult) {
	heads := []string{"mix", "predicted L* a* b*", ">doubt", ">95 %"}
	if v.Summary != nil {
		heads = append(heads, "read", ">dE00", "")
	}
	t := newTable(heads...)
	for _, r := range v.Rows {
		cells := []string{r.Mix, r.Lab.String(), fmt.Sprintf("%.2f", r.Expected), fmt.Sprintf("%.2f", r.Upper95)}
		switch {
		case v.Summary == nil:
		case r.DE00 == nil:
			cells = append(cells, "-", "-", "")
		case *r.Inside:
			cells = append(cells, r.Measured.String(), fmt.Sprintf("%.2f", *r.DE00), "")
		default:
			cells = append(cells, r.Measured.String(), fmt.Sprintf("%.2f", *r.DE00), "outside its 95 % bars")
		}
		t.add(cells...)
		t.paint(env.swatch(r.Lab.Color(r.Under)))
	}
	t.print(env.Stdout)
}
