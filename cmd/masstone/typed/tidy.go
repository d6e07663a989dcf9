package typed

import (
	"fmt"
	"strings"
	"unicode"
)

// Tidy makes foreign text safe for a terminal or a page: control characters, which could
// move the cursor or change colours, become spaces; marks without a width, which
// turn the direction of writing or make two names look alike, are shown by number.
func Tidy(s string) string {
	var b strings.Builder
	for _, r := range strings.ToValidUTF8(s, "?") {
		switch {
		case unicode.IsControl(r), r == '\u2028', r == '\u2029':
			b.WriteByte(' ')
		case unicode.Is(unicode.Cf, r):
			fmt.Fprintf(&b, "\\u%04x", r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}
