package readings

import (
	"strconv"
	"strings"
)

// number reads a decimal number written with the given mark. Only digits, one
// mark, a sign and an exponent count: no hexadecimal, no infinities, no words,
// although strconv would take them.
func number(cell string, decimal rune) (v float64, problem string) {
	if len(cell) > 60 {
		return 0, quote(cell) + " is not a number"
	}
	s := strings.ReplaceAll(cell, "\u2212", "-") // minus sign of typeset text
	digits := false
	for i, r := range s {
		switch {
		case r >= '0' && r <= '9':
			digits = true
		case r == decimal, r == '-', r == '+':
		case (r == 'e' || r == 'E') && digits && i > 0:
		default:
			return 0, quote(cell) + " is not a number"
		}
	}
	if !digits {
		return 0, quote(cell) + " is not a number"
	}
	if decimal != '.' {
		s = strings.Replace(s, string(decimal), ".", 1)
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		if v != 0 { // infinite: out of range
			return 0, quote(cell) + " is too large for a number"
		}
		return 0, quote(cell) + " is not a number"
	}
	return v, ""
}

// quote shows a cell in a message.
func quote(s string) string { return strconv.Quote(oneLine(s, 30)) }

// plain writes a number as a person would.
func plain(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }
