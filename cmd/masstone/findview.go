package main

import (
	"fmt"

	"masstone/recipes"
)

// findView is what was found in JSON.
type findView struct {
	Recipes []hitView   `json:"recipes"`
	Adjust  *adjustView `json:"adjust,omitempty"`
}

type hitView struct {
	recipeView
	Version  int              `json:"version"`
	Distance *fig             `json:"distance_dE00,omitempty"`
	Where    *storedColorView `json:"at_color,omitempty"`
	Approved bool             `json:"approved_color,omitempty"`
}

type adjustView struct {
	Recipe      string         `json:"recipe"`
	Resin       string         `json:"resin"`
	Calibration string         `json:"calibration,omitempty"`
	Loadings    map[string]fig `json:"loadings_phr,omitempty"`
	Change      map[string]fig `json:"change_phr,omitempty"`
	Expected    *fig           `json:"expected_dE00,omitempty"`
	Upper95     *fig           `json:"upper95_dE00,omitempty"`
	Chance      *fig           `json:"chance,omitempty"`
	AsItIs      *fig           `json:"as_it_is_dE00,omitempty"`
	Note        string         `json:"note,omitempty"`
}

func viewFind(hits []hit, a *adjustment) findView {
	v := findView{Recipes: []hitView{}}
	for _, h := range hits {
		view := hitView{recipeView: viewRecipe(h.Recipe), Version: h.Version}
		if h.near != nil {
			distance := fig(h.near.DE00)
			view.Distance, view.Approved = &distance, h.near.Approved
			view.Where = &storedColorView{h.near.Lab.Color().Under.String(), viewLab(h.near.Lab.Color())}
		}
		v.Recipes = append(v.Recipes, view)
	}
	if a == nil {
		return v
	}
	v.Adjust = &adjustView{Recipe: a.from.ID(), Resin: a.from.Resin, Note: a.whyNot}
	if a.stored.Ref != "" {
		v.Adjust.Calibration = a.stored.Name()
	}
	if f := a.found; f != nil {
		expected, upper, chance, asItIs := fig(f.Expected), fig(f.Upper95), fig(f.Chance), fig(a.asItIs)
		v.Adjust.Loadings, v.Adjust.Change = figures(f.Loadings), figures(recipes.Change(phrs(a.from.Loadings), f.Loadings))
		v.Adjust.Expected, v.Adjust.Upper95, v.Adjust.Chance, v.Adjust.AsItIs = &expected, &upper, &chance, &asItIs
	}
	return v
}

func printFind(env *Env, hits []hit, w *wantedColour, a *adjustment) {
	heads := []string{"", "target", "client", "resin", "loadings (phr)", "approved", "on"}
	if w != nil {
		heads = append([]string{"", ">dE00", "colour"}, heads[1:]...)
	}
	t := newTable(heads...)
	for _, h := range hits {
		approved := "-"
		if h.Version > 0 {
			approved = fmt.Sprintf("v%d", h.Version)
		}
		cells := []string{h.Recipe.Target, h.Recipe.Client, h.Recipe.Resin, recipeText(h.Recipe.Loadings, " ", ", "), approved, day(h.Recipe.At)[:10]}
		swatch := ""
		if h.near != nil {
			how := "predicted"
			if h.near.Approved {
				how = "approved"
			}
			cells = append([]string{fmt.Sprintf("%.2f", h.near.DE00), archivedText(h.near.Lab) + " " + how}, cells...)
			swatch = env.swatch(h.near.Lab.Color())
		} else if len(h.Recipe.Predicted) > 0 {
			swatch = env.swatch(h.Recipe.Predicted[0].Color())
		}
		t.add(append([]string{h.Recipe.ID()}, cells...)...)
		t.paint(swatch)
	}
	if w != nil {
		env.print("Nearest to %s under %s  %s%s", labText(w.main), w.main.Under, screen(w.main), spaced(env.swatch(w.main)))
	}
	t.print(env.Stdout)
	if a == nil {
		return
	}
	env.print("")
	if a.found == nil {
		env.print("To adjust %s: %s.", a.from.ID(), a.whyNot)
		return
	}
	env.print("To adjust %s, by %s: %s phr; then dE00 %.2f is expected, as it is %.2f.", a.from.ID(), a.stored.Name(),
		changeText(recipes.Change(phrs(a.from.Loadings), a.found.Loadings), a.found.Loadings), a.found.Expected, a.asItIs)
	if w.target != nil {
		client := ""
		if w.target.Client != "" {
			client = " --client " + quoted(w.target.Client)
		}
		env.say("to store it: masstone recipe add --resin %s --target %s%s --phr %s", a.from.Resin, quoted(w.target.Name), client, recipeText(a.found.Loadings, "=", ","))
	}
}
