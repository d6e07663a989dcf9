// Package cell keeps spreadsheets from taking the text in a cell of a table for a
// formula, by the apostrophe that says so in all of them.
package cell

import (
	"strconv"
	"strings"
)

// signs begin a formula.
const signs = "=+-@\t\r"

// Safe is a text as a cell may hold it. Numbers stay as they are.
func Safe(text string) string {
	if formula(text) {
		return "'" + text
	}
	return text
}

// Text is the text of a cell that Safe wrote; others stay as they are.
func Text(cell string) string {
	if text, found := strings.CutPrefix(cell, "'"); found && formula(text) {
		return text
	}
	return cell
}

// formula tells whether a text begins as a formula does, or as one that was made
// safe, so that Text gives back either.
func formula(text string) bool {
	bare := strings.TrimLeft(text, "'")
	if bare == "" || !strings.ContainsRune(signs, rune(bare[0])) {
		return false
	}
	_, err := strconv.ParseFloat(bare, 64)
	return err != nil
}
