package main

import (
	"context"
	"fmt"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes/archive"
)

// readingsOf are rows of a file as the archive keeps them.
func readingsOf(rows []readings.Row) []archive.Reading {
	var out []archive.Reading
	for _, r := range rows {
		how := archive.Reading{Geometry: string(r.Measurement.Geometry), Specular: string(r.Measurement.Specular)}
		for _, lab := range r.Labs {
			l, reading := archive.LabOf(lab), how
			reading.Lab = &l
			out = append(out, reading)
		}
		if r.Spectrum != nil {
			s, reading := archive.SpectrumOf(*r.Spectrum), how
			reading.Spectrum = &s
			out = append(out, reading)
		}
	}
	return out
}

// pieceOf is the mean of archived readings, with their scatter.
func pieceOf(name string, archived []archive.Reading) (readings.Piece, error) {
	rows := make([]readings.Row, len(archived))
	for i, r := range archived {
		rows[i] = readings.Row{Line: i + 1, Name: name, Measurement: color.Measurement{Geometry: color.Geometry(r.Geometry), Specular: color.Specular(r.Specular)}}
		if r.Lab != nil {
			rows[i].Labs = []color.Lab{r.Lab.Color()}
		}
		if r.Spectrum != nil {
			s := r.Spectrum.Color()
			rows[i].Spectrum = &s
		}
	}
	return onePiece("bench", rows)
}

// bandsOf is the spectrum of a piece on the model's bands, nil without one.
func bandsOf(p readings.Piece) (*color.Reflectance, error) {
	if p.Spectrum == nil {
		return nil, nil
	}
	r, err := p.Spectrum.Reflectance()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", p.Name, err)
	}
	return &r, nil
}

// backingsOn are the backings of the bench on the model's bands.
func backingsOn(ctx context.Context, b *archive.Bench) (map[string]color.Reflectance, error) {
	all, err := b.Backings(ctx)
	if err != nil {
		return nil, err
	}
	on := map[string]color.Reflectance{}
	for _, k := range all {
		if on[k.Name], err = reflectanceOf(k); err != nil {
			return nil, err
		}
	}
	return on, nil
}

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
			Labs: piece.Labs, Spectrum: bands,
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

// settingOf is a thickness over a backing of the bench.
func settingOf(ctx context.Context, b *archive.Bench, thickness float64, over string, specular color.Specular) (calibrate.Setting, error) {
	k, err := b.Backing(ctx, over)
	if err != nil {
		return calibrate.Setting{}, err
	}
	r, err := reflectanceOf(k)
	return calibrate.Setting{Thickness: calibrate.ThicknessMM(thickness), Backing: r, Specular: specular}, err
}
