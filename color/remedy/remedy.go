// Package remedy lets an error say what to do about it without saying where:
// the stages know no flags, forms or pages. A message names an input or a verb
// by a mark, and the face that shows the message words the marks its own way.
//
//	Input("over")           ⟦over⟧              --over, or the name of a field
//	InputAs("over", "X")    ⟦over=X⟧            --over X
//	Verb("fit", "CLR")      ⟦do fit␟CLR⟧        masstone fit CLR, or a link
package remedy

import (
	"strings"
)

const (
	opening = "⟦"
	closing = "⟧"
	doing   = "do "
	between = "␟"
)

// Input marks an input of the verb that failed, by the name it has in the
// verb's request.
func Input(name string) string { return opening + name + closing }

// InputAs marks an input with the value it should have; true and false switch.
func InputAs(name, value string) string { return opening + name + "=" + value + closing }

// Verb marks another verb, with what to give it: names, and inputs made by
// Input or InputAs.
func Verb(words ...string) string {
	return opening + doing + strings.Join(words, between) + closing
}

// A Wording is how a face names inputs and verbs.
type Wording interface {
	// Input names an input; value is empty where the mark gives none.
	Input(name, value string) string
	// Verb names a verb with its words, those that are inputs worded already.
	Verb(words []string) string
}

// Word replaces the marks in a text. Marks may stand inside a verb's words.
func Word(text string, w Wording) string {
	var b strings.Builder
	for {
		at := strings.Index(text, opening)
		if at < 0 {
			break
		}
		end := matching(text[at:])
		if end < 0 {
			break
		}
		b.WriteString(text[:at])
		b.WriteString(word(text[at+len(opening):at+end], w))
		text = text[at+end+len(closing):]
	}
	b.WriteString(text)
	return b.String()
}

// matching is where the mark that begins a text is closed, -1 if it is not.
func matching(text string) int {
	depth := 0
	for i := 0; i < len(text); {
		switch rest := text[i:]; {
		case strings.HasPrefix(rest, opening):
			depth++
			i += len(opening)
		case strings.HasPrefix(rest, closing):
			if depth--; depth == 0 {
				return i
			}
			i += len(closing)
		default:
			i++
		}
	}
	return -1
}

func word(mark string, w Wording) string {
	if rest, verb := strings.CutPrefix(mark, doing); verb {
		words := strings.Split(rest, between)
		for i := range words {
			words[i] = Word(words[i], w)
		}
		return w.Verb(words)
	}
	name, value, _ := strings.Cut(mark, "=")
	return w.Input(name, value)
}
