package papers

import (
	"encoding/csv"
	"encoding/json"
	"io"
	"strconv"
	"strings"
)

func writeCSV(w io.Writer, p Paper) error {
	rows, err := p.records()
	if err != nil {
		return err
	}
	out := csv.NewWriter(w)
	for _, row := range rows {
		for i, cell := range row {
			row[i] = harmless(tidy(cell))
		}
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// harmless keeps a spreadsheet from taking a text for a formula, by the
// apostrophe that says so in all of them. Numbers stay as they are.
func harmless(cell string) string {
	if cell == "" || !strings.ContainsRune("=+-@\t\r", rune(cell[0])) {
		return cell
	}
	if _, err := strconv.ParseFloat(cell, 64); err == nil {
		return cell
	}
	return "'" + cell
}

// plain writes a number for a program to read.
func plain(v float64) string { return strconv.FormatFloat(rounded(v), 'f', -1, 64) }

func writeJSON(w io.Writer, p Paper) error {
	document, err := p.document()
	if err != nil {
		return err
	}
	out := json.NewEncoder(w)
	out.SetEscapeHTML(false)
	out.SetIndent("", "  ")
	return out.Encode(document)
}
