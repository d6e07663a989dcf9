package readings

import "slices"

// Join puts what was poured and what was read of it together by name: loadings
// come from a table without readings, such as a spreadsheet of recipes read by
// Mixtures, and readings from an instrument file read by Samples. Every reading
// must have its loadings; a piece without a reading is a warning.
func Join(file string, loadings, read Table) (Table, error) {
	p := &problems{file: file}
	poured := map[string]Row{}
	var names []string
	for _, r := range loadings.Rows {
		poured[r.Name] = r
		names = append(names, r.Name)
	}
	out := Table{Pigments: loadings.Pigments, Notes: slices.Concat(loadings.Notes, read.Notes), Warnings: slices.Concat(loadings.Warnings, read.Warnings)}
	seen := map[string]bool{}
	for _, r := range read.Rows {
		w, ok := poured[r.Name]
		if !ok {
			hint := "add it to the loadings, or name it alike"
			if near, found := nearest(r.Name, names); found {
				hint = "did you mean " + near + "? " + hint
			}
			p.add(r.Line, r.Name, "", "was read, but what is in it is not said", hint)
			continue
		}
		seen[r.Name] = true
		w.Line, w.Labs, w.Spectrum, w.Measurement = r.Line, r.Labs, r.Spectrum, r.Measurement
		w.Circumstances = r.Circumstances
		if r.Note != "" {
			w.Note = r.Note
		}
		if w.Backing == "" {
			w.Backing = r.Backing
		}
		if w.Casting == "" {
			w.Casting = r.Casting
		}
		if w.ThicknessMM == 0 {
			w.ThicknessMM = r.ThicknessMM
		}
		out.Rows = append(out.Rows, w)
	}
	for _, w := range loadings.Rows {
		if !seen[w.Name] {
			out.Warnings = append(out.Warnings, &RowError{File: file, Row: w.Line, Name: w.Name, Problem: "was poured, but no reading of it is here", Hint: "read it, or leave it out"})
		}
	}
	if err := p.err(); err != nil {
		return Table{}, err
	}
	return out, nil
}
