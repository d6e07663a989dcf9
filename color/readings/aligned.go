package readings

import (
	"bytes"
	"regexp"
	"strings"
)

// Marks of tables that people and programs draw in text: columns between bars,
// and columns aligned by blanks.
const (
	bar    = '|'
	blanks = ' '
)

var (
	rule     = regexp.MustCompile(`^[\s|+:=-]*$`) // a line drawn across a table
	twoBlank = regexp.MustCompile(` {2,}`)
)

// drawn cuts a line of a drawn table into cells: at bars, or at two blanks and
// more.
func drawn(line string, mark rune) []string {
	line = strings.TrimSpace(line)
	if mark == blanks {
		return twoBlank.Split(line, -1)
	}
	cells := strings.Split(strings.TrimSuffix(strings.TrimPrefix(line, "|"), "|"), "|")
	for i := range cells {
		cells[i] = strings.TrimSpace(cells[i])
	}
	return cells
}

// undrawn writes a drawn table with tabs between its cells, line by line, so that
// line numbers stay true.
func undrawn(text []byte, mark rune) []byte {
	var b bytes.Buffer
	for line := range bytes.Lines(text) {
		l := strings.TrimRight(string(line), "\r\n")
		switch {
		case strings.HasPrefix(l, "#"):
			b.WriteString(l)
		case rule.MatchString(l): // nothing
		default:
			for i, c := range drawn(l, mark) {
				if i > 0 {
					b.WriteByte('\t')
				}
				if strings.Contains(c, `"`) {
					c = `"` + strings.ReplaceAll(c, `"`, `""`) + `"`
				}
				b.WriteString(c)
			}
		}
		b.WriteByte('\n')
	}
	return b.Bytes()
}

// singleBlanks widens the blanks between the words of a text in which every line
// has as many.
func singleBlanks(text []byte) ([]byte, bool) {
	lines := firstLines(text, maxRows)
	n := 0
	for i, l := range lines {
		words := len(bytes.Fields(l))
		if i == 0 {
			n = words
		}
		if words < 3 || words != n {
			return nil, false
		}
	}
	return bytes.ReplaceAll(text, []byte(" "), []byte("  ")), n > 0
}
