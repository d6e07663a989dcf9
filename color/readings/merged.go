package readings

// underMerged brings a light or a way of reading that stands in merged cells
// above several columns of readings, as spreadsheets lay out two lights side by
// side, into the header of each. It tells whether the row above is of that kind.
func underMerged(above, header []string, o *Options) ([]string, bool) {
	if len(above) == 0 || subjects[normalHeader(above[0])] != ofNothing {
		return header, false // a statement of the whole file
	}
	out := append([]string{}, header...)
	over, found, lights, titled := "", false, 0, false
	for i, h := range header {
		c := understand(h, o)
		reading := c.role == labColumn || c.role == bandColumn
		if i < len(above) && above[i] != "" {
			over = ""
			set, ok := labConditions(labTokens(above[i]))
			switch {
			case reading && ok && set != (setKey{}):
				over = above[i]
				lights++
			case reading:
				return header, false
			case h != "":
				titled = true
			}
		}
		if !reading {
			over = ""
		}
		if over != "" {
			out[i], found = h+" "+over, true
		}
	}
	if titled && lights < 2 {
		return header, false // a line about the file, such as its operator A
	}
	return out, found
}
