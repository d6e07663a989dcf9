package calibrate

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// RealPigments gives the external tests the chips of testdata/real_pigments and
// its unseen mixtures with their true colours; n is 26, 37 or 48 chips.
func RealPigments(t testing.TB, n int) (pigments []string, chips, mixtures []Chip) {
	s := readRealPigments(t)
	return s.pigments, designOf(s.chips, n), s.mixtures
}

// LearntStrength is the strength scatter that a straight shop of one layer model learns,
// and at its root mean square over what is open of it.
func LearntStrength(t testing.TB, pigments []string, chips []Chip, model LayerModel) (likeliest, open float64) {
	f, err := newCandidate(t.Context(), pigments, chips, model, Options{})
	require.NoError(t, err)
	require.NoError(t, f.p.learn(t.Context(), f.x))
	return f.p.hyper.strength, f.p.openStrength
}
