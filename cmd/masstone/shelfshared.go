// What commands that do not go by verbs yet use of the shelf; it goes with the
// last of them.

package main

import (
	"fmt"

	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
)

// onePiece brings several readings of one piece together.
func onePiece(file string, rows []readings.Row) (readings.Piece, error) {
	pieces, err := readings.Pieces(title(file), rows)
	if err != nil {
		return readings.Piece{}, err
	}
	return pieces[0], nil
}

// reflectanceOf is a backing on the model's bands.
func reflectanceOf(k archive.Backing) (color.Reflectance, error) {
	if k.Constant != nil {
		return color.Constant(*k.Constant), nil
	}
	r, err := k.Spectrum.Color().Reflectance()
	if err != nil {
		return r, fmt.Errorf("backing %s: %w", k.Name, err)
	}
	return r, nil
}

func mixOf(r archive.Resin) batch.Ratio { return batch.Ratio{A: r.MixA, B: r.MixB} }

func mixText(r archive.Resin) string {
	text := fmt.Sprintf("%s by mass", mixOf(r))
	if r.PotLife > 0 {
		text += ", pot life " + clock(r.PotLife)
	}
	return text
}

func firstKnown(values ...float64) float64 {
	for _, v := range values {
		if v != 0 {
			return v
		}
	}
	return 0
}
