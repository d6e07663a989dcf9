package main

import (
	"fmt"
	"strings"

	"masstone/calibrate"
	"masstone/color/readings"
	"masstone/recipes/archive"
)

// readingOf is a piece as calibrations take it.
func readingOf(p readings.Piece) (calibrate.Reading, error) {
	bands, err := bandsOf(p)
	return calibrate.Reading{Labs: p.Labs, Spectrum: bands, Measurement: p.Measurement}, err
}

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
