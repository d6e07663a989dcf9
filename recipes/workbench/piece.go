package workbench

import (
	"fmt"
	"slices"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes/archive"
)

// readingsOf are rows of a file as the archive keeps them.
func readingsOf(rows []readings.Row) []archive.Reading {
	var out []archive.Reading
	for _, r := range rows {
		how := archive.Reading{Geometry: string(r.Measurement.Geometry), Specular: string(r.Measurement.Specular), Taken: takenOf(r.Circumstances)}
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

// takenOf are the circumstances of a reading, nil where nothing is said of them.
func takenOf(c readings.Circumstances) *archive.Taken {
	if c == (readings.Circumstances{}) {
		return nil
	}
	t := archive.Taken(c)
	return &t
}

// TakenText lists the circumstances of a reading, empty where nothing is said of
// them.
func TakenText(t *archive.Taken) string {
	if t == nil {
		return ""
	}
	return readings.Circumstances(*t).String()
}

// pieceOf is the mean of archived readings, with their scatter.
func pieceOf(name string, archived []archive.Reading) (readings.Piece, error) {
	rows := make([]readings.Row, len(archived))
	for i, r := range archived {
		rows[i] = readings.Row{Line: i + 1, Name: name, Measurement: color.Measurement{Geometry: color.Geometry(r.Geometry), Specular: color.Specular(r.Specular)}}
		if r.Taken != nil {
			rows[i].Circumstances = readings.Circumstances(*r.Taken)
		}
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

// onePiece brings several readings of one piece together.
func onePiece(file string, rows []readings.Row) (readings.Piece, error) {
	pieces, err := readings.Pieces(file, rows)
	if err != nil {
		return readings.Piece{}, err
	}
	return pieces[0], nil
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

// readingOf is a piece as calibrations take it.
func readingOf(p readings.Piece) (calibrate.Reading, error) {
	bands, err := bandsOf(p)
	return calibrate.Reading{Labs: p.Labs, Spectrum: bands, Measurement: p.Measurement, Aperture: apertureOf(p.Circumstances)}, err
}

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

// timesRead counts the rows of a piece that hold a reading.
func timesRead(p readings.Piece) int {
	n := 0
	for _, r := range p.Readings {
		if len(r.Labs) > 0 || r.Spectrum != nil {
			n++
		}
	}
	return n
}

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

// conditionsOf are the lights of stored colours.
func conditionsOf(labs []archive.Lab) []color.Condition {
	var out []color.Condition
	for _, l := range labs {
		out = append(out, l.Color().Under)
	}
	return out
}
