// Package gamut belongs to Stage 3 of 6: it finds the colours that a
// calibration's pigments can reach, section by section of lightness, with a
// mixture for each. It computes only; package charts draws.
//
//	gamut.go    what is asked and found
//	search.go   mixtures on one lightness, walked outwards along the gradients
//	outline.go  the edge of a section from what the walks find, and its gaps
//	shape.go    a section as triangles and lines on the a*b* plane
package gamut
