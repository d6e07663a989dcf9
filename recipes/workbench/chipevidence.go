package workbench

import (
	"context"
	"slices"

	"masstone/calibrate"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// evidenceOf turns archived chips into what a fit takes, with the pigments in
// them in the order of the shelf.
func evidenceOf(ctx context.Context, b *archive.Bench, archived []archive.Chip) (chips []calibrate.Chip, pigments []string, err error) {
	backings, err := backingsOn(ctx, b)
	if err != nil {
		return nil, nil, err
	}
	used := map[string]bool{}
	for _, a := range archived {
		piece, err := pieceOf(a.Name, a.Readings)
		if err != nil {
			return nil, nil, err
		}
		bands, err := bandsOf(piece)
		if err != nil {
			return nil, nil, err
		}
		chips = append(chips, calibrate.Chip{
			Name: a.Name, Casting: a.Casting, Loadings: phrs(a.Loadings), Thickness: calibrate.ThicknessMM(a.ThicknessMM),
			BackingName: a.Backing, Backing: backings[a.Backing], Measurement: piece.Measurement,
			Labs: piece.Labs, Spectrum: bands, Aperture: apertureOf(piece.Circumstances),
			ChipGrams: calibrate.Grams(a.ChipGrams), ScaleGrams: calibrate.Grams(a.ScaleGrams),
			PasteStrength: a.PasteStrength, ThicknessSD: thicknessSD(a.ThicknessSD, a.ThicknessMM),
		})
		for code, phr := range a.Loadings {
			used[code] = used[code] || phr > 0
		}
	}
	shelf, err := pigmentCodes(ctx, b)
	if err != nil {
		return nil, nil, err
	}
	for _, code := range shelf {
		if used[code] {
			pigments = append(pigments, code)
		}
	}
	return chips, pigments, nil
}

// noteApertures says how chips count that were read through several apertures, or do
// not say through which.
func noteApertures(chips []calibrate.Chip, cal *calibrate.Calibration, say *Remarks) {
	silent := 0
	var all []string
	for _, c := range chips {
		text := apertureText(c.Aperture.Diameter())
		switch {
		case c.Aperture == 0:
			silent++
		case !slices.Contains(all, text):
			all = append(all, text)
		}
	}
	switch {
	case silent > 0 && len(all) > 0:
		say.say("%s do not say their aperture: taken for %s, as most of the others; %s says it", figure.Count(silent, "chip"), apertureText(cal.Aperture.Diameter()), remedy.Input("aperture-mm"))
	case len(all) > 1:
		say.say("chips were read through apertures of %s: what scatters past each is counted", figure.List(all))
	}
}
