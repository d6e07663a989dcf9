package main

import (
	"fmt"

	"masstone/recipes/archive"
)

// recipeView is a stored recipe in JSON.
type recipeView struct {
	ID          string            `json:"id"`
	Name        string            `json:"name,omitempty"`
	Resin       string            `json:"resin"`
	Target      string            `json:"target,omitempty"`
	Client      string            `json:"client,omitempty"`
	Loadings    map[string]fig    `json:"loadings_phr"`
	ThicknessMM *fig              `json:"thickness_mm,omitempty"`
	Over        string            `json:"over,omitempty"`
	Predicted   []storedColorView `json:"predicted"`
	DE00        *fig              `json:"dE00,omitempty"`
	Expected    *fig              `json:"expected_dE00,omitempty"`
	Upper95     *fig              `json:"upper95_dE00,omitempty"`
	Chance      *fig              `json:"chance,omitempty"`
	Note        string            `json:"note,omitempty"`
	At          string            `json:"at"`
	Who         string            `json:"who"`
}

type storedColorView struct {
	Under string  `json:"under"`
	Lab   labView `json:"lab"`
}

func viewRecipe(r archive.Recipe) recipeView {
	v := recipeView{ID: r.ID(), Name: r.Name, Resin: r.Resin, Target: r.Target, Client: r.Client, Loadings: figures(r.Loadings),
		ThicknessMM: optional(r.ThicknessMM), Over: r.Backing, Predicted: []storedColorView{}, Note: r.Note, At: day(r.At), Who: r.Who}
	if isJudged(r) {
		de, expected, upper, chance := fig(r.DE00), fig(r.ExpectedDE00), fig(r.Upper95DE00), fig(r.Chance)
		v.DE00, v.Expected, v.Upper95, v.Chance = &de, &expected, &upper, &chance
	}
	for _, l := range r.Predicted {
		v.Predicted = append(v.Predicted, storedColorView{l.Color().Under.String(), viewLab(l.Color())})
	}
	return v
}

// isJudged tells whether a calibration said how far from its target a recipe is.
func isJudged(r archive.Recipe) bool { return r.Target != "" && r.Calibration != "" }

func viewRecipes(all []archive.Recipe) []recipeView {
	views := make([]recipeView, len(all))
	for i, r := range all {
		views[i] = viewRecipe(r)
	}
	return views
}

func printRecipes(env *Env, all []archive.Recipe) {
	t := newTable("", "target", "resin", "loadings (phr)", ">expected", ">chance", "name", "on")
	for _, r := range all {
		expected, chance := "-", "-"
		if isJudged(r) {
			expected, chance = fmt.Sprintf("%.2f", r.ExpectedDE00), fmt.Sprintf("%.0f %%", 100*r.Chance)
		}
		t.add(r.ID(), r.Target, r.Resin, recipeText(r.Loadings, " ", ", "), expected, chance, r.Name, day(r.At)[:10])
		if len(r.Predicted) > 0 {
			t.paint(env.swatch(r.Predicted[0].Color()))
		}
	}
	t.print(env.Stdout)
}
