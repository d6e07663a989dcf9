package recipes

import (
	"regexp"
	"strconv"
)

var classNumber = regexp.MustCompile(`[0-9]+(?:\.[0-9]+)?`)

// FastnessClass reads the heat or light fastness class of a pigment as its card
// has it: the first number of the text, so that a class between two ("7-8")
// counts as the lower, whatever stands around it ("ISO 105-B02" belongs into
// the note). ok is false for a text without a number. Light fastness runs from
// 1 to 8 on the blue wool scale (ISO 105-B02), where 8 fades least; heat
// fastness by the maker's own scale, where more must be better.
func FastnessClass(text string) (class float64, ok bool) {
	v, err := strconv.ParseFloat(classNumber.FindString(text), 64)
	return v, err == nil
}

// FastEnough reports whether a pigment whose card gives a class meets the least
// class asked for. A card without a class meets any, unless strict.
func FastEnough(card string, least float64, strict bool) bool {
	if least == 0 {
		return true
	}
	class, known := FastnessClass(card)
	if !known {
		return !strict
	}
	return class >= least
}
