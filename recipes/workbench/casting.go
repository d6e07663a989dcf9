package workbench

import (
	"fmt"
	"maps"

	"masstone/color/readings"
	"masstone/recipes/archive"
)

// Chips that are one cup, read over one backing after the other, are one casting: what
// was weighed into it and how thick it came out they share.

// plannedCasting is the casting of a chip that does not say one itself: as the newest
// plan has it by which it was cast, of plans newest first.
func plannedCasting(plans []archive.Plan, c archive.Chip) string {
	for _, p := range plans {
		for _, k := range p.Chips {
			if k.Name == c.Name && k.ThicknessMM == c.ThicknessMM && k.Backing == c.Backing && maps.Equal(k.Loadings, c.Loadings) {
				return p.Chip(k).Casting
			}
		}
	}
	return ""
}

// checkCastings refuses chips of a file that are said to be one casting and hold
// different things, or are of different thickness.
func checkCastings(file string, pieces []readings.Piece) error {
	first := map[string]readings.Piece{}
	for _, p := range pieces {
		of, again := first[p.Casting]
		switch {
		case p.Casting == "":
		case !again:
			first[p.Casting] = p
		case of.ThicknessMM != p.ThicknessMM || !maps.Equal(of.Loadings, p.Loadings):
			return &readings.RowError{File: file, Row: p.Line, Column: "casting", Name: p.Name,
				Problem: fmt.Sprintf("%q has other loadings or another thickness in chip %s", p.Casting, of.Name), Hint: "a casting has one content and one thickness; name another"}
		}
	}
	return nil
}
