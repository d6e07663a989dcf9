package calibrate

import (
	"maps"
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

// CrookedStrength is the strength scatter that the fit of a crooked shop begins from where
// the straight one learnt straight.
func CrookedStrength(straight float64) float64 {
	f := candidate{p: &problem{}}
	f.p.hyper.strength = straight
	return f.crookedFrom().strength
}

// StrengthPrior is -2 ln of how likely a strength scatter of a crooked shop is beforehand,
// and the slope of it by its ln.
func StrengthPrior(v float64) (cost, slope float64) {
	p := problem{hyper: crooked}
	return p.outers()[0].prior(v)
}

// FromFlat is what a crooked shop stands by that was learnt from flat curves, begun from
// castings that miss by each of starts, and by how much another round of learning lowers
// that.
func FromFlat(t testing.TB, pigments []string, chips []Chip, starts ...float64) (stood, further float64) {
	f, err := newCandidate(t.Context(), pigments, chips, LayerModel{Name: KubelkaMunk, K1: 0.04, K2: 0.60}, Options{})
	require.NoError(t, err)
	require.NoError(t, f.p.learn(t.Context(), f.x))
	stood, err = f.bendFromFlat(t.Context(), math.Inf(1), starts)
	require.NoError(t, err)
	sys := f.p.system()
	require.NoError(t, f.p.tune(t.Context(), f.x, sys))
	require.NoError(t, f.p.learnHyper(t.Context(), f.x, sys))
	stands, err := f.p.standsBy(f.x, sys)
	require.NoError(t, err)
	return stood, stood - stands
}

// Rounds is what a crooked shop stands by that was learnt from flat curves, begun from
// castings that miss by misses, for each number of rounds up to most.
func Rounds(t testing.TB, pigments []string, chips []Chip, misses float64, most int) (stood []float64) {
	f, err := newCandidate(t.Context(), pigments, chips, LayerModel{Name: KubelkaMunk, K1: 0.04, K2: 0.60}, Options{})
	require.NoError(t, err)
	require.NoError(t, f.p.learn(t.Context(), f.x))
	h := f.crookedFrom()
	h.k, h.s = misses, misses
	for n := range most {
		q, _, err := f.p.withMistake(&mistake{}, f.x)
		require.NoError(t, err)
		y := q.resetLearnt(h)
		q.level = maps.Clone(f.p.level)
		q.setPriors()
		require.NoError(t, q.anneal(t.Context(), y))
		_, _, stands, err := q.learnBent(t.Context(), y, n+1)
		require.NoError(t, err)
		stood = append(stood, stands)
	}
	return stood
}
