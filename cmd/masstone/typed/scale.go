package typed

import (
	"strings"
	"unicode"
)

// Scale reads what says a scale: its name, or its step in grams.
func Scale(text string) (name string, grams float64, err error) {
	if name = strings.TrimSpace(text); name != "" && unicode.IsLetter([]rune(name)[0]) {
		return name, 0, nil
	}
	grams, err = Grams.Parse(text)
	return "", grams, err
}
