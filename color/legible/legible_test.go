package legible_test

import (
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/color/legible"
)

// TestText: the marks are those of Unicode Technical Report 36, 2.1 (what turns
// text round) and 3.1 (what is not seen).
func TestText(t *testing.T) {
	for text, want := range map[string]string{
		"":                      "",
		"Möwe & 海の青 🎨":          "Möwe & 海の青 🎨",
		"a\x1b[31mb\x07":        "a [31mb ",
		"a\tb\r\nc\u2028d":      "a b  c d",
		"RD\u200b":              `RD\u200b`,
		"a\u202eb\u2066c\u200f": `a\u202eb\u2066c\u200f`,
		"so\u00adft\ufeff":      `so\u00adft\ufeff`,
		"filler\u3164":          `filler\u3164`,
		"tag\U000e0041":         `tag\ue0041`,
		"bad\xff":               "bad\ufffd",
		`\u200b`:                `\u200b`,
	} {
		require.Equal(t, want, legible.Text(text), "%q", text)
	}
}

// TestTextOnce: what is shown is shown alike again, and stays on its line.
func TestTextOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := legible.Text(rapid.String().Draw(t, "text"))
		require.True(t, utf8.ValidString(text))
		require.Equal(t, text, legible.Text(text))
		require.NotRegexp(t, `[\p{Cc}\p{Cf}\x{2028}\x{2029}]`, text)
	})
}
