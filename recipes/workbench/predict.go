package workbench

import (
	"cmp"
	"context"
	"maps"
	"slices"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/remedy"
	"masstone/recipes"
	"masstone/recipes/figure"
)

// A PredictRequest asks for the colour of a mixture.
type PredictRequest struct {
	Resin        string             // code
	Calibration  int                // version; 0 for the newest
	Loadings     map[string]float64 // phr; none for the bare resin
	ThicknessMM  float64            // 3 if 0
	Over         string             // backing behind the piece; white if empty
	Measurement  color.Measurement  // d/8 with the specular reflection if empty
	ApertureMM   float64            // diameter it is read through; that of the chips if 0
	Under        []color.Condition  // beside the main light; those the chips were read under if empty
	AsCalibrated bool               // for the lots that were calibrated, not those in use
	OneCasting   bool               // bars for one casting, not for the mean of many
	// Grams of mixed resin make it one casting, whose weighing counts.
	Grams calibrate.Grams
	ScaleChoice
	ScaleGrams calibrate.Grams // step of the scale; that of the scale in use if 0
	// ThicknessSDMM is how far the thickness may miss, a standard deviation; nil for the
	// usual of one casting, and for nothing of the mean of many.
	ThicknessSDMM *float64
}

// A PredictResult is the colour a mixture will have. Its bars hold 95 %.
type PredictResult struct {
	Resin       string                   `json:"resin"`
	Calibration string                   `json:"calibration"`
	Mix         string                   `json:"mix"`
	Loadings    map[string]figure.Number `json:"loadings_phr"`
	ThicknessMM figure.Number            `json:"thickness_mm"`
	Over        string                   `json:"over"`
	Specular    string                   `json:"specular"`
	ApertureMM  *figure.Number           `json:"aperture_mm,omitempty" doc:"diameter it is read through, where the chips say theirs"`
	Lab         figure.Lab               `json:"lab" doc:"L, a, b under the main light"`
	Half95      figure.Lab               `json:"half95" doc:"half widths of the 95 % bars of L, a, b"`
	OneCasting  bool                     `json:"one_casting" doc:"the bars are for one casting, whose portions of paste scatter in strength and whose thickness misses; else for the mean of many"`
	ThicknessSD *figure.Number           `json:"thickness_sd_mm,omitempty" doc:"counted, a standard deviation"`
	Grams       *figure.Number           `json:"grams,omitempty" doc:"mixed resin of the casting whose weighing is counted"`
	ScaleGrams  *figure.Number           `json:"scale_g,omitempty" doc:"step of the scale"`
	Expected    figure.Number            `json:"expected_dE00" doc:"how far the true colour lies from the predicted"`
	Upper95     figure.Number            `json:"upper95_dE00"`
	Opacity     figure.Number            `json:"opacity" doc:"contrast over black and white"`
	HidesMM     *figure.Number           `json:"hides_mm" doc:"thickness of contrast 0.98"`
	Colors      []PredictedColor         `json:"colors"`
	Lots        []LotStrength            `json:"lots" doc:"counted"`
	Notes       []string                 `json:"notes"`
}

// Predict says what colour a mixture will have, for the lots in use.
func Predict(ctx context.Context, b *Bench, r PredictRequest) (PredictResult, error) {
	how, err := checkedWay(r.Measurement)
	if err != nil {
		return PredictResult{}, err
	}
	r.ThicknessMM, r.Over = cmp.Or(r.ThicknessMM, usualThickness), cmp.Or(r.Over, usualBacking)
	if r.Grams == 0 && (r.Scale != "" || r.ScaleGrams != 0) {
		return PredictResult{}, invalid("scale", "%s: goes with the mass of a casting; add %s", remedy.Input("scale"), remedy.InputAs("grams", "100g"))
	}
	if r.OneCasting = r.OneCasting || r.Grams > 0; r.Grams > 0 {
		if err := weighable(weight{"grams", r.Grams}); err != nil {
			return PredictResult{}, err
		}
		if err := r.fill(ctx, b.archive, usualStep, &r.ScaleGrams, nil, nil); err != nil {
			return PredictResult{}, err
		}
	}
	k, err := know(ctx, b.archive, question{resin: r.Resin, version: r.Calibration, codes: codesIn(r.Loadings), calibrated: r.AsCalibrated})
	if err != nil {
		return PredictResult{}, err
	}
	if err := checkFitted(ctx, b.archive, k.stored, k.fitted, r.Loadings); err != nil {
		return PredictResult{}, err
	}
	setting, err := settingOf(ctx, b.archive, r.ThicknessMM, r.Over, how.Specular)
	if err != nil {
		return PredictResult{}, err
	}
	if err := checkMM("aperture-mm", r.ApertureMM); err != nil {
		return PredictResult{}, err
	}
	setting.Aperture = calibrate.ApertureOf(r.ApertureMM)
	if err := checkThicknessSD("predict "+r.Resin, r.ThicknessSDMM, r.ThicknessMM); err != nil {
		return PredictResult{}, err
	}
	if r.OneCasting || r.ThicknessSDMM != nil {
		setting.ThicknessSD = thicknessSD(r.ThicknessSDMM, r.ThicknessMM)
	}
	tooMuch, err := beyondResin(ctx, b.archive, k.stored.Resin, r.Loadings)
	if err != nil {
		return PredictResult{}, err
	}
	mix := phrs(r.Loadings)
	p, err := k.now.Predict(calibrate.Sample{Loadings: mix, Setting: setting, OneCasting: r.OneCasting, WeighSD: weighSD(mix, r.Grams, r.ScaleGrams)}, lightsOf(k.now, r.Under)...)
	if err != nil {
		return PredictResult{}, err
	}
	opacity, hides, err := recipes.Opacity(k.now, mix, setting.Thickness)
	if err != nil {
		return PredictResult{}, err
	}
	main := p.Colors[0]
	v := PredictResult{Resin: k.stored.Resin, Calibration: k.stored.Name(), Mix: figure.Loadings(r.Loadings), Loadings: figure.Map(r.Loadings),
		ThicknessMM: figure.Number(r.ThicknessMM), Over: r.Over, Specular: string(how.Specular),
		ApertureMM: figure.Known(k.now.Through(setting.Aperture).Diameter()), Lab: figure.LabOf(main.Lab), Half95: figure.Three(main.Half95), OneCasting: r.OneCasting, ThicknessSD: figure.Known(float64(setting.ThicknessSD)), Grams: figure.Known(float64(r.Grams)), ScaleGrams: figure.Known(float64(r.ScaleGrams)), Expected: figure.Number(main.Expected), Upper95: figure.Number(main.Upper95),
		Opacity: figure.Number(opacity), HidesMM: figure.Finite(float64(hides)), Colors: predictedColors(p.Colors),
		Lots: k.lotStrengths(), Notes: append([]string{}, slices.Concat(k.notes, beyond(k.fitted, r.Loadings))...)}
	if tooMuch != "" {
		v.Notes = append(v.Notes, tooMuch)
	}
	return v, nil
}

// codesIn are the pigments of a mixture; an empty list, not nil, for bare resin.
func codesIn(mix map[string]float64) []string {
	return slices.AppendSeq([]string{}, maps.Keys(mix))
}
