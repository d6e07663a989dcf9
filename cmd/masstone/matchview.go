package main

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"masstone/recipes"
	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func printMatch(env *Env, v workbench.MatchResult) {
	env.print("%s%s in %s, %s mm over %s, tolerance %s", named(v.Target), forClient(v.Client), v.Calibration, figure.Short(float64(v.ThicknessMM)), tidy(v.Over), v.Accepts)
	line := fmt.Sprintf("target   %s under %s", v.Lab, v.Under)
	env.print("%s%s", line, spaced(env.swatch(v.Lab.Color(v.Under))))
	env.print("")
	table := newTable("", "loadings (phr)", "predicted L* a* b*", ">dE00", ">expected", ">95 %", ">chance", ">opacity", ">cost/kg", "why")
	for _, r := range v.Recipes {
		cost := "-"
		if r.CostPerKg != nil {
			cost = fmt.Sprintf("%.2f", *r.CostPerKg)
		}
		table.add(r.ID, figure.Loadings(r.Loadings), r.Predicted.String(), fmt.Sprintf("%.2f", r.DE00), fmt.Sprintf("%.2f", r.Expected),
			fmt.Sprintf("%.2f", r.Upper95), fmt.Sprintf("%.0f %%", 100*r.Chance), fmt.Sprintf("%.3f", r.Opacity), cost, strings.Join(r.Why, ", "))
		table.paint(env.swatch(r.Predicted.Color(r.Colors[0].Under)))
	}
	table.print(env.Stdout)
	env.print("")
	env.print("dE00 is predicted; expected, 95 %% and chance count what the calibration leaves open and a batch of %s g weighed to %s g.", figure.Short(float64(v.BatchGrams)), figure.Short(float64(v.ScaleGrams)))
	env.print("All %d sets of pigments are covered: %d solved, %d left at the nearest colour they reach, which is too far off.", v.Subsets, v.Solved, v.Excluded)
	printDetails(env, v.Recipes)
	if v.Missing != "" {
		env.print("%s: %s.", recipes.Reach(v.Reach).Says(), tidy(v.Missing))
	}
	for _, line := range slices.Concat(v.Binding, v.Notes) {
		env.print("%s", tidy(line))
	}
	env.print("Weigh it: masstone batch %s --grams %s", v.Recipes[0].ID, figure.Short(float64(v.BatchGrams)))
	printLeftOut(env, v.LeftOut)
}

// printDetails says of each recipe what a slip costs and how it looks under
// other lights.
func printDetails(env *Env, found []workbench.FoundRecipe) {
	for _, r := range found {
		var parts []string
		if len(r.Slip) > 0 {
			parts = append(parts, "1 % more moves the colour by "+slipText(r.Slip))
		}
		for _, light := range slices.Sorted(maps.Keys(r.Metamerism)) {
			parts = append(parts, fmt.Sprintf("%.2f off under %s", r.Metamerism[light], light))
		}
		if len(parts) > 0 {
			env.print("%s: %s", r.ID, strings.Join(parts, "; "))
		}
	}
}

func slipText(slip map[string]figure.Number) string {
	var parts []string
	for _, c := range figure.ByLoading(slip) {
		parts = append(parts, fmt.Sprintf("%s %.2f", c, slip[c]))
	}
	return strings.Join(parts, ", ")
}

func printLeftOut(env *Env, out []workbench.LeftOut) {
	var parts []string
	for _, l := range out {
		parts = append(parts, fmt.Sprintf("%s (%s)", l.Pigment, l.Why))
	}
	if len(parts) > 0 {
		env.print("Left out for their class: %s.", tidy(strings.Join(parts, ", ")))
	}
}
