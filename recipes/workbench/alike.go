package workbench

import (
	"cmp"
	"context"
	"fmt"
	"masstone/calibrate"
	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
	"slices"
	"strings"
)

// admitted is the reading of a target as it may be held against a calibration,
// and what was done to it in words.
func admitted(t archive.Target, cal *calibrate.Calibration) (calibrate.Reading, []string, error) {
	piece, err := pieceOf(t.Name, t.Readings)
	if err != nil {
		return calibrate.Reading{}, nil, err
	}
	r, err := readingOf(piece)
	if err != nil {
		return r, nil, err
	}
	r, done, err := cal.Admit(r)
	if err != nil {
		return r, nil, fmt.Errorf("target %q: %w", t.Name, err)
	}
	for i, text := range done {
		done[i] = "Target: " + strings.TrimSuffix(text, ".") + "."
	}
	return r, done, nil
}

// readAlike brings a part to the way its target was read, if physics here can,
// and says what was done.
func readAlike(ctx context.Context, b *archive.Bench, r archive.Recipe, part, wanted readings.Piece) (calibrate.Reading, string, error) {
	how, through := wanted.Measurement, apertureOf(wanted.Circumstances)
	is, err := readingOf(part)
	if err != nil || part.Measurement == how && is.Aperture == through {
		return is, "", err
	}
	if r.Calibration == "" {
		if part.Measurement == how {
			return is, "", nil // what is lost past an aperture nobody knows
		}
		return is, "", fmt.Errorf("was read %s, its target %s, and no calibration tells what the surface adds; read it as the target", part.Measurement, how)
	}
	stored, err := b.CalibrationRef(ctx, r.Calibration)
	if err != nil {
		return is, "", err
	}
	cal, err := openCalibration(b, stored)
	if err != nil {
		return is, "", err
	}
	is, done, err := cal.As(is, how)
	if err != nil || cal.Through(is.Aperture) == cal.Through(through) {
		return is, done, err
	}
	if slices.ContainsFunc(codesOf(r), func(code string) bool { return cal.Index(code) == 0 }) {
		return is, done, nil // nor what is lost by a paste that it does not know
	}
	setting, err := settingOf(ctx, b, cmp.Or(r.ThicknessMM, usualThickness), cmp.Or(r.Backing, usualBacking), is.Measurement.Specular)
	if err != nil {
		return is, done, err
	}
	is, passed, err := cal.AsThrough(is, through, calibrate.Sample{Loadings: phrs(r.Loadings), Setting: setting})
	if done != "" {
		passed = done + "; " + passed
	}
	return is, passed, err
}

// asTarget is a part as if it had been read the way the target of its recipe
// was, and what was done to it in words.
func asTarget(ctx context.Context, b *archive.Bench, r archive.Recipe, part readings.Piece) (readings.Piece, string, error) {
	t, err := targetOf(ctx, b, r)
	if err != nil || t == nil {
		return part, "", err
	}
	wanted, err := pieceOf(t.Name, t.Readings)
	if err != nil {
		return part, "", err
	}
	alike, done, err := readAlike(ctx, b, r, part, wanted)
	if err != nil {
		return part, "", fmt.Errorf("%s %w", part.Name, err)
	}
	if done == "" {
		return part, "", nil
	}
	part.Labs, part.Measurement, part.Circumstances.Aperture = alike.Labs, alike.Measurement, wanted.Circumstances.Aperture
	if alike.Spectrum != nil {
		part.Spectrum = &color.Spectrum{FirstNM: color.FirstNM, StepNM: color.StepNM, R: alike.Spectrum[:]}
	}
	return part, done, nil
}

// foreign says what it costs that a target was read under a light that the chips
// were not: what they leave open of a recipe there, and under their own.
func (k *knowledge) foreign(r recipes.Recipe) ([]string, error) {
	own, under := k.fitted.Main, r.Colors[0].Lab.Under
	if k.fitted.Knows(under) {
		return nil, nil
	}
	setting := k.target.Setting
	setting.ThicknessSD = 0 // chips do not tell it
	p, err := k.now.Predict(calibrate.Sample{Loadings: r.Loadings, Setting: setting}, own, under)
	if err != nil {
		return nil, err
	}
	open := func(c calibrate.PredictedColor) float64 {
		return calibrate.ExpectedDE00(c.Lab.Values(), c.Lab.Values(), c.Cov)
	}
	return []string{fmt.Sprintf("The target is matched under %s, the chips were read under %s: of the first recipe they leave %.2f CIEDE2000 open there, %.2f under their own light; chips read under %s or as spectra would tell.",
		under, figure.List(conditionNames(k.fitted.Lights)), open(p.Colors[1]), open(p.Colors[0]), under)}, nil
}

func conditionNames(lights []color.Condition) []string {
	var out []string
	for _, l := range lights {
		out = append(out, l.String())
	}
	return out
}
