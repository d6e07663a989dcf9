package readings

import (
	"bytes"
	"fmt"
	"strings"
)

// isExchangeText tells whether text is of ISO 28178: it has a data format.
func isExchangeText(text []byte) bool {
	for len(text) > 0 {
		line, rest, _ := bytes.Cut(text, []byte("\n"))
		if bytes.Equal(bytes.TrimSpace(line), []byte("BEGIN_DATA_FORMAT")) {
			return true
		}
		text = rest
	}
	return false
}

// exchangeText is one table of an ISO 28178 file (the keyword and data block
// form of CGATS.17) while it is read.
type exchangeText struct {
	o        *Options
	keywords []keyword
	fields   []token
	fieldsAt int
	rows     []tokenLine
	cells    int
}

// keyword is one line above the data. A keyword may come several times:
// WEIGHTING_FUNCTION stands once for the light, once for the observer.
type keyword struct {
	line      int
	key, text string
}

func (x *exchangeText) keyword(key string) string {
	for _, k := range x.keywords {
		if k.key == key {
			return k.text
		}
	}
	return ""
}

type token struct {
	text   string
	quoted bool
}

type tokenLine struct {
	line   int
	tokens []token
}

// exchangeTextSheet reads the first table of an ISO 28178 file.
func exchangeTextSheet(text []byte, o *Options) (*sheet, error) {
	x := &exchangeText{o: o}
	tables, err := x.scan(text)
	if err != nil {
		return nil, err
	}
	s, err := x.sheet()
	if err != nil {
		return nil, err
	}
	if tables > 1 {
		s.notes = append(s.notes, fmt.Sprintf("only the first of %d tables in the file is used", tables))
	}
	return s, nil
}

// scan walks the lines. Keywords stand one to a line; the words between
// BEGIN_DATA_FORMAT and END_DATA_FORMAT name the fields; each line of the data
// block is one set.
func (x *exchangeText) scan(text []byte) (tables int, err error) {
	const (
		header = iota
		format
		data
	)
	state, at := header, 0
	bad := func(problem, hint string) error {
		return &RowError{File: x.o.File, Row: at, Problem: problem, Hint: hint}
	}
	for len(text) > 0 {
		line, rest, _ := bytes.Cut(text, []byte("\n"))
		text = rest
		at++
		if len(line) > maxLine {
			return 0, bad("line is longer than a megabyte", "is this the right file?")
		}
		tokens, closed := tokenize(string(bytes.TrimRight(line, "\r")))
		if len(tokens) == 0 {
			continue
		}
		if len(tokens) > maxColumns*2 {
			return 0, bad(fmt.Sprintf("has more than %d fields", maxColumns*2), "is this the right file?")
		}
		if !closed && (state != header || tables == 0) {
			return 0, bad("a quotation mark is not closed", "close it; write a quotation mark within text twice")
		}
		word := ""
		if !tokens[0].quoted {
			word = tokens[0].text
		}
		first := tables == 0
		switch {
		case word == "BEGIN_DATA_FORMAT":
			state = format
			if first {
				x.fieldsAt = at
			}
		case word == "END_DATA_FORMAT":
			state = header
		case word == "BEGIN_DATA":
			state = data
		case word == "END_DATA":
			state = header
			tables++
		case state == format && first:
			x.fields = append(x.fields, tokens...)
			if len(x.fields) > maxColumns {
				return 0, bad(fmt.Sprintf("has more than %d fields", maxColumns), "is this the right file?")
			}
		case state == data && first:
			if x.cells += len(tokens); len(x.rows) >= maxRows || x.cells > maxCells {
				return 0, bad(fmt.Sprintf("more than %d sets or %d values", maxRows, maxCells), "split the file")
			}
			x.rows = append(x.rows, tokenLine{at, tokens})
		case state == header && first && len(tokens) > 1 && len(x.keywords) < 1000:
			value := make([]string, len(tokens)-1)
			for i, t := range tokens[1:] {
				value[i] = t.text
			}
			x.keywords = append(x.keywords, keyword{at, strings.ToUpper(word), strings.Join(value, " ")})
		}
	}
	if state == data && tables == 0 {
		return 0, bad("the file ends within its data", "END_DATA is missing: was the file cut off?")
	}
	if tables == 0 {
		return 0, bad("has no BEGIN_DATA", "is the file complete?")
	}
	return tables, nil
}

// tokenize cuts a line at blanks; text in quotation marks is one word, a
// doubled mark within it stands for itself, and # opens a comment.
func tokenize(line string) (tokens []token, closed bool) {
	for i := 0; i < len(line); {
		switch c := line[i]; {
		case c == ' ' || c == '\t' || c == '\r' || c == '\v' || c == '\f':
			i++
		case c == '#':
			return tokens, true
		case c == '"':
			var b strings.Builder
			i++
			for {
				end := strings.IndexByte(line[i:], '"')
				if end < 0 {
					b.WriteString(line[i:])
					return append(tokens, token{b.String(), true}), false
				}
				b.WriteString(line[i : i+end])
				i += end + 1
				if i >= len(line) || line[i] != '"' {
					break
				}
				b.WriteByte('"')
				i++
			}
			tokens = append(tokens, token{b.String(), true})
		default:
			end := strings.IndexAny(line[i:], " \t\r\v\f#")
			if end < 0 {
				end = len(line) - i
			}
			tokens = append(tokens, token{line[i : i+end], false})
			i += end
		}
	}
	return tokens, true
}

// sheet makes the table of fields and sets.
func (x *exchangeText) sheet() (*sheet, error) {
	if len(x.fields) == 0 {
		return nil, &RowError{File: x.o.File, Row: x.fieldsAt, Problem: "names no fields", Hint: "is the file complete?"}
	}
	if len(x.rows) == 0 {
		return nil, &RowError{File: x.o.File, Problem: "holds no data sets", Hint: "is this the right file?"}
	}
	// ISO 28178 counts its sets, so a file that was cut off shows.
	if sets, bad := number(x.keyword("NUMBER_OF_SETS"), '.'); bad == "" && sets != float64(len(x.rows)) && float64(x.cells) != sets*float64(len(x.fields)) {
		return nil, &RowError{File: x.o.File, Problem: fmt.Sprintf("announces %s sets and holds %d", plain(sets), len(x.rows)), Hint: "was it cut off? export it again, or correct NUMBER_OF_SETS"}
	}
	s := &sheet{headerLine: x.fieldsAt, layout: "ISO 28178 text"}
	for _, f := range x.fields {
		s.header = append(s.header, f.text)
	}
	for _, r := range x.rewrapped() {
		cells := make([]string, len(r.tokens))
		for i, t := range r.tokens {
			cells[i] = strings.TrimSpace(t.text)
		}
		s.records = append(s.records, record{r.line, cells})
	}
	if err := x.pairs(s); err != nil {
		return nil, err
	}
	x.conditions(s)
	return s, nil
}

// rewrapped joins sets that were broken over lines, when the number of values
// says that they were.
func (x *exchangeText) rewrapped() []tokenLine {
	n, even := len(x.fields), true
	for _, r := range x.rows {
		even = even && len(r.tokens) == n
	}
	sets, bad := number(x.keyword("NUMBER_OF_SETS"), '.')
	if even || bad != "" || x.cells%n != 0 || float64(x.cells/n) != sets {
		return x.rows
	}
	var out []tokenLine
	for _, r := range x.rows {
		for _, t := range r.tokens {
			if k := len(out); k == 0 || len(out[k-1].tokens) == n {
				out = append(out, tokenLine{line: r.line, tokens: make([]token, 0, n)})
			}
			out[len(out)-1].tokens = append(out[len(out)-1].tokens, t)
		}
	}
	return out
}

// pairs turns fields SPECTRAL_NM SPECTRAL_PCT (or _DEC) that alternate, with
// the wavelength among the data, into one field per band.
func (x *exchangeText) pairs(s *sheet) error {
	for i := 0; i+1 < len(s.header); i++ {
		value := strings.ToUpper(s.header[i+1])
		if strings.ToUpper(s.header[i]) != "SPECTRAL_NM" || (value != "SPECTRAL_PCT" && value != "SPECTRAL_DEC") {
			continue
		}
		nm := ""
		for _, r := range s.records {
			switch {
			case i >= len(r.cells):
			case nm == "":
				nm = r.cells[i]
			case r.cells[i] != nm:
				return &RowError{File: x.o.File, Row: r.line, Column: s.header[i], Problem: fmt.Sprintf("wavelength %s where the first set has %s", quote(r.cells[i]), quote(nm)), Hint: "all sets must be on one set of bands"}
			}
		}
		s.header[i] = "ignore"
		s.header[i+1] = "R" + nm
		if value == "SPECTRAL_PCT" {
			s.header[i+1] = "%R" + nm
		}
		i++
	}
	// The wavelengths are spent: cut their columns out.
	keep := s.header[:0:0]
	var columns []int
	for i, h := range s.header {
		if h != "ignore" {
			keep, columns = append(keep, h), append(columns, i)
		}
	}
	if len(columns) == len(s.header) {
		return nil
	}
	width := len(s.header)
	for k, r := range s.records {
		if len(r.cells) != width {
			continue // reported as it is
		}
		cells := make([]string, len(columns))
		for j, i := range columns {
			cells[j] = r.cells[i]
		}
		s.records[k].cells = cells
	}
	s.header = keep
	return nil
}

// conditions takes light, observer, geometry, specular mode, backing and
// circumstances from the keywords.
func (x *exchangeText) conditions(s *sheet) {
	for _, k := range x.keywords {
		s.state(k.line, k.key, k.text)
	}
}
