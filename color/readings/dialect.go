package readings

import (
	"bytes"
	"fmt"
	"strings"

	"masstone/color/remedy"
)

// separators in the order they are tried.
var separators = [...]rune{'\t', ';', ',', bar, blanks}

func separatorName(r rune) string {
	switch r {
	case '\t':
		return "tab"
	case ';':
		return "semicolon"
	case ',':
		return "comma"
	case bar:
		return "bar"
	case blanks:
		return "blank"
	}
	return string(r)
}

// separatorOf finds what separates the cells: the mark that gives most lines
// the same number of cells and, among equals, more headers that mean
// something. A first line "sep=;" as spreadsheets write it decides, and is cut
// off.
func separatorOf(text []byte, o *Options, judge func([]string) int) (rune, []byte, error) {
	if rest, ok := bytes.CutPrefix(text, []byte("sep=")); ok && len(rest) > 1 && (rest[1] == '\r' || rest[1] == '\n') {
		// The line stays, as a comment, so that line numbers stay true.
		text = append([]byte("#"), text[1:]...)
		if o.Separator == 0 && rest[0] < 0x80 && rest[0] != '#' && rest[0] != '"' && rest[0] != '\r' && rest[0] != '\n' {
			return rune(rest[0]), text, nil
		}
	}
	if o.Separator != 0 {
		if o.Separator >= 0x80 || strings.ContainsRune("\"#\r\n\x00", o.Separator) {
			return 0, nil, &RowError{File: o.File, Problem: fmt.Sprintf("%q cannot separate cells", o.Separator), Hint: "use , ; or tab"}
		}
		return o.Separator, text, nil
	}
	sample := firstLines(text, 100)
	best, bestMisses, bestHeaders, tie := ',', -1, 0, rune(0)
	for _, sep := range separators {
		counts := map[int]int{}
		headers, lines := 0, 0
		for _, line := range sample {
			cells := rough(line, sep)
			n := cellsOf(line, byte(sep))
			if sep == bar || sep == blanks {
				if rule.Match(line) {
					continue
				}
				cells = drawn(string(line), sep)
				n = len(cells)
			}
			counts[n]++
			lines++
			if n >= 2 {
				headers = max(headers, judge(cells))
			}
		}
		most := 0
		for n, lines := range counts {
			if n >= 2 && lines > most {
				most = lines
			}
		}
		if most == 0 {
			continue
		}
		misses := lines - most
		switch {
		case bestMisses < 0 || misses < bestMisses || (misses == bestMisses && headers > bestHeaders):
			best, bestMisses, bestHeaders, tie = sep, misses, headers, 0
		case misses == bestMisses && headers == bestHeaders:
			tie = sep
		}
	}
	if tie != 0 {
		return 0, nil, &RowError{File: o.File, Problem: fmt.Sprintf("cells may be separated by %s or by %s", separatorName(best), separatorName(tie)),
			Hint: "settle it with " + remedy.Input("separator")}
	}
	return best, text, nil
}

// firstLines gives up to n lines that are neither blank nor comment.
func firstLines(text []byte, n int) [][]byte {
	var out [][]byte
	for len(text) > 0 && len(out) < n {
		line, rest, _ := bytes.Cut(text, []byte("\n"))
		text = rest
		line = bytes.TrimRight(line, "\r")
		if len(bytes.TrimSpace(line)) > 0 && line[0] != '#' {
			out = append(out, line)
		}
	}
	return out
}

// cellsOf counts the cells of a line, separators in quotation marks aside.
func cellsOf(line []byte, separator byte) int {
	n, quoted := 1, false
	for _, c := range line {
		if c == '"' {
			quoted = !quoted
		} else if c == separator && !quoted {
			n++
		}
	}
	return n
}

// rough cuts a line for a first look at its headers.
func rough(line []byte, separator rune) []string {
	cells := strings.SplitN(string(line), string(separator), maxColumns)
	for i, c := range cells {
		cells[i] = strings.Trim(c, "\" ")
	}
	return cells
}

// widest finds the record with the most cells before any is cut, since a
// single line of separators would cost dozens of times its size.
func widest(text []byte, separator byte) (line, cells int) {
	n, quoted, at := 1, false, 1
	start := 1
	for _, c := range text {
		switch {
		case c == '"':
			quoted = !quoted
		case c == '\n':
			at++
			if !quoted {
				n, start = 1, at
			}
		case c == separator && !quoted:
			if n++; n > cells {
				line, cells = start, n
			}
		}
	}
	return line, cells
}

// decimalOf finds the decimal mark of the numeric cells. A file of both marks
// is refused unless one is so rare that it must be a slip, which its own cell
// then reports; so is one whose commas may all group thousands, where numbers
// that large make sense.
func decimalOf(s *sheet, numeric []int, thousandsMakeSense bool, o *Options) (rune, error) {
	if s.decimal != 0 {
		return s.decimal, nil
	}
	if o.Decimal != 0 {
		if o.Decimal != '.' && o.Decimal != ',' {
			return 0, &RowError{File: o.File, Problem: fmt.Sprintf("%q is no decimal mark", o.Decimal), Hint: "use " + remedy.InputAs("decimal", ".") + " or " + remedy.InputAs("decimal", ",")}
		}
		return o.Decimal, nil
	}
	points, commas, thousands := 0, 0, 0
	var firstComma record
	var firstColumn string
	for _, r := range s.records {
		for _, i := range numeric {
			if i >= len(r.cells) {
				continue
			}
			c := r.cells[i]
			switch {
			case strings.Count(c, ",") == 1 && !strings.Contains(c, "."):
				if _, bad := number(c, ','); bad != "" {
					continue
				}
				if commas == 0 {
					firstComma, firstColumn = r, s.header[i]
				}
				commas++
				if grouped(c) {
					thousands++
				}
			case strings.Count(c, ".") == 1 && !strings.Contains(c, ","):
				points++
			}
		}
	}
	switch {
	case commas*20 < points, commas == 0:
		return '.', nil
	case points*20 < commas && points > 0:
		return ',', nil
	case points > 0:
		return 0, &RowError{File: o.File, Row: firstComma.line, Column: firstColumn,
			Problem: fmt.Sprintf("decimal commas here and decimal points elsewhere (%d cells against %d)", commas, points), Hint: "settle it with " + remedy.InputAs("decimal", ",") + " or " + remedy.InputAs("decimal", ".") + " and mend the others"}
	case thousands == commas && thousandsMakeSense:
		return 0, &RowError{File: o.File, Row: firstComma.line, Column: firstColumn,
			Problem: "a comma here may be a decimal mark or a group of thousands", Hint: "settle it with " + remedy.InputAs("decimal", ",") + " or " + remedy.InputAs("decimal", ".") + " and write the number without groups"}
	}
	return ',', nil
}

// grouped tells whether a comma may group thousands: 1,250 but not 0,250.
func grouped(c string) bool {
	whole, rest, _ := strings.Cut(strings.TrimLeft(c, "+-"), ",")
	return len(rest) == 3 && len(whole) >= 1 && len(whole) <= 3 && whole[0] != '0'
}
