package readings

import "slices"

// upright turns a table whose readings stand in columns: the first cells of its
// rows are what headers are, L*, a* and b* of one light or the bands of a
// spectrum. Lines above the names of the pieces stay as they are. Messages then
// count columns.
func upright(records []record, o *Options) ([]record, bool) {
	down := make([]string, len(records))
	for i, r := range records {
		down[i] = r.cells[0]
		if i < preamble && holdReading(r.cells, o) {
			return records, false
		}
	}
	if len(down) > maxColumns || !holdReading(down, o) {
		return records, false
	}
	names := 0 // row of the names of the pieces
	for !isReading(down[names], o) && !slices.Contains([]role{nameColumn, sampleColumn, standardColumn}, understand(down[names], o).role) {
		names++
	}
	if isReading(down[names], o) { // nothing says that the row before holds them
		names--
	}
	if names < 0 {
		return records, false
	}
	width := 0
	for _, r := range records[names:] {
		width = max(width, len(r.cells))
	}
	out := append([]record{}, records[:names]...)
	for column := range width {
		turned := record{line: column + 1, cells: make([]string, len(records)-names)}
		for i, r := range records[names:] {
			if column < len(r.cells) {
				turned.cells[i] = r.cells[column]
			}
		}
		out = append(out, turned)
	}
	if head := out[names].cells; understand(head[0], o).role == unknown {
		head[0] = "name"
	}
	return out, true
}

func isReading(header string, o *Options) bool {
	r := understand(header, o).role
	return r == labColumn || r == bandColumn
}

// fewestBands tells the bands of a spectrum from pieces that are called by
// numbers.
const fewestBands = 7

// holdReading tells whether headers are those of a whole reading.
func holdReading(headers []string, o *Options) bool {
	axes := map[setKey]int{}
	bands := map[int]bool{}
	for _, h := range headers {
		switch c := understand(h, o); c.role {
		case labColumn:
			axes[c.set] |= 1 << c.axis
			if axes[c.set] == 1<<3-1 {
				return true
			}
		case bandColumn:
			if bands[c.nm] = true; len(bands) >= fewestBands {
				return true
			}
		}
	}
	return false
}
