package readings

import (
	"fmt"
	"maps"

	"masstone/color"
)

// Piece is what several readings of one piece come to.
type Piece struct {
	// Row is the first reading with its Labs and Spectrum replaced by the means.
	Row
	Readings []Row
	// Repeat holds the scatter under each condition, in the order of Row.Labs.
	Repeat []color.Repeatability
	// SpectrumRepeat is the scatter of the spectra through their own Lab under
	// D65/10; nil without spectra.
	SpectrumRepeat *color.Repeatability
	// Warnings name readings that do not belong.
	Warnings []*RowError
}

// Pieces groups rows of one name, in the order they first appear, and averages
// their readings. The error tells rows of one name that are not one piece:
// other loadings, backing, thickness, way of measuring or bands.
func Pieces(file string, rows []Row) ([]Piece, error) {
	p := &problems{file: file}
	order := []string{}
	byName := map[string][]Row{}
	for _, r := range rows {
		if _, seen := byName[r.Name]; !seen {
			order = append(order, r.Name)
		}
		byName[r.Name] = append(byName[r.Name], r)
	}
	out := make([]Piece, 0, len(order))
	for _, name := range order {
		out = append(out, pieceOf(file, byName[name], p))
	}
	if err := p.err(); err != nil {
		return nil, err
	}
	return out, nil
}

func pieceOf(file string, rows []Row, p *problems) Piece {
	piece := Piece{Row: rows[0], Readings: rows}
	for _, r := range rows[1:] {
		if what := otherPiece(rows[0], r); what != "" {
			p.add(r.Line, r.Name, "", fmt.Sprintf("%s than in row %d", what, rows[0].Line), "readings of one piece must agree in it; give another piece another name")
			return piece
		}
	}
	piece.Labs = nil
	at := map[color.Condition]int{}
	var under [][]color.Lab
	var lines [][]int
	for _, r := range rows {
		for _, l := range r.Labs {
			i, ok := at[l.Under]
			if !ok {
				i = len(under)
				at[l.Under] = i
				under, lines = append(under, nil), append(lines, nil)
			}
			under[i], lines[i] = append(under[i], l), append(lines[i], r.Line)
		}
	}
	for i, labs := range under {
		rep, err := color.Repeat(labs)
		if err != nil {
			p.add(rows[0].Line, rows[0].Name, "", err.Error(), "")
			return piece
		}
		piece.Labs = append(piece.Labs, rep.Mean)
		piece.Repeat = append(piece.Repeat, rep)
		if n := rep.Outlier; n >= 0 {
			piece.Warnings = append(piece.Warnings, &RowError{File: file, Row: lines[i][n], Name: rows[0].Name,
				Problem: fmt.Sprintf("reading %d of %d does not belong to the others under %s (CIEDE2000 %.2f from the mean; MCDM %.2f)", n+1, len(labs), labs[n].Under, color.Delta00(rep.Mean.Values(), labs[n].Values()), rep.MCDM),
				Hint:    "read the piece again, or leave that reading out"})
		}
		piece.watchApart(file, rep, "readings")
	}
	mean, odd := meanSpectrum(rows)
	if odd != nil {
		p.add(odd.Line, odd.Name, "", "other bands than in the readings before", "export all readings of a piece on one set of bands")
	}
	piece.Spectrum = mean
	piece.watchSpectra(file, rows, p)
	return piece
}

// watchSpectra looks for a spectrum that does not belong to the others, as for
// Lab: by the Lab each gives under D65/10.
func (piece *Piece) watchSpectra(file string, rows []Row, p *problems) {
	var labs []color.Lab
	var lines []int
	for _, r := range rows {
		if r.Spectrum == nil {
			continue
		}
		lab, err := r.Spectrum.Lab(color.D65Ten())
		if err != nil {
			return // bands the tables do not serve were reported with the header
		}
		labs, lines = append(labs, lab), append(lines, r.Line)
	}
	if len(labs) == 0 || piece.Spectrum == nil {
		return
	}
	rep, err := color.Repeat(labs)
	if err != nil {
		p.add(rows[0].Line, rows[0].Name, "", err.Error(), "")
		return
	}
	piece.SpectrumRepeat = &rep
	if n := rep.Outlier; n >= 0 {
		piece.Warnings = append(piece.Warnings, &RowError{File: file, Row: lines[n], Name: rows[0].Name,
			Problem: fmt.Sprintf("spectrum %d of %d does not belong to the others: its Lab under %s is CIEDE2000 %.2f from their mean (MCDM %.2f)", n+1, len(labs), labs[n].Under, color.Delta00(rep.Mean.Values(), labs[n].Values()), rep.MCDM),
			Hint:    "read the piece again, or leave that reading out"})
	}
	piece.watchApart(file, rep, "spectra")
}

// watchApart warns of readings that do not agree though none of them stands out.
func (piece *Piece) watchApart(file string, rep color.Repeatability, what string) {
	if rep.Apart() {
		piece.Warnings = append(piece.Warnings, &RowError{File: file, Row: piece.Line, Name: piece.Name,
			Problem: fmt.Sprintf("its %s lie CIEDE2000 %.2f from their mean under %s", what, rep.MCDM, rep.Mean.Under), Hint: "read the piece again, or leave the wrong one out"})
	}
}

// otherPiece says in what two rows cannot be readings of one piece.
func otherPiece(a, b Row) string {
	switch {
	case !maps.Equal(a.Loadings, b.Loadings):
		return "other loadings"
	case a.Backing != b.Backing:
		return "another backing"
	case a.ThicknessMM != b.ThicknessMM:
		return "another thickness"
	case a.Measurement != b.Measurement:
		return "another geometry or specular mode"
	case a.Circumstances.Geometry != b.Circumstances.Geometry:
		return "another geometry"
	case a.Circumstances.Mode != b.Circumstances.Mode:
		return "another measurement condition"
	case a.Circumstances.Filter != b.Circumstances.Filter:
		return "another filter"
	case a.Circumstances.Aperture != b.Circumstances.Aperture:
		return "another aperture"
	}
	return ""
}

// meanSpectrum averages the spectra of one piece; odd is the row whose bands
// are not those of the rows before.
func meanSpectrum(rows []Row) (mean *color.Spectrum, odd *Row) {
	n := 0.0
	for i, r := range rows {
		s := r.Spectrum
		if s == nil {
			continue
		}
		if mean == nil {
			mean = &color.Spectrum{FirstNM: s.FirstNM, StepNM: s.StepNM, R: make([]float64, len(s.R))}
		}
		if mean.FirstNM != s.FirstNM || mean.StepNM != s.StepNM || len(mean.R) != len(s.R) {
			return nil, &rows[i]
		}
		n++
		for j, v := range s.R {
			mean.R[j] += v
		}
	}
	if mean != nil {
		for j := range mean.R {
			mean.R[j] /= n
		}
	}
	return mean, nil
}
