package main

import (
	"context"
	"fmt"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

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

// widestScatter is the MCDM beyond which readings are hardly of one piece;
// handhelds repeat within 0.1 (common practice, no source).
const widestScatter = 1

// apart tells whether readings that should agree do not, though none of them
// stands out.
func apart(r color.Repeatability) bool { return r.Outlier < 0 && r.MCDM > widestScatter }

func printRecipesOf(env *Env, all []workbench.Recipe) {
	t := newTable("", "target", "resin", "loadings (phr)", ">expected", ">chance", "name", "on")
	for _, r := range all {
		expected, chance := "-", "-"
		if r.Expected != nil {
			expected, chance = fmt.Sprintf("%.2f", *r.Expected), fmt.Sprintf("%.0f %%", 100**r.Chance)
		}
		t.add(r.ID, r.Target, r.Resin, figure.Loadings(r.Loadings), expected, chance, r.Name, r.At[:10])
		if len(r.Predicted) > 0 {
			t.paint(env.swatch(r.Predicted[0].Lab.Color(r.Predicted[0].Under)))
		}
	}
	t.print(env.Stdout)
}
