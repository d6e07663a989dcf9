package workbench

import (
	"fmt"
	"maps"
	"slices"

	"masstone/color/readings"
	"masstone/recipes/archive"
	"masstone/recipes/papers"
)

// Chips that are one cup, read over one backing after the other, are one casting: what
// was weighed into it and how thick it came out they share.

// plannedCasting is the casting of a chip that does not say one itself: as the newest
// plan has it by which it was cast, of plans newest first.
func plannedCasting(plans []archive.Plan, c archive.Chip) string {
	for _, p := range plans {
		for _, k := range p.Chips {
			if k.Name == c.Name && k.ThicknessMM == c.ThicknessMM && k.Backing == c.Backing && maps.Equal(k.Loadings, c.Loadings) {
				return castingIn(p, c.Name)
			}
		}
	}
	return ""
}

// castingIn is the name of the casting that a chip of a plan shares with others, as the
// plan's file has it: that of the first of them; empty if it is one by itself.
func castingIn(p archive.Plan, chip string) string {
	var paper papers.ChipPlan
	for _, k := range p.Chips {
		paper.Chips = append(paper.Chips, papers.PlannedChip{Name: k.Name, Backing: k.Backing, ThicknessMM: k.ThicknessMM, Loadings: phrs(k.Loadings)})
	}
	_, cups := paper.Cups()
	at := slices.IndexFunc(p.Chips, func(k archive.PlannedChip) bool { return k.Name == chip })
	first := slices.Index(cups, cups[at])
	if first == at && !slices.Contains(cups[at+1:], cups[at]) {
		return ""
	}
	return p.Chips[first].Name
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
