package workbench

import (
	"context"
	"fmt"
	"masstone/calibrate"
	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
	"masstone/recipes/kept"
)

// targetOf is the target of a recipe as it was when the recipe was found, nil
// if the recipe is for none.
func targetOf(ctx context.Context, b *archive.Bench, r archive.Recipe) (*archive.Target, error) {
	if r.Target == "" {
		return nil, nil
	}
	t, err := b.TargetRef(ctx, r.TargetCard)
	return &t, err
}

// targetLab is a target's colour under a light, nil where it was not read so.
func targetLab(t *archive.Target, under color.Condition) (*color.Lab, error) {
	if t == nil {
		return nil, nil
	}
	piece, err := pieceOf(t.Name, t.Readings)
	if err != nil {
		return nil, err
	}
	r, err := readingOf(piece)
	if err != nil {
		return nil, err
	}
	return r.Under(under)
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
	setting.Aperture, setting.ThicknessSD = held.Aperture, thicknessSD(t.ThicknessSD, thickness)
	target := recipes.Target{Name: t.Name, Client: t.Client, Labs: held.Labs, Spectrum: bands, Readings: len(piece.Readings), Setting: setting,
		Tolerance: t.Tolerance, Formula: color.Formula(t.Formula), Axes: t.Limits}
	if target.ReadingSD, err = repeatSD(ctx, b, t.Readings); err != nil {
		return target, err
	}
	if n := readingsUnder(piece, target.Labs[0].Under); n > 0 {
		target.Readings = n
	} else { // the colour comes from the spectrum
		target.Readings = spectraOf(piece)
	}
	return target, nil
}

// inspect judges a part read for a recipe, as it reads and as it will once it has
// settled; nil if the recipe is for no target.
func inspect(ctx context.Context, b *archive.Bench, r archive.Recipe, piece readings.Piece, still change) (*kept.Verdict, error) {
	t, err := targetOf(ctx, b, r)
	if err != nil || t == nil {
		return nil, err
	}
	cal, err := noiseOf(ctx, b, r)
	if err != nil {
		return nil, err
	}
	target, err := recipesTarget(ctx, b, *t, cal, r.ThicknessMM, r.Backing)
	if err != nil {
		return nil, err
	}
	part, err := pieceAsPour(ctx, b, r, piece)
	if err != nil {
		return nil, err
	}
	finding, err := recipes.Inspect(target, part, cal.Noise)
	if err != nil {
		return nil, err
	}
	v := kept.VerdictOf(target, finding)
	if _, v.Note, err = asTarget(ctx, b, r, piece); err != nil {
		return nil, err
	}
	if still.hours == 0 {
		return &v, nil
	}
	part.Change, part.ChangeCov, part.ChangeAlike = still.by, still.cov, still.alike
	if finding, err = recipes.Inspect(target, part, cal.Noise); err != nil {
		return nil, err
	}
	v.Settled = still.settled(finding)
	return &v, nil
}

// acceptance says what a client accepts: 1 CIEDE2000, dL 0.8.
func acceptance(t archive.Target) string {
	var parts []string
	if t.Tolerance > 0 || len(t.Limits) == 0 {
		parts = append(parts, figure.Short(t.Tolerance)+" "+t.Formula)
	}
	for _, axis := range recipes.Axes() {
		if limit, limited := t.Limits[axis]; limited {
			parts = append(parts, fmt.Sprintf("d%s %s", axis, figure.Short(limit)))
		}
	}
	return figure.List(parts)
}
