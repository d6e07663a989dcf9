package workbench

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/recipes/archive"
)

// TestMassesThatNobodyWeighs are refused by every verb that takes masses, at
// their input, and nothing is stored.
func TestMassesThatNobodyWeighs(t *testing.T) {
	b, r := provenWith(t, 1.25)
	_, err := TintStock(t.Context(), b, TintStockRequest{Stock: "pail", Recipe: r.ID(), Grams: 1000, ScaleGrams: 0.1})
	require.NoError(t, err)
	before, err := b.archive.Log(t.Context(), archive.LogFilter{})
	require.NoError(t, err)
	verbs := map[string]func(calibrate.Grams) error{
		"batch": func(g calibrate.Grams) error {
			_, err := MakeBatch(t.Context(), b, BatchRequest{Recipe: r.ID(), Making: Making{Grams: g, ScaleGrams: 0.01}})
			return err
		},
		"batch on a scale": func(g calibrate.Grams) error {
			_, err := MakeBatch(t.Context(), b, BatchRequest{Recipe: r.ID(), Making: Making{Grams: 100, ScaleGrams: g}})
			return err
		},
		"reorder": func(g calibrate.Grams) error {
			_, err := MakeReorder(t.Context(), b, ReorderRequest{Target: "lamp", Making: Making{Grams: g, ScaleGrams: 0.01}})
			return err
		},
		"match": func(g calibrate.Grams) error {
			_, err := Match(t.Context(), b, MatchRequest{Target: "lamp", Resin: testResin, Limits: Limits{MaxPigments: 1, Recipes: 1, BatchGrams: g}})
			return err
		},
		"correct": func(g calibrate.Grams) error {
			_, err := Correct(t.Context(), b, CorrectRequest{Pour: "P1", MaxPigments: 4, PotGrams: g})
			return err
		},
		"stock tint": func(g calibrate.Grams) error {
			_, err := TintStock(t.Context(), b, TintStockRequest{Stock: "pail", Grams: g, ScaleGrams: 0.1})
			return err
		},
		"stock draw": func(g calibrate.Grams) error {
			_, err := DrawStock(t.Context(), b, DrawStockRequest{Stock: "pail", Grams: g, ScaleGrams: 0.1})
			return err
		},
		"stock count": func(g calibrate.Grams) error {
			_, err := CountStock(t.Context(), b, CountStockRequest{Stock: "pail", Grams: &g})
			return err
		},
	}
	for name, verb := range verbs {
		for _, g := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), -1, 1e-300, 5e-324, 1e9, 1e300} {
			t.Run(fmt.Sprint(name, " ", g), func(t *testing.T) {
				err := verb(calibrate.Grams(g))
				require.ErrorContains(t, err, "out of range")
				assert.Equal(t, Invalid, KindOf(err))
				assert.NotContains(t, err.Error(), "\n")
			})
		}
	}
	after, err := b.archive.Log(t.Context(), archive.LogFilter{})
	require.NoError(t, err)
	assert.Equal(t, before, after)
}
