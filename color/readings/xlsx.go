package readings

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"masstone/color/remedy"
)

// Limits of a workbook. Its parts are compressed, so that a small file can
// unpack to anything; 50,000 rows with spectra stay below.
const (
	maxUnpacked = 64 << 20
	maxTag      = 64 << 10  // bytes of one XML tag
	maxText     = 1 << 20   // bytes between two tags
	maxCellTags = 6_000_000 // tags of the worksheets together
	maxMetaTags = 1_000_000 // tags of everything else
)

// workbookSheet reads one worksheet of an XLSX file.
func workbookSheet(data []byte, o *Options, judge func([]string) int) (s *sheet, err error) {
	bad := func(problem, hint string) *RowError { return &RowError{File: o.File, Problem: problem, Hint: hint} }
	// The workbook reader is a large foreign parser; a file must not stop the
	// program however it is made.
	defer func() {
		if p := recover(); p != nil {
			s, err = nil, bad("is a damaged workbook", "open it in a spreadsheet and save it again as .xlsx or CSV")
		}
	}()
	if err := inspectWorkbook(data); err != nil {
		return nil, bad(err.Error(), "export the readings as CSV")
	}
	f, err := excelize.OpenReader(bytes.NewReader(data), excelize.Options{RawCellValue: true, UnzipSizeLimit: maxUnpacked, UnzipXMLSizeLimit: maxUnpacked})
	if err != nil {
		return nil, bad("is no readable workbook", "save it again as .xlsx without a password, or as CSV")
	}
	defer f.Close()
	name, err := chooseSheet(f.GetSheetList(), o)
	if err != nil {
		return nil, err
	}
	records, err := sheetRecords(f, name, o.File)
	if err != nil {
		return nil, err
	}
	if err := uncalculated(f, name, records, o.File); err != nil {
		return nil, err
	}
	dates := asDates(f, name, records)
	s, err = headed(records, o, judge)
	if err != nil {
		return nil, err
	}
	if dates != "" {
		s.notes = append(s.notes, dates)
	}
	s.layout = "worksheet " + oneLine(name, 40)
	s.square()
	return s, nil
}

// square fills up rows of a worksheet: cells missing at the right edge are empty
// cells of the table.
func (s *sheet) square() {
	for i, r := range s.records {
		if short := len(s.header) - len(r.cells); short > 0 {
			s.records[i].cells = append(r.cells, make([]string, short)...)
		}
	}
}

func chooseSheet(names []string, o *Options) (string, error) {
	if o.Sheet != "" {
		for _, n := range names {
			if strings.EqualFold(n, o.Sheet) {
				return n, nil
			}
		}
		return "", &RowError{File: o.File, Problem: fmt.Sprintf("has no worksheet %s", quote(o.Sheet)), Hint: "it has " + strings.Join(names, ", ")}
	}
	switch len(names) {
	case 0:
		return "", &RowError{File: o.File, Problem: "has no worksheet", Hint: "save it again as .xlsx"}
	case 1:
		return names[0], nil
	}
	return "", &RowError{File: o.File, Problem: fmt.Sprintf("has %d worksheets", len(names)), Hint: "settle it with " + remedy.Input("sheet") + ": " + strings.Join(names, ", ")}
}

// sheetRecords takes the rows one by one. A cell alone in its row that opens
// with # is a comment, as in CSV; #N/A among others is not.
func sheetRecords(f *excelize.File, name, file string) ([]record, error) {
	rows, err := f.Rows(name)
	if err != nil {
		return nil, &RowError{File: file, Problem: "worksheet cannot be read: " + err.Error(), Hint: "save it again"}
	}
	defer rows.Close()
	var out []record
	cells := 0
	for line := 1; rows.Next(); line++ {
		if line > 1<<20 { // no worksheet has more, empty or not
			return nil, &RowError{File: file, Row: line, Problem: "has more rows than a worksheet can", Hint: "save the file again"}
		}
		row, err := rows.Columns()
		if err != nil {
			return nil, &RowError{File: file, Row: line, Problem: "row cannot be read: " + err.Error(), Hint: "save the file again"}
		}
		filled := 0
		for i, c := range row {
			if row[i] = strings.TrimSpace(c); row[i] != "" {
				filled++
			}
		}
		if filled == 0 || (filled == 1 && strings.HasPrefix(row[0], "#")) {
			continue
		}
		if len(row) > maxColumns {
			return nil, &RowError{File: file, Row: line, Problem: fmt.Sprintf("has more than %d columns", maxColumns), Hint: "is this the right worksheet?"}
		}
		if cells += len(row); len(out) >= maxRows || cells > maxCells {
			return nil, &RowError{File: file, Row: line, Problem: fmt.Sprintf("more than %d rows or %d cells", maxRows, maxCells), Hint: "split the file"}
		}
		out = append(out, record{line, row})
	}
	if err := rows.Error(); err != nil {
		return nil, &RowError{File: file, Problem: "worksheet cannot be read: " + err.Error(), Hint: "save it again"}
	}
	return out, nil
}

// inspectWorkbook unpacks every part once without keeping it, and refuses what
// would cost the parser more than an honest workbook does: too much data, too
// many tags, tags too long.
func inspectWorkbook(data []byte) error {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return errors.New("is no readable workbook")
	}
	if len(z.File) > 10_000 {
		return errors.New("has too many parts for a workbook")
	}
	left := int64(maxUnpacked)
	cellTags, metaTags := maxCellTags, maxMetaTags
	buffer := make([]byte, 64<<10)
	for _, part := range z.File {
		r, err := part.Open()
		if err != nil {
			return errors.New("is a damaged workbook")
		}
		tags := &metaTags
		if strings.Contains(strings.ToLower(part.Name), "worksheets/") {
			tags = &cellTags
		}
		err = inspectPart(r, &left, tags, buffer)
		r.Close()
		if err != nil {
			return err
		}
	}
	return nil
}

func inspectPart(r io.Reader, left *int64, tags *int, buffer []byte) error {
	inTag, length, text := false, 0, 0
	var quoted byte
	markup := true
	for first := true; ; first = false {
		n, err := r.Read(buffer)
		if first {
			// Pictures and the like hold no tags, whatever they are called.
			head := bytes.TrimLeft(bytes.TrimPrefix(buffer[:n], []byte("\xEF\xBB\xBF")), " \t\r\n")
			markup = len(head) == 0 || head[0] == '<'
			if bytes.HasPrefix(head, []byte{0xFF, 0xFE}) || bytes.HasPrefix(head, []byte{0xFE, 0xFF}) {
				return errors.New("is written in UTF-16, which no workbook is")
			}
		}
		if *left -= int64(n); *left < 0 {
			return fmt.Errorf("unpacks to more than %d MB", maxUnpacked>>20)
		}
		if !markup {
			n = 0
		}
		for _, c := range buffer[:n] {
			if !inTag {
				if c == '<' {
					inTag, quoted, length, text = true, 0, 0, 0
					if *tags--; *tags < 0 {
						return errors.New("has more cells or parts than an honest workbook")
					}
				} else if text++; text > maxText {
					return errors.New("has a text longer than a megabyte")
				}
				continue
			}
			if length++; length > maxTag {
				return errors.New("has a tag too long for a workbook")
			}
			switch {
			case quoted != 0:
				if c == quoted {
					quoted = 0
				}
			case c == '"' || c == '\'':
				quoted = c
			case c == '>':
				inTag = false
			}
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return errors.New("is a damaged workbook")
		}
	}
}

// mostCells is how many cells are looked at one by one, as each look searches
// the worksheet.
const mostCells = 500

// uncalculated refuses a worksheet with formulas that no spreadsheet calculated
// yet: programs that write workbooks leave that to the first one that opens them.
func uncalculated(f *excelize.File, name string, records []record, file string) error {
	looked := 0
	width := 0
	for _, r := range records {
		width = max(width, len(r.cells))
		for i := range width {
			if i < len(r.cells) && r.cells[i] != "" {
				continue
			}
			if looked++; looked > mostCells {
				return nil
			}
			cell, err := excelize.CoordinatesToCellName(i+1, r.line)
			if err != nil {
				continue
			}
			if formula, err := f.GetCellFormula(name, cell); err == nil && formula != "" {
				return &RowError{File: file, Row: r.line, Problem: "cell " + cell + " holds the formula =" + oneLine(formula, 40) + ", which was never calculated", Hint: "open the file in a spreadsheet and save it again"}
			}
		}
	}
	return nil
}

// The days that a spreadsheet may have made of a name such as 2-4, as it counts
// them: 1954 to 2119.
const firstDay, lastDay = 20_000, 80_000

// asDates writes the cells that a spreadsheet took for dates as such instead of
// as days since 1900, and says so.
func asDates(f *excelize.File, name string, records []record) string {
	looked := 0
	var found []string
	for _, r := range records {
		for i, c := range r.cells {
			day, bad := number(c, '.')
			if bad != "" || day < firstDay || day > lastDay {
				continue
			}
			if looked++; looked > mostCells {
				break
			}
			cell, err := excelize.CoordinatesToCellName(i+1, r.line)
			if err != nil || !isDate(f, name, cell) {
				continue
			}
			if at, err := excelize.ExcelDateToTime(day, false); err == nil {
				r.cells[i] = at.Format(time.DateOnly)
				found = append(found, fmt.Sprintf("%s (%s)", r.cells[i], cell))
			}
		}
	}
	if len(found) == 0 {
		return ""
	}
	return "dates in the workbook: " + oneLine(strings.Join(found, ", "), 200) + "; a name that the spreadsheet took for one must be typed again in a cell formatted as text"
}

// isDate tells whether a cell is formatted as a date: by a built-in format, or by
// one of the shop's own with days or years in it.
func isDate(f *excelize.File, name, cell string) bool {
	id, err := f.GetCellStyle(name, cell)
	if err != nil {
		return false
	}
	style, err := f.GetStyle(id)
	switch {
	case err != nil:
		return false
	case style.CustomNumFmt != nil:
		return strings.ContainsAny(strings.ToLower(*style.CustomNumFmt), "dy")
	}
	return style.NumFmt >= 14 && style.NumFmt <= 17 || style.NumFmt == 22 || style.NumFmt >= 27 && style.NumFmt <= 36
}
