package papers

import (
	"encoding/csv"
	"encoding/json"
	"io"
	"strconv"

	"masstone/color/cell"
)

func writeCSV(w io.Writer, p Paper) error {
	rows, err := p.records()
	if err != nil {
		return err
	}
	out := csv.NewWriter(w)
	for _, row := range rows {
		for i, text := range row {
			row[i] = cell.Safe(tidy(text))
		}
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
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
