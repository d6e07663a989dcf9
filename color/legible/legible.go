// Package legible shows foreign text for what it is: on one line, with nothing
// in it that is not seen.
package legible

import (
	"fmt"
	"strings"
	"unicode"
)

// Text is s on screen and paper. Control characters, which could move a cursor
// or change colours, become blanks; marks without a width, which turn the
// direction of writing or make two names look alike, are shown by number, as in
// \u200b; bytes that are no UTF-8 become U+FFFD. The marks are the format
// characters and the letters that show nothing (Unicode Standard Annex 44,
// General_Category Cf and Other_Default_Ignorable_Code_Point).
func Text(s string) string {
	var b strings.Builder
	for _, r := range strings.ToValidUTF8(s, "\ufffd") {
		switch {
		case unicode.IsControl(r), r == '\u2028', r == '\u2029':
			b.WriteByte(' ')
		case unicode.In(r, unicode.Cf, unicode.Other_Default_Ignorable_Code_Point):
			fmt.Fprintf(&b, `\u%04x`, r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}
