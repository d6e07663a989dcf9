package readings

import (
	"bytes"
	"errors"
	"io"
)

// open brings any format to a sheet.
func open(r io.Reader, o *Options) (*sheet, error) {
	if o.File == "" {
		o.File = "input"
	}
	return openWith(r, o, func(cells []string) int { return known(cells, o) })
}

// openWith leaves it to judge to tell a header row from what stands above it.
// The format is found by content, never by the name of the file.
func openWith(r io.Reader, o *Options, judge func([]string) int) (*sheet, error) {
	data, err := slurp(r, o.File)
	if err != nil {
		return nil, err
	}
	bad := func(problem, hint string) error { return &RowError{File: o.File, Problem: problem, Hint: hint} }
	switch {
	case len(bytes.TrimSpace(data)) == 0:
		return nil, bad("is empty", "it needs a header row and one row per reading")
	case isODS(data):
		return odsSheet(data, o, judge)
	case bytes.HasPrefix(data, []byte("PK\x03\x04")), bytes.HasPrefix(data, []byte("PK\x05\x06")):
		return workbookSheet(data, o, judge)
	case bytes.HasPrefix(data, []byte{0xD0, 0xCF, 0x11, 0xE0}):
		return nil, bad("is an old or a password-protected workbook", "save it as .xlsx without a password, or as CSV")
	case bytes.HasPrefix(data, []byte("%PDF")):
		return nil, bad("is a PDF", "export the readings as CSV")
	}
	text, note := decode(data)
	text = lines(text)
	if bytes.IndexByte(text, 0) >= 0 {
		return nil, bad("is not text", "export the readings as CSV, XLSX, ISO 28178 text or CxF3")
	}
	switch {
	case bytes.HasPrefix(bytes.TrimSpace(text), []byte("<")):
		if note == "Windows-1252 text" {
			text = data // the XML declaration says how to read it
		}
		return exchangeXMLSheet(text, o)
	case isExchangeText(text):
		return exchangeTextSheet(text, o)
	}
	return textSheet(text, note, o, judge)
}

// known counts the headers that mean something for a reading; dates and
// operators stand above tables as well.
func known(cells []string, o *Options) int {
	n := 0
	for _, c := range cells {
		if r := understand(c, o).role; r != unknown && r != ignored && r < circumstanceColumn {
			n++
		}
	}
	return n
}

// wrap makes any error of a file an *Errors.
func wrap(err error, file string) error {
	var all *Errors
	if errors.As(err, &all) {
		return err
	}
	p := problems{file: file}
	p.join(err)
	return p.err()
}
