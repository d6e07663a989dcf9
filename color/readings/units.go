package readings

import "strings"

// unitWords may fill a row of units below the header: those the columns are
// read in. Other units are not put aside, so that their row is refused.
var unitWords = map[string]bool{"%": true, "percent": true, "mm": true, "phr": true, "nm": true, "g": true, "cielab": true, "-": true, "1": true,
	"%r": true, "unit": true, "units": true}

// unit is the unit in a cell, which may stand in brackets.
func unit(cell string) string { return strings.ToLower(strings.Trim(cell, "[]() :")) }

// settleUnits puts a row of units aside and takes the percent signs off
// reflectances; both state how the numbers are meant.
func (s *sheet) settleUnits(pl *plan) {
	if len(s.records) > 1 && isUnits(s.records[0].cells) {
		for _, b := range pl.bands {
			if c := s.records[0].cells; b.column < len(c) {
				switch unit(c[b.column]) {
				case "%", "%r", "percent":
					s.percent(true)
				}
			}
		}
		s.dropFirst()
		s.notes = append(s.notes, "the row of units below the header was put aside")
	}
	signs := 0
	for _, r := range s.records {
		for _, b := range pl.bands {
			if b.column >= len(r.cells) || r.cells[b.column] == "" || r.cells[b.column] == notRead {
				continue
			}
			if !strings.HasSuffix(r.cells[b.column], "%") {
				return // told cell by cell
			}
			signs++
		}
	}
	if signs == 0 {
		return
	}
	s.percent(true)
	for _, r := range s.records {
		for _, b := range pl.bands {
			if b.column < len(r.cells) {
				r.cells[b.column] = strings.TrimSpace(strings.TrimSuffix(r.cells[b.column], "%"))
			}
		}
	}
}

// isUnits tells whether a row holds units and nothing else.
func isUnits(cells []string) bool {
	words := 0
	for _, c := range cells {
		if c == "" {
			continue
		}
		if !unitWords[unit(c)] {
			return false
		}
		if c != "-" && c != "1" {
			words++
		}
	}
	return words > 0
}

func (s *sheet) dropFirst() {
	s.records = s.records[1:]
}
