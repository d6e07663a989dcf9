package readings

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// OpenDocument spreadsheets (ISO/IEC 26300) say what they are in their first
// part, which is not compressed.
const odsType = "application/vnd.oasis.opendocument.spreadsheet"

func isODS(data []byte) bool {
	return bytes.HasPrefix(data, []byte("PK\x03\x04")) && bytes.Contains(data[:min(len(data), 200)], []byte("mimetype"+odsType))
}

// odsSheet reads one table of an OpenDocument spreadsheet.
func odsSheet(data []byte, o *Options, judge func([]string) int) (*sheet, error) {
	bad := func(problem, hint string) *RowError { return &RowError{File: o.File, Problem: problem, Hint: hint} }
	if err := inspectWorkbook(data); err != nil {
		return nil, bad(err.Error(), "export the readings as CSV")
	}
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, bad("is no readable workbook", "save it again, or as CSV")
	}
	content, err := z.Open("content.xml")
	if err != nil {
		return nil, bad("holds no content", "save it again without a password, or as CSV")
	}
	defer content.Close()
	w := &odsWalk{file: o.File, d: xml.NewDecoder(io.LimitReader(content, maxUnpacked))}
	if err := w.walk(); err != nil {
		return nil, err
	}
	names := make([]string, len(w.tables))
	for i, t := range w.tables {
		names[i] = t.name
	}
	name, err := chooseSheet(names, o)
	if err != nil {
		return nil, err
	}
	var records []record
	for _, t := range w.tables {
		if t.name == name {
			records = t.records
			break
		}
	}
	s, err := headed(records, o, judge)
	if err != nil {
		return nil, err
	}
	s.layout = "worksheet " + oneLine(name, 40)
	s.square()
	return s, nil
}

type odsTable struct {
	name    string
	records []record
}

// odsWalk is a walk over the content, which holds all tables.
type odsWalk struct {
	file   string
	d      *xml.Decoder
	tables []odsTable
	cells  int
}

// Repeated cells and rows are written once with their number; empty ones fill a
// sheet to its end.
func repeated(t xml.StartElement, of string) int {
	n, err := strconv.Atoi(attribute(t, of))
	if err != nil || n < 1 {
		return 1
	}
	return n
}

func (w *odsWalk) bad(row int, problem, hint string) error {
	return &RowError{File: w.file, Row: row, Problem: problem, Hint: hint}
}

func (w *odsWalk) walk() error {
	line := 0
	var row []string
	var rows, columns int // how often the row and the cell at hand come
	var value string
	var text strings.Builder
	inText, inNote, formula := 0, 0, false
	for {
		token, err := w.d.Token()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return w.bad(0, "is a damaged workbook", "open it in a spreadsheet and save it again, or as CSV")
		}
		switch t := token.(type) {
		case xml.Directive:
			return w.bad(0, "declares a document type", "save it again, or as CSV")
		case xml.StartElement:
			switch t.Name.Local {
			case "table":
				w.tables = append(w.tables, odsTable{name: attribute(t, "name")})
				line = 0
			case "table-row":
				row, rows = nil, repeated(t, "number-rows-repeated")
			case "table-cell", "covered-table-cell":
				columns, value, formula = repeated(t, "number-columns-repeated"), attribute(t, "value"), attribute(t, "formula") != ""
				if value == "" {
					value = attribute(t, "date-value")
				}
				text.Reset()
			case "annotation":
				inNote++
			case "p":
				inText++
			}
		case xml.CharData:
			if inText > 0 && inNote == 0 {
				if text.Len()+len(t) > maxCell {
					return w.bad(line+1, "a cell is longer than a page", "is this the right file?")
				}
				text.Write(t)
			}
		case xml.EndElement:
			switch t.Name.Local {
			case "annotation":
				inNote--
			case "p":
				inText--
			case "table-cell", "covered-table-cell":
				if value == "" {
					value = strings.TrimSpace(text.String())
				}
				if value == "" && formula {
					return w.bad(line+1, "a formula was never calculated", "open the file in a spreadsheet and save it again")
				}
				if value == "" && columns > maxColumns {
					break // the empty end of a row
				}
				if len(row)+columns > 2*maxColumns {
					return w.bad(line+1, fmt.Sprintf("has more than %d columns", maxColumns), "is this the right worksheet?")
				}
				for range columns {
					row = append(row, value)
				}
			case "table-row":
				if len(w.tables) == 0 {
					break
				}
				if err := w.add(row, line, rows); err != nil {
					return err
				}
				line += rows
			}
		}
	}
}

// add keeps a row as often as it comes, without its empty end; an empty one not at
// all.
func (w *odsWalk) add(row []string, line, times int) error {
	for len(row) > 0 && row[len(row)-1] == "" {
		row = row[:len(row)-1]
	}
	filled := 0
	for _, c := range row {
		if c != "" {
			filled++
		}
	}
	if filled == 0 || filled == 1 && strings.HasPrefix(row[0], "#") {
		return nil
	}
	t := &w.tables[len(w.tables)-1]
	if w.cells += len(row) * times; times > maxRows || len(t.records)+times > maxRows || w.cells > maxCells {
		return w.bad(line+1, fmt.Sprintf("more than %d rows or %d cells", maxRows, maxCells), "split the file")
	}
	if len(row) > maxColumns {
		return w.bad(line+1, fmt.Sprintf("has more than %d columns", maxColumns), "is this the right worksheet?")
	}
	for i := range times {
		t.records = append(t.records, record{line + 1 + i, append([]string{}, row...)})
	}
	return nil
}
