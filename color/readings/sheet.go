package readings

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"

	"masstone/color"
	"masstone/color/cell"
	"masstone/color/remedy"
)

// Limits of any file, so that a hostile one is refused before it fills memory.
const (
	maxBytes   = 64 << 20
	maxRows    = 100_000
	maxColumns = 1_000
	maxCells   = 5_000_000
	maxLine    = 1 << 20   // bytes of one line of text
	maxCell    = 100 << 10 // bytes of one cell
)

// sheet is a table of text: what every tabular format is brought to first.
type sheet struct {
	header     []string
	headerLine int
	records    []record
	decimal    rune   // mark of its numbers, 0 when the source writes numbers itself
	layout     string // how it was read, for the note
	separator  rune   // of delimited text, else 0
	notes      []string

	// What the file as a whole says of its readings; empty where it does not.
	under       color.Condition
	measurement color.Measurement
	backing     string
	measured    []color.Measurement // per record
	taken       []Circumstances     // per record
	angles      []string            // per record: a geometry in words not known here
	roles       []string            // per record: whether of a standard or a trial, in the file's words

	circumstances Circumstances
	statedPercent *bool
	unclear       []unclear
}

type record struct {
	line  int
	cells []string
}

// slurp reads a whole file within the limit.
func slurp(r io.Reader, file string) ([]byte, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxBytes+1))
	if err != nil {
		return nil, fmt.Errorf("%s: cannot be read: %w", file, err)
	}
	if len(data) > maxBytes {
		return nil, &RowError{File: file, Problem: fmt.Sprintf("is larger than %d MB", maxBytes>>20), Hint: "split it"}
	}
	return data, nil
}

// textSheet reads delimited text. judge counts the headers of a line that mean
// something; it settles which line is the header when a file opens with lines
// about the instrument.
func textSheet(text []byte, note string, o *Options, judge func([]string) int) (*sheet, error) {
	if line, n := longestLine(text); n > maxLine {
		return nil, &RowError{File: o.File, Row: line, Problem: "is longer than a megabyte", Hint: "is this the right file?"}
	}
	separator, text, err := separatorOf(text, o, judge)
	if err != nil {
		return nil, err
	}
	named := separatorName(separator) + "-separated"
	if separator == bar || separator == blanks {
		text, separator = undrawn(text, separator), '\t'
	} else if wide, ok := singleBlanks(text); ok && o.Separator == 0 && !bytes.ContainsRune(text, separator) {
		text, separator, named = undrawn(wide, blanks), '\t', "blank-separated"
	}
	if line, n := widest(text, byte(separator)); n > maxColumns {
		return nil, &RowError{File: o.File, Row: line, Problem: fmt.Sprintf("has more than %d columns", maxColumns), Hint: "is this the right file?"}
	}
	records, err := split(text, separator, o.File)
	if err != nil {
		return nil, err
	}
	s, err := headed(records, o, judge)
	if err != nil {
		return nil, err
	}
	s.separator = separator
	s.layout = named
	if note != "" {
		s.layout = note + ", " + s.layout
	}
	return s, nil
}

// split cuts delimited text into records with the lines they start on.
func split(text []byte, separator rune, file string) ([]record, error) {
	r := csv.NewReader(bytes.NewReader(text))
	r.Comma, r.Comment, r.FieldsPerRecord = separator, '#', -1
	r.TrimLeadingSpace = separator != '\t'
	var out []record
	cells := 0
	for {
		fields, err := r.Read()
		if errors.Is(err, io.EOF) {
			return out, nil
		}
		var bad *csv.ParseError
		if errors.As(err, &bad) {
			return nil, &RowError{File: file, Row: bad.Line, Problem: bad.Err.Error(), Hint: "close the quotation marks, or write an inch mark as in"}
		}
		if err != nil {
			return nil, &RowError{File: file, Problem: err.Error()}
		}
		empty := true
		for i, f := range fields {
			fields[i] = cell.Text(strings.TrimSpace(f))
			empty = empty && fields[i] == ""
			if len(f) > maxCell {
				line, _ := r.FieldPos(i)
				return nil, &RowError{File: file, Row: line, Problem: fmt.Sprintf("a cell is longer than %d characters", maxCell), Hint: "are its quotation marks closed?"}
			}
		}
		if empty { // spreadsheets write ";;;;" for a blank line
			continue
		}
		line, _ := r.FieldPos(0)
		if cells += len(fields); len(out) >= maxRows || cells > maxCells {
			return nil, &RowError{File: file, Row: line, Problem: fmt.Sprintf("more than %d rows or %d cells", maxRows, maxCells), Hint: "split the file"}
		}
		out = append(out, record{line, fields})
	}
}

// longestLine finds it and its number.
func longestLine(text []byte) (line, length int) {
	for at := 1; len(text) > 0; at++ {
		end := bytes.IndexByte(text, '\n')
		if end < 0 {
			end = len(text) - 1
		}
		if end > length {
			line, length = at, end
		}
		text = text[end+1:]
	}
	return line, length
}

// preamble is how many lines about the instrument may come before the header.
const preamble = 30

// headed finds the header among the first records and drops empty columns at
// the right edge.
func headed(records []record, o *Options, judge func([]string) int) (*sheet, error) {
	if len(records) == 0 {
		return nil, &RowError{File: o.File, Problem: "holds no rows", Hint: "it needs a header row and one row per reading"}
	}
	turned := false
	if o.HeaderRow == 0 {
		records, turned = upright(records, o)
	}
	at, err := headerOf(records, o, judge)
	if err != nil {
		return nil, err
	}
	s := &sheet{header: records[at].cells, headerLine: records[at].line, records: records[at+1:]}
	if turned {
		s.notes = append(s.notes, "the readings stand in columns; lines in messages are their columns")
	}
	lines := records[:at]
	if at > 0 {
		var merged bool
		if s.header, merged = underMerged(records[at-1].cells, s.header, o); merged {
			lines = records[:at-1]
		}
	}
	if at > 0 {
		var rest []string
		for _, r := range lines {
			rest = append(rest, s.above(r)...)
		}
		note := fmt.Sprintf("the header is taken from line %d", s.headerLine)
		if len(rest) > 0 {
			note += "; not used of what stands above it: " + oneLine(strings.Join(rest, ", "), 200)
		}
		s.notes = append(s.notes, note)
	}
	width := len(s.header)
	for width > 0 && s.header[width-1] == "" && !s.filled(width-1) {
		width--
	}
	s.header = s.header[:width]
	if len(s.records) == 0 {
		return nil, &RowError{File: o.File, Row: s.headerLine, Problem: "no rows below the header", Hint: "add one row per reading"}
	}
	return s, nil
}

// headerOf finds the row whose headers mean most, as lines above a table may
// have the form of one; the first of equals.
func headerOf(records []record, o *Options, judge func([]string) int) (int, error) {
	if o.HeaderRow > 0 {
		for i, r := range records {
			if r.line == o.HeaderRow {
				return i, nil
			}
		}
		return 0, &RowError{File: o.File, Row: o.HeaderRow, Problem: "is no row of the table", Hint: "say another " + remedy.Input("header-row") + ", or leave it out"}
	}
	at, most := 0, judge(records[0].cells)
	for i := 1; i < len(records) && i < preamble; i++ {
		if n := judge(records[i].cells); n >= 2 && n > most {
			at, most = i, n
		}
	}
	return at, nil
}

// filled tells whether any record has something in a column.
func (s *sheet) filled(column int) bool {
	for _, r := range s.records {
		if column < len(r.cells) && r.cells[column] != "" {
			return true
		}
	}
	return false
}
