package readings

import (
	"fmt"
	"regexp"
	"slices"
	"sort"

	"masstone/color"
	"masstone/color/remedy"
)

// leastPercent is the least that a surface reflects at any wavelength, in
// percent; only a light trap is darker. From memory.
const leastPercent = 0.1

// percentOf finds whether the bands are percent: by what the file or a person
// states, else by size, since nothing reflects more than 1.2 times the perfect
// diffuser. Rows of both kinds are refused, and so are readings that may be
// those of light greys in fractions or of blacks in percent.
func percentOf(s *sheet, pl *plan, decimal rune, o *Options) (bool, error) {
	if len(pl.bands) == 0 {
		return false, nil
	}
	if o.Percent != nil {
		return *o.Percent, nil
	}
	large, small := 0, 0
	firstLarge := 0
	least, most := maxReflectance, 0.0
	values := make([]float64, 0, len(pl.bands))
	for _, r := range s.records {
		values = values[:0]
		for _, b := range pl.bands {
			if b.column < len(r.cells) {
				if v, bad := number(r.cells[b.column], decimal); bad == "" {
					values = append(values, v)
				}
			}
		}
		if len(values) == 0 {
			continue
		}
		// The median, so that one slipped cell does not speak for its row.
		sort.Float64s(values)
		least, most = min(least, values[0]), max(most, values[len(values)-1])
		if values[len(values)/2] > maxReflectance {
			if large++; large == 1 {
				firstLarge = r.line
			}
		} else {
			small++
		}
	}
	switch {
	case large == 0 && small > 0 && pl.step > 0 && least >= leastPercent && most <= maxReflectance && !holdsSurface(s, pl, o) && !s.namesWhite(pl):
		if l, ok := lightness(s, pl, decimal); ok {
			return l < lightestBlack, nil
		}
		return false, &RowError{File: o.File, Row: s.headerLine, Problem: "the spectra may be those of light pieces in fractions or of blacks in percent", Hint: "settle it with " + remedy.InputAs("percent", "false") + " or " + remedy.Input("percent")}
	case large == 0:
		return false, nil
	case small == 0:
		return true, nil
	}
	return false, &RowError{File: o.File, Row: firstLarge, Problem: fmt.Sprintf("the spectra of %d rows look like percent, those of %d like fractions", large, small),
		Hint: "settle it with " + remedy.Input("percent") + " or " + remedy.InputAs("percent", "false")}
}

// lightestBlack is the L* that tells a black of at most 1.2 % (L* 10) from a
// piece that reflects at least 10 % at every wavelength (L* 38).
const lightestBlack = 24

// lightness is the first L* that stands beside the spectra.
func lightness(s *sheet, pl *plan, decimal rune) (float64, bool) {
	for _, r := range s.records {
		for _, set := range pl.sets {
			if at := set.columns[0]; at >= 0 && at < len(r.cells) {
				if v, bad := number(r.cells[at], decimal); bad == "" {
					return v, true
				}
			}
		}
	}
	return 0, false
}

// holdsSurface tells whether readings are said to include the reflection of the
// surface, which alone is 4 % (Fresnel, index 1.5).
func holdsSurface(s *sheet, pl *plan, o *Options) bool {
	said := o.Measurement.Specular
	at, inCells := pl.where[specularColumn]
	for i, r := range s.records {
		if s.measured != nil && s.measured[i].Specular != "" {
			said = s.measured[i].Specular
		}
		if inCells && at < len(r.cells) {
			if m, err := color.ParseMeasurement(r.cells[at]); err == nil && m.Specular != "" {
				said = m.Specular
			}
		}
	}
	return said == color.SpecularIncluded
}

var whiteName = regexp.MustCompile(`(?i)\b(white|tile|weiss|weiß)\b`)

// namesWhite tells whether a piece is called white: no black is.
func (s *sheet) namesWhite(pl *plan) bool {
	return slices.ContainsFunc(s.records, func(r record) bool { return whiteName.MatchString(pl.nameIn(r)) })
}
