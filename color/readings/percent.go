package readings

import (
	"fmt"
	"sort"

	"masstone/color/remedy"
)

// percentOf finds whether the bands are percent: by their headers, else by
// size, since nothing reflects more than 1.2 times the perfect diffuser. Rows
// of both kinds are refused.
func percentOf(s *sheet, pl *plan, decimal rune, o *Options) (bool, error) {
	if len(pl.bands) == 0 {
		return false, nil
	}
	if o.Percent != nil {
		return *o.Percent, nil
	}
	if s.fraction {
		return false, nil
	}
	marked := 0
	for _, b := range pl.bands {
		if pl.columns[b.column].percent {
			marked++
		}
	}
	if marked == len(pl.bands) {
		return true, nil
	}
	large, small := 0, 0
	firstLarge := 0
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
		if values[len(values)/2] > maxReflectance {
			if large++; large == 1 {
				firstLarge = r.line
			}
		} else {
			small++
		}
	}
	switch {
	case large == 0:
		return false, nil
	case small == 0:
		return true, nil
	}
	return false, &RowError{File: o.File, Row: firstLarge, Problem: fmt.Sprintf("the spectra of %d rows look like percent, those of %d like fractions", large, small),
		Hint: "settle it with " + remedy.Input("percent") + " or " + remedy.InputAs("percent", "false")}
}
