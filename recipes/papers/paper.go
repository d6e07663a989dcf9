package papers

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"
)

// A Paper is one of the things printed here: BatchSheet, RecipeCard,
// Certificate, RunSheet, RunCertificate, ChipPlan, FitReport or Labels.
type Paper interface {
	heading() Heading
	check() error
	design() (design, error)
	records() ([][]string, error) // CSV, the header first
	document() (any, error)       // JSON
}

// Heading is what every paper carries.
type Heading struct {
	Made time.Time `json:"made"`           // printed as a day; the PDF's date
	Shop []string  `json:"shop,omitempty"` // who made it: name, then lines of the address
}

// day is the date printed.
func (h Heading) day() string { return h.Made.Format(time.DateOnly) }

func (h Heading) heading() Heading { return h }

func (h Heading) check() error {
	if y := h.Made.Year(); y < 1900 || y > 9999 {
		return fmt.Errorf("papers: made in the year %d: give the date of the paper", y)
	}
	return nil
}

// Format is how a paper is written.
type Format string

// The formats.
const (
	Text Format = "text"
	CSV  Format = "csv"
	JSON Format = "json"
	HTML Format = "html"
	PDF  Format = "pdf"
)

// FormatOf tells the format from a file's name, such as sheet.pdf.
func FormatOf(file string) (Format, error) {
	switch ext := strings.ToLower(filepath.Ext(file)); ext {
	case ".txt", ".text":
		return Text, nil
	case ".csv":
		return CSV, nil
	case ".json":
		return JSON, nil
	case ".html", ".htm":
		return HTML, nil
	case ".pdf":
		return PDF, nil
	default:
		return "", fmt.Errorf("%s: %q is no ending this program writes: use .pdf, .html, .csv, .json or .txt", file, ext)
	}
}

// Size is a size of paper.
type Size string

// The sizes. The zero Size is A4.
const (
	A4     Size = "A4"     // 210 x 297 mm, ISO 216
	Letter Size = "Letter" // 8.5 x 11 inches, ANSI/ASME Y14.1 size A
)

// ParseSize reads "a4" or "letter" in any case.
func ParseSize(s string) (Size, error) {
	for _, size := range []Size{A4, Letter} {
		if strings.EqualFold(strings.TrimSpace(s), string(size)) {
			return size, nil
		}
	}
	return "", fmt.Errorf("unknown paper %q: use a4 or letter", s)
}

// mm is the sheet's width and height, upright.
func (s Size) mm() (width, height float64) {
	if s == Letter {
		return 215.9, 279.4
	}
	return 210, 297
}

// Options say how a paper is set.
type Options struct {
	Size   Size // of HTML and PDF
	Width  int  // columns of text, from 40; 0 stands for 80
	Swatch bool // text shows colours, by 24-bit escape sequences
}

const (
	usualWidth = 80
	leastWidth = 40
)

func (o Options) settled() (Options, error) {
	switch {
	case o.Size == "":
		o.Size = A4
	case o.Size != A4 && o.Size != Letter:
		return o, fmt.Errorf("papers: unknown size %q: use A4 or Letter", o.Size)
	}
	if o.Width == 0 {
		o.Width = usualWidth
	}
	if o.Width < leastWidth {
		return o, fmt.Errorf("papers: text of %d columns: give %d or more", o.Width, leastWidth)
	}
	return o, nil
}

// Write writes a paper. An error is a paper that lacks something, which is
// named, or one of w.
func Write(w io.Writer, p Paper, f Format, o Options) error {
	o, err := o.settled()
	if err != nil {
		return err
	}
	if err := p.check(); err != nil {
		return err
	}
	switch f {
	case CSV:
		return writeCSV(w, p)
	case JSON:
		return writeJSON(w, p)
	}
	d, err := p.design()
	if err != nil {
		return err
	}
	d.Made = p.heading().Made
	d.tidy()
	switch f {
	case Text:
		return writeText(w, d, o)
	case HTML:
		return writeHTML(w, d, o)
	case PDF:
		return writePDF(w, d, o)
	}
	return fmt.Errorf("papers: unknown format %q: use text, csv, json, html or pdf", f)
}
