package charts

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/cell"
)

// csvTable is a table that write writes.
func csvTable(name string, write func(w io.Writer) error) Chart {
	return Chart{Name: name, Formats: []string{CSV}, Draw: func(w io.Writer, format string) error {
		if format != CSV {
			return fmt.Errorf("table %s: no format %q; give %s", name, format, CSV)
		}
		if err := write(w); err != nil {
			return fmt.Errorf("table %s: %w", name, err)
		}
		return nil
	}}
}

// curveTable is K and S of the resin and every pigment with their bands (1),
// wavelength by wavelength.
func curveTable(name string, curves []drawnCurve) Chart {
	return csvTable(name, func(w io.Writer) error { return writeCurves(w, curves) })
}

func writeCurves(w io.Writer, curves []drawnCurve) error {
	out := csv.NewWriter(w)
	if err := out.Write([]string{"pigment", "wavelength_nm", "K_per_mm", "K_low95", "K_high95", "S_per_mm", "S_low95", "S_high95"}); err != nil {
		return err
	}
	for i := range curves {
		d := &curves[i]
		for b := range color.Bands {
			row := []string{cell.Safe(d.name()), strconv.Itoa(color.WavelengthNM(b))}
			for _, l := range []*banded{&d.k, &d.s} {
				row = append(row, digits(l.mid[b]), digits(l.lo[b]), digits(l.hi[b]))
			}
			if err := out.Write(row); err != nil {
				return err
			}
		}
	}
	out.Flush()
	return out.Error()
}

// digits is a computed number of any size, to six digits.
func digits(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }

// table is the numbers of every chip, in the order of the fit. Commas separate,
// points are decimal. Loadings, backing and thickness are empty where the chips
// are not known; sigma and inside95 where the other chips cannot tell.
func table(name string, cal *calibrate.Calibration, chips []calibrate.Chip) Chart {
	return csvTable(name, func(w io.Writer) error { return writeTable(w, cal, chips) })
}

func writeTable(w io.Writer, cal *calibrate.Calibration, chips []calibrate.Chip) error {
	codes := cal.Codes()
	header := []string{"chip", "backing", "thickness_mm"}
	for _, code := range codes {
		header = append(header, "phr_"+code)
	}
	header = append(header, "under", "L_measured", "a_measured", "b_measured", "L_fitted", "a_fitted", "b_fitted", "dE00",
		"L_left_out", "a_left_out", "b_left_out", "dE00_left_out", "sigma", "inside95", "vague")
	out := csv.NewWriter(w)
	if err := out.Write(header); err != nil {
		return err
	}
	for i := range cal.Chips {
		r := &cal.Chips[i]
		row := []string{cell.Safe(r.Chip), "", ""}
		if chips != nil {
			row[1], row[2] = cell.Safe(chips[i].BackingName), exact(float64(chips[i].Thickness))
		}
		for _, code := range codes {
			if chips == nil {
				row = append(row, "")
			} else {
				row = append(row, exact(float64(chips[i].Loadings[code])))
			}
		}
		row = append(row, r.Measured.Under.String())
		row = append(row, labCells(r.Measured)...)
		row = append(row, labCells(r.Fitted)...)
		row = append(row, computed(r.DE00))
		row = append(row, labCells(r.LeftOut)...)
		row = append(row, computed(r.LeftDE00))
		sigma, inside := computed(r.Sigma), strconv.FormatBool(r.Inside)
		if r.Vague {
			sigma, inside = "", ""
		}
		if err := out.Write(append(row, sigma, inside, strconv.FormatBool(r.Vague))); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

func labCells(x color.Lab) []string { return []string{computed(x.L), computed(x.A), computed(x.B)} }

// computed is a computed number, to four decimals: "inf" where there is no end to
// it, nothing where it is no number.
func computed(v float64) string {
	switch {
	case math.IsInf(v, 1):
		return "inf"
	case math.IsNaN(v), math.IsInf(v, -1):
		return ""
	}
	return strconv.FormatFloat(v, 'f', 4, 64)
}

// exact is a number as it was written.
func exact(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
