package main

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes/archive"
)

type fitOptions struct {
	resin string
	layer string
	index float64
	main  color.Condition
}

func newFitCommand(env *Env) *cobra.Command {
	var o fitOptions
	cmd := &cobra.Command{
		Use:   "fit RESIN",
		Short: "Fit how the pigments mix in a resin, from its chips",
		Long: `Fits the optics of a resin and its pigments from all its chips at once, judges
the fit by what it says of each chip when that chip is left out, and stores it as
the resin's next calibration. Earlier ones are kept.

Both layer models are tried (kubelka-munk, and exact: light followed through the
layer in many directions) and the one whose left-out chips come out best is
taken, unless --layer says which.

The table: dE00 is the CIEDE2000 between the reading and the fit; left out, what
it would be had the chip not been read; sigma, how far that lies outside the bars
claimed for it, as the number of standard deviations of equal rarity. The score of
a layer is the mean ln density it gives to chips it has not seen; higher is better.

JSON keys: calibration (name), resin, version, pigments, layer (name, k1, k2,
k1_sd, k2_sd, index, surface_known), layers_tried (name, mean_dE00, log_score),
main, lights, spectral, noise (lab_sd, spectrum_sd), model_error (widen,
floor_dE00), leave_one_out (chips, mean_dE00, median_dE00, coverage95), chips (a
list of chip, loadings_phr, under, measured, fitted, left_out, dE00,
left_out_dE00, sigma, inside95, vague (the other chips cannot tell), weighed_phr
(what the fit believes was in the cup)), warnings.`,
		Args: needs("RESIN"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.resin = args[0]
			return runFit(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	f.Var(parsed[string]{&o.layer, parseLayer, func(s string) string { return s }, "model"}, "layer", "layer model: kubelka-munk or exact (else the better)")
	numberVar(f, &o.index, "index", anIndex, 0, "refractive index of the resin for the exact layer (1.50)")
	f.Var(conditionFlag(&o.main), "main", "light and observer of the report, such as D65/10 (else D65/10 if it was read)")
	return cmd
}

func parseLayer(s string) (string, error) {
	switch strings.ToLower(s) {
	case "kubelka-munk", "km", "kubelkamunk":
		return calibrate.KubelkaMunk, nil
	case "exact":
		return calibrate.ExactLayer, nil
	}
	return "", fmt.Errorf("is no layer model; give %s or %s", calibrate.KubelkaMunk, calibrate.ExactLayer)
}

func conditionFlag(value *color.Condition) parsed[color.Condition] {
	return parsed[color.Condition]{value, color.ParseCondition, func(c color.Condition) string {
		if c == (color.Condition{}) {
			return ""
		}
		return c.String()
	}, "light/observer"}
}

func runFit(ctx context.Context, env *Env, o fitOptions) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		resin, err := b.Resin(ctx, o.resin)
		if err != nil {
			return err
		}
		archived, err := b.Chips(ctx, resin.Code)
		if err != nil {
			return err
		}
		if len(archived) == 0 {
			return fmt.Errorf("no chip of %s to fit; masstone chip import FILE --resin %s", resin.Code, resin.Code)
		}
		chips, pigments, err := evidenceOf(ctx, b, archived)
		if err != nil {
			return err
		}
		p := env.progress()
		cal, err := calibrate.Fit(ctx, pigments, chips, calibrate.Options{Layer: o.layer, Index: o.index, Main: mainLight(o.main, chips), Progress: p.step})
		p.end()
		if err != nil {
			return fmt.Errorf("fit of %s: %w", resin.Code, err)
		}
		stored, err := storeFit(ctx, b, resin.Code, archived, cal)
		if err != nil {
			return err
		}
		left, err := pigmentsWithout(ctx, b, pigments)
		if err != nil {
			return err
		}
		if env.JSON {
			return env.emit(viewFit(stored, cal, chips))
		}
		printFit(env, stored, cal, chips)
		if len(left) > 0 {
			env.say("no chip holds %s: recipes cannot use it until one is cast and read", listed(left))
		}
		return nil
	})
}

// mainLight is the condition of the report: the one asked for, else D65/10 if
// it can be had.
func mainLight(asked color.Condition, chips []calibrate.Chip) color.Condition {
	if asked != (color.Condition{}) {
		return asked
	}
	for _, c := range chips {
		for _, lab := range c.Labs {
			if lab.Under == color.D65Ten() {
				return lab.Under
			}
		}
	}
	return color.Condition{}
}

func storeFit(ctx context.Context, b *archive.Bench, resin string, chips []archive.Chip, cal *calibrate.Calibration) (archive.Calibration, error) {
	document, err := json.Marshal(cal)
	if err != nil {
		return archive.Calibration{}, fmt.Errorf("fit of %s: it cannot be stored (%w); please report it", resin, err)
	}
	refs := make([]string, len(chips))
	for i, c := range chips {
		refs[i] = c.Ref
	}
	return b.AddCalibration(ctx, archive.Calibration{Resin: resin, Layer: cal.Layer.Name, Chips: refs, Document: document})
}

// pigmentsWithout lists pigments of the shelf that are not among the fitted.
func pigmentsWithout(ctx context.Context, b *archive.Bench, fitted []string) ([]string, error) {
	shelf, err := pigmentCodes(ctx, b)
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(shelf, func(code string) bool { return slices.Contains(fitted, code) }), nil
}

// calibrationOn reads a calibration of the bench; version 0 is the newest.
func calibrationOn(ctx context.Context, b *archive.Bench, resin string, version int) (archive.Calibration, *calibrate.Calibration, error) {
	stored, err := b.Calibration(ctx, resin, version)
	if err != nil {
		return stored, nil, err
	}
	cal, err := openCalibration(stored)
	return stored, cal, err
}

func openCalibration(stored archive.Calibration) (*calibrate.Calibration, error) {
	cal := new(calibrate.Calibration)
	if err := json.Unmarshal(stored.Document, cal); err != nil {
		return nil, fmt.Errorf("calibration %s cannot be used (%w); run masstone fit %s again", stored.Name(), err, stored.Resin)
	}
	return cal, nil
}

// fitView is a fit in JSON.
type fitView struct {
	Calibration string        `json:"calibration"`
	Resin       string        `json:"resin"`
	Version     int           `json:"version"`
	Pigments    []string      `json:"pigments"`
	Layer       layerView     `json:"layer"`
	Tried       []trialView   `json:"layers_tried"`
	Main        string        `json:"main"`
	Lights      []string      `json:"lights"`
	Spectral    bool          `json:"spectral"`
	Noise       noiseView     `json:"noise"`
	ModelError  modelView     `json:"model_error"`
	LeaveOut    leaveOutView  `json:"leave_one_out"`
	Chips       []chipFitView `json:"chips"`
	Warnings    []string      `json:"warnings"`
}

type layerView struct {
	Name         string  `json:"name"`
	K1           *figure `json:"k1,omitempty"`
	K2           *figure `json:"k2,omitempty"`
	K1SD         *figure `json:"k1_sd,omitempty"`
	K2SD         *figure `json:"k2_sd,omitempty"`
	Index        *figure `json:"index,omitempty"`
	SurfaceKnown bool    `json:"surface_known"`
}

type trialView struct {
	Name     string `json:"name"`
	Mean     figure `json:"mean_dE00"`
	LogScore figure `json:"log_score"`
}

type noiseView struct {
	Lab      figure `json:"lab_sd"`
	Spectrum figure `json:"spectrum_sd"`
}

type modelView struct {
	Widen figure `json:"widen"`
	Floor figure `json:"floor_dE00"`
}

type leaveOutView struct {
	Chips    int    `json:"chips"`
	Mean     figure `json:"mean_dE00"`
	Median   figure `json:"median_dE00"`
	Coverage figure `json:"coverage95"`
}

type chipFitView struct {
	Chip     string            `json:"chip"`
	Loadings map[string]figure `json:"loadings_phr"`
	Under    string            `json:"under"`
	Measured labView           `json:"measured"`
	Fitted   labView           `json:"fitted"`
	LeftOut  labView           `json:"left_out"`
	DE00     figure            `json:"dE00"`
	LeftDE00 figure            `json:"left_out_dE00"`
	Sigma    figure            `json:"sigma"`
	Inside   bool              `json:"inside95"`
	Vague    bool              `json:"vague,omitempty"`
	Weighed  map[string]figure `json:"weighed_phr,omitempty"`
}

func viewFit(stored archive.Calibration, cal *calibrate.Calibration, chips []calibrate.Chip) fitView {
	l := cal.Layer
	v := fitView{Calibration: stored.Name(), Resin: stored.Resin, Version: stored.Version, Pigments: cal.Codes(),
		Layer: layerView{l.Name, optional(l.K1), optional(l.K2), optional(l.K1SD), optional(l.K2SD), optional(l.Index), l.SurfaceKnown},
		Main:  cal.Main.String(), Lights: []string{}, Spectral: cal.Spectral,
		Noise:      noiseView{figure(cal.Noise.LabSD), figure(cal.Noise.SpectrumSD)},
		ModelError: modelView{figure(cal.ModelError.Widen), figure(cal.ModelError.Floor)},
		LeaveOut:   leaveOutView{cal.LeaveOut.Chips, figure(cal.LeaveOut.MeanDE00), figure(cal.LeaveOut.MedianDE00), figure(cal.LeaveOut.Coverage95)},
		Warnings:   append([]string{}, cal.Warnings...)}
	for _, c := range cal.Lights {
		v.Lights = append(v.Lights, c.String())
	}
	for _, t := range cal.Others {
		v.Tried = append(v.Tried, trialView{t.Name, figure(t.MeanDE00), figure(t.LogScore)})
	}
	for i, c := range cal.Chips {
		v.Chips = append(v.Chips, chipFitView{c.Chip, figures(chips[i].Loadings), c.Measured.Under.String(), viewLab(c.Measured), viewLab(c.Fitted), viewLab(c.LeftOut),
			figure(c.DE00), figure(c.LeftDE00), figure(c.Sigma), c.Inside, c.Vague, figures(c.Weighed)})
	}
	return v
}

func printFit(env *Env, stored archive.Calibration, cal *calibrate.Calibration, chips []calibrate.Chip) {
	t := newTable("chip", "loadings (phr)", "read", "fitted", ">dE00", ">left out", ">sigma", "")
	for i, c := range cal.Chips {
		left, sigma, flag := fmt.Sprintf("%.2f", c.LeftDE00), fmt.Sprintf("%.1f", c.Sigma), ""
		switch {
		case c.Vague:
			left, sigma, flag = "-", "-", "the other chips cannot tell"
		case !c.Inside:
			flag = "outside its 95 % bars"
		}
		t.add(c.Chip, recipeText(chips[i].Loadings, " ", ", "), labText(c.Measured), labText(c.Fitted), fmt.Sprintf("%.2f", c.DE00), left, sigma, flag)
		t.paint(env.swatch(c.Measured))
	}
	t.print(env.Stdout)
	l := cal.LeaveOut
	env.print("")
	env.print("calibration %s: %s, %s, judged under %s", stored.Name(), plural(len(cal.Curves)-1, "pigment"), plural(len(cal.Chips), "chip"), cal.Main)
	env.print("evidence     %s", evidenceText(cal))
	env.print("left out     %s predicted from the others: mean dE00 %.2f, median %.2f; %.0f %% inside their 95 %% bars", plural(l.Chips, "chip"), l.MeanDE00, l.MedianDE00, 100*l.Coverage95)
	env.print("layer        %s", layerText(cal))
	env.print("surface      %s", surfaceText(cal.Layer))
	if m := cal.ModelError; m.Widen > 1 {
		env.print("bars         widened %.2g times and by %.2g dE00 for what the model leaves out", m.Widen, m.Floor)
	}
	for _, w := range cal.Warnings {
		env.say("warning: %s", w)
	}
}

func evidenceText(cal *calibrate.Calibration) string {
	var parts []string
	if cal.Spectral {
		parts = append(parts, "spectra")
	}
	if len(cal.Lights) > 0 {
		var lights []string
		for _, c := range cal.Lights {
			lights = append(lights, c.String())
		}
		parts = append(parts, "Lab under "+listed(lights))
	}
	text := strings.Join(parts, " and ")
	if !cal.Spectral && len(cal.Lights) == 1 {
		text += "; colours under other lights are guesses: read the chips under a second light or as spectra"
	}
	return text
}

// layerText says which layer model was taken and by how much it won.
func layerText(cal *calibrate.Calibration) string {
	var own calibrate.LayerTrial
	var others []calibrate.LayerTrial
	for _, t := range cal.Others {
		if t.Name == cal.Layer.Name {
			own = t
		} else {
			others = append(others, t)
		}
	}
	text := fmt.Sprintf("%s (left-out mean dE00 %.2f, score %.2f)", own.Name, own.MeanDE00, own.LogScore)
	for _, t := range others {
		text += fmt.Sprintf("; over %s (%.2f, score %.2f) by %.2f in score per chip", t.Name, t.MeanDE00, t.LogScore, own.LogScore-t.LogScore)
	}
	if len(others) == 0 {
		text += ", as told"
	}
	return text
}

func surfaceText(l calibrate.LayerModel) string {
	switch {
	case l.Name == calibrate.ExactLayer:
		return fmt.Sprintf("that of refractive index %.2f", l.Index)
	case l.SurfaceKnown:
		return fmt.Sprintf("k1 %.3f ± %.3f, k2 %.3f ± %.3f, found from the readings", l.K1, l.K1SD, l.K2, l.K2SD)
	}
	return fmt.Sprintf("k1 %.3f, k2 %.3f, the usual ones: these readings cannot tell", l.K1, l.K2)
}
