package readings

import (
	"errors"
	"fmt"
	"strings"
	"unicode"
)

// RowError is one bad cell, row or column of a file, told in one line.
type RowError struct {
	File    string // name of the file as given in Options
	Row     int    // line of a text file, row of a worksheet, from 1; 0 for the file itself
	Column  string // header of the column, empty for a whole row
	Name    string // chip, mix or pigment of the row, when known
	Problem string // what is wrong
	Hint    string // what to do
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
	if e.Hint != "" {
		b.WriteString("; " + oneLine(e.Hint, 300))
	}
	return b.String()
}

// maxErrors is how many lines an Errors keeps: enough to see the pattern of a
// bad export, few enough to read.
const maxErrors = 20

// Errors holds everything wrong with one file, first rows first.
type Errors struct {
	Rows []*RowError // at most 20
	More int         // how many further ones were found
}

// Error gives one line per bad cell and a last line when there were more.
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
	file string
	errs Errors
}

func (p *problems) add(row int, name, column, problem, hint string) {
	if len(p.errs.Rows) >= maxErrors {
		p.errs.More++
		return
	}
	p.errs.Rows = append(p.errs.Rows, &RowError{p.file, row, column, name, problem, hint})
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
		for _, r := range all.Rows {
			p.add(r.Row, r.Name, r.Column, r.Problem, r.Hint)
		}
		p.errs.More += all.More
	case errors.As(err, &one):
		p.add(one.Row, one.Name, one.Column, one.Problem, one.Hint)
	default:
		p.whole(err.Error(), "")
	}
}

// count tells how many problems there are, kept or not.
func (p *problems) count() int { return len(p.errs.Rows) + p.errs.More }

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
