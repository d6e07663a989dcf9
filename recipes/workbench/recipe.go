package workbench

import (
	"context"
	"encoding/json"
	"masstone/color"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
	"masstone/recipes/kept"
	"slices"

	"gonum.org/v1/gonum/floats/scalar"
)

// A Recipe is a stored recipe.
type Recipe struct {
	ID          string                   `json:"id"`
	Name        string                   `json:"name,omitempty"`
	Resin       string                   `json:"resin"`
	Target      string                   `json:"target,omitempty"`
	Client      string                   `json:"client,omitempty"`
	Loadings    map[string]figure.Number `json:"loadings_phr"`
	ThicknessMM *figure.Number           `json:"thickness_mm,omitempty"`
	Over        string                   `json:"over,omitempty"`
	Predicted   []Color                  `json:"predicted"`
	DE00        *figure.Number           `json:"dE00,omitempty"`
	Expected    *figure.Number           `json:"expected_dE00,omitempty"`
	Upper95     *figure.Number           `json:"upper95_dE00,omitempty"`
	Chance      *figure.Number           `json:"chance,omitempty"`
	Note        string                   `json:"note,omitempty"`
	At          string                   `json:"at"`
	Who         string                   `json:"who"`
}

// A Color is a colour under a light and observer.
type Color struct {
	Under string     `json:"under"`
	Lab   figure.Lab `json:"lab"`
}

// Color is the colour for computing with.
func (c Color) Color() color.Lab { return c.Lab.Color(c.Under) }

func recipeOf(r archive.Recipe) Recipe {
	v := Recipe{ID: r.ID(), Name: r.Name, Resin: r.Resin, Target: r.Target, Client: r.Client, Loadings: figure.Map(r.Loadings),
		ThicknessMM: figure.Known(r.ThicknessMM), Over: r.Backing, Predicted: []Color{}, Note: r.Note, At: figure.At(r.At), Who: r.Who}
	if isJudged(r) {
		de, expected, upper, chance := figure.Number(r.DE00), figure.Number(r.ExpectedDE00), figure.Number(r.Upper95DE00), figure.Number(r.Chance)
		v.DE00, v.Expected, v.Upper95, v.Chance = &de, &expected, &upper, &chance
	}
	for _, l := range r.Predicted {
		v.Predicted = append(v.Predicted, Color{l.Color().Under.String(), figure.LabOf(l.Color())})
	}
	return v
}

// isJudged tells whether a calibration said how far from its target a recipe is.
func isJudged(r archive.Recipe) bool { return r.Target != "" && r.Calibration != "" }

func recipesOf(all []archive.Recipe) []Recipe {
	views := make([]Recipe, len(all))
	for i, r := range all {
		views[i] = recipeOf(r)
	}
	return views
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

// isNamed tells whether a recipe's name is its own: given by a person, or by
// what it corrects. A match names recipes for why one would pick them, which
// differs with its limits.
func isNamed(r archive.Recipe) bool {
	was, err := kept.ReadRecipe(r.ID(), r.Document)
	return r.Corrects != "" || err != nil || len(was.Why) == 0
}

// findOrAddRecipes stores recipes for one target, or for none, and returns them
// as stored. One for a target that the bench holds already, from asking the same
// before, is not stored again. It runs inside Together, so that two that ask at
// once store one.
func findOrAddRecipes(ctx context.Context, b *archive.Bench, found ...archive.Recipe) ([]archive.Recipe, error) {
	if len(found) == 0 {
		return nil, nil
	}
	var before []archive.Recipe
	if found[0].Target != "" {
		var err error
		if before, err = b.Recipes(ctx, found[0].Client, found[0].Target); err != nil {
			return nil, err
		}
	}
	out := make([]archive.Recipe, len(found))
	var fresh []archive.Recipe
	var at []int
	for i, r := range found {
		old := slices.IndexFunc(before, func(old archive.Recipe) bool {
			return sameRecipe(old, r) && (r.Name == "" || !isNamed(r) || old.Name == r.Name && old.Corrects == r.Corrects)
		})
		if old >= 0 {
			out[i] = before[old]
			continue
		}
		fresh, at = append(fresh, r), append(at, i)
	}
	if len(fresh) == 0 {
		return out, nil
	}
	added, err := b.AddRecipes(ctx, fresh...)
	if err != nil {
		return nil, err
	}
	for n, r := range added {
		out[at[n]] = r
	}
	return out, nil
}

// foundRecipe is a recipe of the search as the bench keeps it: for a target, of
// a calibration, with what it was found with.
func (k *knowledge) foundRecipe(t archive.Target, r recipes.Recipe, thickness float64, over string, why kept.Recipe) (archive.Recipe, error) {
	why.Opacity, why.CostPerKg, why.Metamerism, why.Posterior = r.Opacity, r.CostPerKg, r.Metamerism, k.posterior()
	document, err := json.Marshal(why)
	a := archive.Recipe{Resin: k.stored.Resin, Calibration: k.stored.Ref, Client: t.Client, Target: t.Name, TargetCard: t.Ref,
		Loadings: floats(r.Loadings), ThicknessMM: thickness, Backing: over,
		DE00: r.DE00, ExpectedDE00: r.Expected, Upper95DE00: r.Upper95, Chance: r.Chance, Document: document}
	for _, c := range r.Colors {
		a.Predicted = append(a.Predicted, archive.LabOf(c.Lab))
	}
	return a, err
}
