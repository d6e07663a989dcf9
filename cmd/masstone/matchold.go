package main

import (
	"masstone/recipes/archive"

	"gonum.org/v1/gonum/floats/scalar"
)

type matchOptions struct {
	target, client, resin    string
	version                  int
	thickness                float64
	over                     string
	maxPigments, answers     int
	required, allowed        []string
	forbidden                []string
	maxPHR                   map[string]float64
	totalPHR                 float64
	grams, scale, minWeigh   float64
	scatter, opacity         float64
	maxCost, resinPrice      float64
	stock, byPredicted, keep bool
	heatClass, lightClass    float64
	strictClass              bool
}

// usualThickness stands in for a part whose thickness is not known.
const usualThickness = 3

func firstText(values ...string) string {
	for _, v := range values {
		if v != "" {
			return v
		}
	}
	return ""
}

// keptWithRecipe is what the bench keeps of a found recipe beside its loadings.
type keptWithRecipe struct {
	BatchGrams float64            `json:"batch_grams"`
	ScaleGrams float64            `json:"scale_g"`
	Opacity    float64            `json:"opacity"`
	CostPerKg  float64            `json:"cost_per_kg,omitempty"`
	Metamerism map[string]float64 `json:"metamerism,omitempty"`
	Why        []string           `json:"why"`
	Belief     *keptBelief        `json:"belief,omitempty"`
}

// sameRecipe tells whether two recipes would be weighed and judged alike: the
// same origin, loadings that no scale tells apart, the same doubt.
func sameRecipe(a, b archive.Recipe) bool {
	if a.Resin != b.Resin || a.Calibration != b.Calibration || a.TargetCard != b.TargetCard || a.Note != b.Note ||
		a.ThicknessMM != b.ThicknessMM || a.Backing != b.Backing || len(a.Loadings) != len(b.Loadings) ||
		!scalar.EqualWithinAbs(a.ExpectedDE00, b.ExpectedDE00, 0.01) {
		return false
	}
	for code, phr := range a.Loadings {
		other, held := b.Loadings[code]
		if !held || !scalar.EqualWithinAbsOrRel(phr, other, 1e-5, 1e-3) {
			return false
		}
	}
	return true
}
