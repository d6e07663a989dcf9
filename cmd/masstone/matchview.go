package main

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"masstone/recipes"
	"masstone/recipes/archive"
)

// matchView is a match in JSON.
type matchView struct {
	Target      string      `json:"target"`
	Client      string      `json:"client,omitempty"`
	Resin       string      `json:"resin"`
	Calibration string      `json:"calibration"`
	Under       string      `json:"under"`
	Lab         labView     `json:"lab"`
	ThicknessMM figure      `json:"thickness_mm"`
	Over        string      `json:"over"`
	Tolerance   figure      `json:"tolerance"`
	BatchGrams  figure      `json:"batch_grams"`
	ScaleGrams  figure      `json:"scale_g"`
	Recipes     []foundView `json:"recipes"`
	Subsets     int         `json:"subsets"`
	Solved      int         `json:"solved"`
	Excluded    int         `json:"excluded"`
	InGamut     bool        `json:"in_gamut"`
	Missing     string      `json:"missing,omitempty"`
	Binding     []string    `json:"binding"`
	LeftOut     []leftOut   `json:"left_out,omitempty"`
	Notes       []string    `json:"notes"`
}

type foundView struct {
	ID         string            `json:"id"`
	Loadings   map[string]figure `json:"loadings_phr"`
	LoadingSD  map[string]figure `json:"loading_sd_phr"`
	Total      figure            `json:"total_phr"`
	Predicted  labView           `json:"predicted"`
	DE00       figure            `json:"dE00"`
	Expected   figure            `json:"expected_dE00"`
	Upper95    figure            `json:"upper95_dE00"`
	Chance     figure            `json:"chance"`
	Opacity    figure            `json:"opacity"`
	CostPerKg  *figure           `json:"cost_per_kg,omitempty"`
	Metamerism map[string]figure `json:"metamerism"`
	Slip       map[string]figure `json:"slip_dE00"`
	Why        []string          `json:"why"`
	Colors     []colorView       `json:"colors"`
}

func viewMatch(o matchOptions, t archive.Target, target recipes.Target, stored archive.Calibration, kept []archive.Recipe, a recipes.Answer) matchView {
	v := matchView{Target: t.Name, Client: t.Client, Resin: stored.Resin, Calibration: stored.Name(), ThicknessMM: figure(o.thickness), Over: firstText(o.over, "white"),
		Tolerance: figure(target.Within()), BatchGrams: figure(o.grams), ScaleGrams: figure(o.scale), Recipes: []foundView{},
		Subsets: a.Subsets, Solved: a.Solved, Excluded: a.Excluded, InGamut: a.InGamut, Missing: a.Missing,
		Binding: append([]string{}, a.Binding...), Notes: append([]string{}, a.Notes...)}
	if len(target.Labs) > 0 {
		v.Under, v.Lab = target.Labs[0].Under.String(), viewLab(target.Labs[0])
	} else if len(a.Recipes) > 0 {
		v.Under = a.Recipes[0].Colors[0].Lab.Under.String()
	}
	for i, r := range a.Recipes {
		v.Recipes = append(v.Recipes, foundView{kept[i].ID(), figures(r.Loadings), figures(r.LoadingSD), figure(r.TotalPHR), viewLab(r.Colors[0].Lab),
			figure(r.DE00), figure(r.Expected), figure(r.Upper95), figure(r.Chance), figure(r.Opacity), optional(r.CostPerKg),
			figures(r.Metamerism), figures(r.Slip), append([]string{}, r.Why...), viewColors(r.Colors)})
	}
	return v
}

func printMatch(env *Env, o matchOptions, t archive.Target, target recipes.Target, stored archive.Calibration, kept []archive.Recipe, a recipes.Answer) {
	env.print("%q%s in %s, %s mm over %s, tolerance %s", tidy(t.Name), forClient(t.Client), stored.Name(), short(o.thickness), tidy(firstText(o.over, "white")), toleranceText(t))
	if len(target.Labs) > 0 {
		line := fmt.Sprintf("target   %s under %s", labText(target.Labs[0]), target.Labs[0].Under)
		if s := env.swatch(target.Labs[0]); s != "" {
			line += "  " + s
		}
		env.print("%s", line)
	}
	env.print("")
	table := newTable("", "loadings (phr)", "predicted L* a* b*", ">dE00", ">expected", ">95 %", ">chance", ">opacity", ">cost/kg", "why")
	for i, r := range a.Recipes {
		cost := "-"
		if r.CostPerKg > 0 {
			cost = fmt.Sprintf("%.2f", r.CostPerKg)
		}
		table.add(kept[i].ID(), recipeText(r.Loadings, " ", ", "), labText(r.Colors[0].Lab), fmt.Sprintf("%.2f", r.DE00), fmt.Sprintf("%.2f", r.Expected),
			fmt.Sprintf("%.2f", r.Upper95), fmt.Sprintf("%.0f %%", 100*r.Chance), fmt.Sprintf("%.3f", r.Opacity), cost, strings.Join(r.Why, ", "))
		table.paint(env.swatch(r.Colors[0].Lab))
	}
	table.print(env.Stdout)
	env.print("")
	env.print("dE00 is predicted; expected, 95 %% and chance count what the calibration leaves open and a batch of %s g weighed to %s g.", short(o.grams), short(o.scale))
	env.print("All %d sets of pigments are covered: %d solved, %d left at the nearest colour they reach, which is too far off.", a.Subsets, a.Solved, a.Excluded)
	printDetails(env, kept, a.Recipes)
	if !a.InGamut {
		env.print("Out of reach: %s.", tidy(strings.TrimSuffix(firstText(a.Missing, "no recipe comes within 0.5 of the target"), ".")))
	}
	for _, line := range slices.Concat(a.Binding, a.Notes) {
		env.print("%s", tidy(line))
	}
	if len(kept) > 0 {
		env.print("Weigh it: masstone batch %s --grams %s", kept[0].ID(), short(o.grams))
	}
}

// printDetails says of each recipe what a slip costs and how it looks under
// other lights.
func printDetails(env *Env, kept []archive.Recipe, found []recipes.Recipe) {
	for i, r := range found {
		var parts []string
		if len(r.Slip) > 0 {
			parts = append(parts, "1 % more moves the colour by "+slipText(r.Slip))
		}
		for _, light := range slices.Sorted(maps.Keys(r.Metamerism)) {
			parts = append(parts, fmt.Sprintf("%.2f off under %s", r.Metamerism[light], light))
		}
		if len(parts) > 0 {
			env.print("%s: %s", kept[i].ID(), strings.Join(parts, "; "))
		}
	}
}

func slipText(slip map[string]float64) string {
	codes := slices.SortedFunc(maps.Keys(slip), func(a, b string) int {
		if slip[a] > slip[b] || slip[a] == slip[b] && a < b {
			return -1
		}
		return 1
	})
	var parts []string
	for _, c := range codes {
		parts = append(parts, fmt.Sprintf("%s %.2f", c, slip[c]))
	}
	return strings.Join(parts, ", ")
}
