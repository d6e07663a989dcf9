// Package figure writes numbers as results show them: in JSON with the seven
// digits that are known, in text with those a person needs.
package figure
