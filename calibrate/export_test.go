package calibrate

import (
	"math"
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

// CrookedStrength is the strength scatter that the fit of a crooked shop begins from, and
// what it does not pass, where the straight one was found to have that much.
func CrookedStrength(straight float64) (from, most float64) {
	f := candidate{p: &problem{mostStrength: straight}}
	f.p.hyper.strength = straight
	from = f.crookedFrom().strength
	f.p.hyper = f.crookedFrom()
	return from, f.p.outers()[0].most
}

// StandsStill is by how much another round of learning lowers what a crooked shop stands
// by that was learnt from flat curves.
func StandsStill(t testing.TB, pigments []string, chips []Chip) float64 {
	f, err := newCandidate(t.Context(), pigments, chips, LayerModel{Name: KubelkaMunk, K1: 0.04, K2: 0.60}, Options{})
	require.NoError(t, err)
	require.NoError(t, f.p.learn(t.Context(), f.x))
	stood, err := f.bendFromFlat(t.Context(), math.Inf(1))
	require.NoError(t, err)
	sys := f.p.system()
	require.NoError(t, f.p.tune(t.Context(), f.x, sys))
	require.NoError(t, f.p.learnHyper(t.Context(), f.x, sys))
	stands, err := f.p.standsBy(f.x, sys)
	require.NoError(t, err)
	return stood - stands
}
