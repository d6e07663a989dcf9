package workbench

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestCorrectionFromAJar: on a coarse scale a pot is corrected from the jar at hand.
// The shot that follows takes from the jar what was added, and holds that much of the
// paste.
func TestCorrectionFromAJar(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	green := testShop().Codes[2]
	p := addPour(t, b, r, nil)
	readPour(t, b, p.Pour, stronger(lamp(), green, 0.9))
	ask := usualCorrection(p.Pour)
	ask.PotGrams, ask.PotSide, ask.ScaleGrams = 30, "B", 0.05
	neat, err := Correct(t.Context(), b, ask)
	require.NoError(t, err)

	for code := range lamp() {
		_, err = Dilute(t.Context(), b, DiluteRequest{Pigment: code, PasteGrams: 0.5, SideGrams: 10})
		require.NoError(t, err)
	}
	v, err := Correct(t.Context(), b, ask)
	require.NoError(t, err)
	i := slices.IndexFunc(v.Ways, func(w Way) bool {
		return slices.ContainsFunc(w.Lines, func(l Amount) bool { return strings.Contains(l.Item, " D") }) && w.Growth != nil
	})
	require.Positive(t, i, "%+v", v.Ways)
	w := v.Ways[i]
	k := slices.IndexFunc(neat.Ways, func(o Way) bool { return o.Way == w.Way })
	require.Less(t, float64(w.Expected), float64(neat.Ways[k].Expected))
	require.True(t, slices.ContainsFunc(v.Notes, func(n string) bool { return strings.Contains(n, "comes from jar D") }))

	shot, err := AddPour(t.Context(), b, AddPourRequest{Batch: w.Batch})
	require.NoError(t, err)
	require.NotEmpty(t, shot.Jars)
	for _, jar := range shot.Jars {
		at := slices.IndexFunc(w.Lines, func(l Amount) bool { return strings.HasSuffix(l.Item, " "+jar.Jar) })
		require.GreaterOrEqual(t, at, 0)
		require.InDelta(t, float64(w.Lines[at].Grams), float64(jar.Drawn), 1e-9)
		require.InDelta(t, 10.5-float64(jar.Drawn), float64(jar.Left), 1e-6)
	}
	for code, phr := range w.Loadings { // a share of what is weighed in steps of 0.05 g of some 60 g of resin
		require.InDelta(t, float64(phr), float64(shot.Loadings[code]), 2e-3, code)
	}
	problems, err := b.archive.Verify(t.Context())
	require.NoError(t, err)
	require.Empty(t, problems.Problems)
}
