package workbench

import (
	"context"
	"masstone/calibrate"
	"masstone/recipes/archive"
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
			Name: a.Name, Loadings: phrs(a.Loadings), Thickness: calibrate.ThicknessMM(a.ThicknessMM),
			BackingName: a.Backing, Backing: backings[a.Backing], Measurement: piece.Measurement,
			Labs: piece.Labs, Spectrum: bands, Aperture: apertureOf(piece.Circumstances),
			ChipGrams: calibrate.Grams(a.ChipGrams), ScaleGrams: calibrate.Grams(a.ScaleGrams),
			PasteStrength: a.PasteStrength, ThicknessSD: calibrate.ThicknessMM(a.ThicknessSD),
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
