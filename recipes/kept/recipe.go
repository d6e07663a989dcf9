package kept

import (
	"encoding/json"
	"fmt"

	"masstone/calibrate"
)

// A Recipe is what is kept of a found recipe beside its loadings.
type Recipe struct {
	BatchGrams float64            `json:"batch_grams"` // batch whose weighing was counted, g
	ScaleGrams float64            `json:"scale_g"`
	Opacity    float64            `json:"opacity"`
	CostPerKg  float64            `json:"cost_per_kg,omitempty"`
	Metamerism map[string]float64 `json:"metamerism,omitempty"` // CIEDE2000 by light
	Why        []string           `json:"why"`
	Posterior  *Posterior         `json:"belief,omitempty"`
}

// A TypedRecipe is what is kept of a recipe that no match found.
type TypedRecipe struct {
	Posterior *Posterior `json:"belief"`
}

// A Posterior is what a recipe was found with beside its calibration: what was
// known of the lots, the pours learnt from, and lots opened since those pours.
type Posterior struct {
	Lots  map[string]calibrate.Strength `json:"lots,omitempty"`
	Pours []string                      `json:"pours,omitempty"` // Refs, oldest first
	Since map[string]calibrate.Strength `json:"since,omitempty"` // against the lots of the pours
}

// Empty tells whether nothing was known beside the calibration.
func (p *Posterior) Empty() bool {
	return p == nil || len(p.Lots) == 0 && len(p.Pours) == 0 && len(p.Since) == 0
}

// ReadRecipe reads what is kept of the recipe of that ID; an empty document
// says nothing.
func ReadRecipe(id string, document json.RawMessage) (Recipe, error) {
	var r Recipe
	return r, read("recipe "+id+": what it was found with", document, &r)
}

// read reads a document that may be empty.
func read(what string, document json.RawMessage, into any) error {
	if len(document) == 0 {
		return nil
	}
	if err := json.Unmarshal(document, into); err != nil {
		return fmt.Errorf("%s cannot be read (%w); %s", what, err, verify)
	}
	return nil
}
