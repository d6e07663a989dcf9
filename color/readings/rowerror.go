package readings

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode"
)

// RowError is one bad cell, row or column of a file, told in one line with
// those that are bad for the same cause.
type RowError struct {
	File    string // name of the file as given in Options
	Row     int    // line of a text file, row of a worksheet, from 1; 0 for the file itself
	Column  string // header of the column, empty for a whole row
	Name    string // chip, mix or pigment of the row, when known
	Problem string // what is wrong
	Hint    string // what to do
	More    int    // how many further cells or rows are bad for the same cause
	Rows    []int  // where those are, the first of them
}

// Error gives file:row: name: column: problem; hint.
func (e *RowError) Error() string {
	var b strings.Builder
	b.WriteString(oneLine(e.File, 120))
	if e.Row > 0 {
		fmt.Fprintf(&b, ":%d", e.Row)
	}
	if e.Name != "" {
		b.WriteString(": " + oneLine(e.Name, 40))
	}
	if e.Column != "" {
		b.WriteString(": column " + oneLine(e.Column, 40))
	}
	b.WriteString(": " + oneLine(e.Problem, 300))
	if e.More > 0 {
		b.WriteString(" (" + e.likewise() + ")")
	}
	if e.Hint != "" {
		b.WriteString("; " + oneLine(e.Hint, 300))
	}
	return b.String()
}

// likewise tells where else it is so.
func (e *RowError) likewise() string {
	if len(e.Rows) == 1 && e.Rows[0] == e.Row {
		return fmt.Sprintf("and %d more like it in the row", e.More)
	}
	rows := make([]string, len(e.Rows))
	for i, r := range e.Rows {
		rows[i] = strconv.Itoa(r)
	}
	text := fmt.Sprintf("and %d more like it, in row%s %s", e.More, map[bool]string{true: "s"}[len(rows) > 1], strings.Join(rows, ", "))
	if len(rows) == fewRows {
		text += " ..."
	}
	return text
}

// fewRows of one cause are named.
const fewRows = 5

// maxErrors is how many lines an Errors keeps: enough to see the pattern of a
// bad export, few enough to read.
const maxErrors = 20

// Errors holds everything wrong with one file, first rows first.
type Errors struct {
	Rows []*RowError // at most 20
	More int         // how many further ones were found
}

// Error gives one line per cause and a last line when there were more.
func (e *Errors) Error() string {
	lines := make([]string, 0, len(e.Rows)+1)
	for _, r := range e.Rows {
		lines = append(lines, r.Error())
	}
	if e.More > 0 {
		lines = append(lines, fmt.Sprintf("... and %d more like these", e.More))
	}
	return strings.Join(lines, "\n")
}

// Unwrap gives the single errors to errors.As and errors.Is.
func (e *Errors) Unwrap() []error {
	out := make([]error, len(e.Rows))
	for i, r := range e.Rows {
		out[i] = r
	}
	return out
}

// problems collects what is wrong while a file is read on.
type problems struct {
	file   string
	header int // row of the header, whose columns are told one by one
	errs   Errors
	causes map[string]*RowError
	known  int // in Errors
}

func (p *problems) add(row int, name, column, problem, hint string) {
	p.known++
	cause := causeOf(problem, hint)
	if e := p.causes[cause]; e != nil && row != p.header && row != 0 {
		e.More++
		if n := len(e.Rows); n < fewRows && (n == 0 || e.Rows[n-1] != row) {
			e.Rows = append(e.Rows, row)
		}
		return
	}
	if len(p.errs.Rows) >= maxErrors {
		p.errs.More++
		return
	}
	e := &RowError{File: p.file, Row: row, Column: column, Name: name, Problem: problem, Hint: hint}
	p.errs.Rows = append(p.errs.Rows, e)
	if p.causes == nil {
		p.causes = map[string]*RowError{}
	}
	p.causes[cause] = e
}

// causeOf is what a problem has in common with others of its kind: its words
// without what is quoted and counted, and the remedy.
func causeOf(problem, hint string) string {
	var b strings.Builder
	quoted := false
	for _, r := range problem {
		switch {
		case r == '"':
			quoted = !quoted
		case !quoted && !unicode.IsDigit(r) && r != '.' && r != '-':
			b.WriteRune(r)
		}
	}
	return b.String() + "\x00" + hint
}

// unknown reports many unknown columns in one line.
func (p *problems) unknown(row int, headers []string, hint string) {
	shown := make([]string, fewUnknown)
	for i := range shown {
		shown[i] = oneLine(headers[i], 40)
	}
	p.add(row, "", "", fmt.Sprintf("columns %s and %d more are unknown", strings.Join(shown, ", "), len(headers)-fewUnknown), hint)
}

// whole reports a problem of the file as such.
func (p *problems) whole(problem, hint string) { p.add(0, "", "", problem, hint) }

// join takes over the problems of an error that stopped the reading.
func (p *problems) join(err error) {
	var all *Errors
	var one *RowError
	switch {
	case errors.As(err, &all):
		p.errs.Rows = append(p.errs.Rows, all.Rows...)
		p.errs.More += all.More
		p.known += len(all.Rows) + all.More
	case errors.As(err, &one):
		p.add(one.Row, one.Name, one.Column, one.Problem, one.Hint)
	default:
		p.whole(err.Error(), "")
	}
}

// count tells how many problems there are, kept or not.
func (p *problems) count() int { return p.known }

func (p *problems) err() error {
	if len(p.errs.Rows) == 0 {
		return nil
	}
	return &p.errs
}

// oneLine makes foreign text safe for one line of a report: no control
// characters, no invalid bytes, at most max characters.
func oneLine(s string, max int) string {
	clean := strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == '\u2028' || r == '\u2029' {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
	if n := []rune(clean); len(n) > max {
		return string(n[:max]) + "..."
	}
	return clean
}

// tidy is oneLine without blanks around it, for text that is kept.
func tidy(s string, max int) string { return strings.TrimSpace(oneLine(s, max)) }
