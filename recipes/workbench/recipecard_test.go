package workbench

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
)

// TestCardWeighsAsLast: the card gives grams for the batch that was weighed last,
// to the step of its scale. By hand: c_i/100 x 50/(1 + sum/100) of a paste, and what
// both sides share is the rest; a shot drawn from a pail since has no scale.
func TestCardWeighsAsLast(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	for _, m := range []struct{ grams, step calibrate.Grams }{{100, 0.01}, {50, 0.001}} {
		ask := BatchRequest{Recipe: r.ID(), Making: hundredGrams()}
		ask.Grams, ask.ScaleGrams = m.grams, m.step
		_, err := MakeBatch(t.Context(), b, ask)
		require.NoError(t, err)
	}
	_, err := TintStock(t.Context(), b, TintStockRequest{Stock: "pail", Recipe: r.ID(), Grams: 1000, ScaleGrams: 0.1})
	require.NoError(t, err)
	_, err = DrawStock(t.Context(), b, DrawStockRequest{Stock: "pail", Grams: 20, ScaleGrams: 0.01, Pour: true})
	require.NoError(t, err)

	card, err := RecipeCard(t.Context(), b, r.ID(), nil)
	require.NoError(t, err)
	assert.InDelta(t, 50, card.UsualGrams, 0.001)
	assert.Equal(t, 0.001, card.StepGrams)
	mixed, all := 50/(1+sumOf(r.Loadings)/100), 0.0
	for _, l := range card.Loadings {
		assert.InDelta(t, float64(l.PHR)/100*mixed, l.Grams, 0.0006, l.Pigment)
	}
	for _, s := range card.Sides {
		all += s.Grams
	}
	assert.InDelta(t, mixed, all, 0.0015)
}

func sumOf(loadings map[string]float64) (sum float64) {
	for _, phr := range loadings {
		sum += phr
	}
	return sum
}
