package calibrate

import "testing"

// RealPigments gives the external tests the chips of testdata/real_pigments and
// its unseen mixtures with their true colours; n is 26, 37 or 48 chips.
func RealPigments(t testing.TB, n int) (pigments []string, chips, mixtures []Chip) {
	s := readRealPigments(t)
	return s.pigments, designOf(s.chips, n), s.mixtures
}
