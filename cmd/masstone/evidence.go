package main

import (
	"context"
	"fmt"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes/archive"
)

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

// settingOf is a thickness over a backing of the bench.
func settingOf(ctx context.Context, b *archive.Bench, thickness float64, over string, specular color.Specular) (calibrate.Setting, error) {
	k, err := b.Backing(ctx, over)
	if err != nil {
		return calibrate.Setting{}, err
	}
	r, err := reflectanceOf(k)
	return calibrate.Setting{Thickness: calibrate.ThicknessMM(thickness), Backing: r, Specular: specular}, err
}
