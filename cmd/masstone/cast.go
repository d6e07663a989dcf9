package main

import (
	"maps"
	"slices"

	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes/archive"
)

// colors are what a cast part read as: under the lights it was read under, and
// from a spectrum under the ones asked for.
func colors(piece readings.Piece, under []color.Condition) ([]color.Lab, error) {
	out := slices.Clone(piece.Labs)
	bands, err := bandsOf(piece)
	if err != nil || bands == nil {
		return out, err
	}
	if len(under) == 0 {
		under = []color.Condition{color.D65Ten()}
	}
	for _, c := range under {
		if slices.ContainsFunc(out, func(l color.Lab) bool { return l.Under == c }) {
			continue
		}
		w, err := color.WeightsFor(c)
		if err != nil {
			return nil, err
		}
		out = append(out, w.Lab(bands))
	}
	return out, nil
}

// codesOf lists the pigments of a recipe.
func codesOf(r archive.Recipe) []string {
	return slices.DeleteFunc(slices.Sorted(maps.Keys(r.Loadings)), func(code string) bool { return r.Loadings[code] <= 0 })
}
