package main

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"gonum.org/v1/gonum/floats/scalar"

	"masstone/calibrate"
	"masstone/recipes"
	"masstone/recipes/archive"
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
}

func newMatchCommand(env *Env) *cobra.Command {
	var o matchOptions
	cmd := &cobra.Command{
		Use:   "match TARGET --resin CODE",
		Short: "Find the recipes most likely to land on a target",
		Long: `Finds recipes for a target over every set of pigments the limits allow, and
stores them as R1, R2, ... for "masstone batch".

The first is the one expected to land nearest: what the calibration does not
know, the reading of the target and the weighing of the batch are counted, so it
need not be the one with the smallest predicted difference. The others are
genuinely different, each with why one would pick it. Asking the same again gives
the same recipes under the same names.

  masstone match "Harbour lamp / housing" --resin CLR --max-pigments 4

JSON keys: target, client, resin, calibration, under, lab (of the target),
thickness_mm, over, tolerance, batch_grams, scale_g, recipes (a list of id,
loadings_phr, loading_sd_phr, total_phr, predicted (L, a, b under the main light),
dE00 (predicted), expected_dE00, upper95_dE00, chance (of landing within
tolerance), opacity, cost_per_kg, metamerism (by light), slip_dE00 (what 1 % more
of a pigment moves the colour by), why, colors (a list of under, lab, half95,
expected_dE00 and upper95_dE00 from the target, swatch, swatch_in_gamut)),
subsets (sets of pigments covered), solved, excluded, in_gamut, missing, binding,
notes.`,
		Args: needs("TARGET"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.target = args[0]
			return runMatch(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.resin, "resin", "", "`CODE` of the resin to cast in")
	f.StringVar(&o.client, "client", "", "client, where several have a target of this name")
	f.IntVar(&o.version, "calibration", 0, "version of the calibration (else the newest)")
	numberVar(f, &o.thickness, "thickness", inMM, 0, "thickness of the part (else the target's)")
	f.StringVar(&o.over, "over", "", "backing behind the part (else the target's)")
	f.IntVar(&o.maxPigments, "max-pigments", 4, "most pigments in a recipe")
	f.IntVar(&o.answers, "recipes", 5, "most recipes to give")
	f.StringSliceVar(&o.required, "require", nil, "`CODES` every recipe holds")
	f.StringSliceVar(&o.allowed, "allow", nil, "`CODES` a recipe may hold (else all)")
	f.StringSliceVar(&o.forbidden, "forbid", nil, "`CODES` no recipe holds")
	f.Var(loadings{inPHR, &o.maxPHR}, "max-phr", "most of single pigments, such as BK=0.5 (else what their cards say)")
	numberVar(f, &o.totalPHR, "total-phr", inPHR, 0, "most paste in all (else what the resin's card says)")
	numberVar(f, &o.grams, "grams", inGrams, 100, "batch to weigh, whose weighing error counts")
	numberVar(f, &o.scale, "scale", inGrams, 0.01, "step of the scale")
	numberVar(f, &o.minWeigh, "min-weigh", inGrams, 0, "least amount of a pigment that may be weighed (else any: the batch sheet pre-dilutes)")
	numberVar(f, &o.scatter, "strength-scatter", aShare, 0, "pigment strength from pour to pour, one standard deviation, such as 3%")
	numberVar(f, &o.opacity, "min-opacity", aShare, 0, "least contrast over black and white at the part's thickness, such as 98%")
	numberVar(f, &o.maxCost, "max-cost", inPrice, 0, "cost ceiling per kg of coloured resin")
	numberVar(f, &o.resinPrice, "resin-price", inPrice, 0, "price per kg of mixed resin, for the cost")
	f.BoolVar(&o.stock, "stock", false, "use no more of a pigment than its card says is on the shelf")
	f.BoolVar(&o.byPredicted, "by-predicted", false, "choose by predicted difference instead of expected")
	return cmd
}

func runMatch(ctx context.Context, env *Env, o matchOptions) error {
	if o.maxPigments < 1 || o.maxPigments > recipes.MaxPerRecipe {
		return misusef("--max-pigments %d: is out of range; give 1 to %d", o.maxPigments, recipes.MaxPerRecipe)
	}
	if o.answers < 1 || o.answers > 50 {
		return misusef("--recipes %d: is out of range; give 1 to 50", o.answers)
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		t, err := b.Target(ctx, o.client, o.target)
		if err != nil {
			return err
		}
		resin, err := resinAt(ctx, b, o.resin)
		if err != nil {
			return err
		}
		stored, cal, err := calibrationOn(ctx, b, resin.Code, o.version)
		if err != nil {
			return err
		}
		o.thickness = firstKnown(o.thickness, t.ThicknessMM, usualThickness)
		if o.over == "" {
			o.over = t.Backing
		}
		target, err := recipesTarget(ctx, b, t, cal, o.thickness, firstText(o.over, "white"))
		if err != nil {
			return err
		}
		limits, err := limitsOf(ctx, b, o, resin, stored, cal)
		if err != nil {
			return err
		}
		p := env.progress()
		limits.Progress = p.count
		answer, err := recipes.Match(ctx, cal, target, limits)
		p.end()
		if err != nil {
			return err
		}
		kept, err := keepRecipes(ctx, b, o, t, stored, answer.Recipes)
		if err != nil {
			return err
		}
		if env.JSON {
			return env.emit(viewMatch(o, t, target, stored, kept, answer))
		}
		printMatch(env, o, t, target, stored, kept, answer)
		return nil
	})
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

// limitsOf are the flags and what the cards of resin and pigments say.
func limitsOf(ctx context.Context, b *archive.Bench, o matchOptions, resin archive.Resin, stored archive.Calibration, cal *calibrate.Calibration) (recipes.Limits, error) {
	l := recipes.Limits{MaxPigments: o.maxPigments, Recipes: o.answers, TotalPHR: calibrate.PHR(firstKnown(o.totalPHR, resin.MaxPHR)),
		BatchGrams: calibrate.Grams(o.grams), ScaleGrams: calibrate.Grams(o.scale), MinWeigh: calibrate.Grams(o.minWeigh), StrengthScatter: o.scatter,
		MinOpacity: o.opacity, MaxCostPerKg: o.maxCost, ResinPricePerKg: o.resinPrice, Predicted: o.byPredicted,
		MaxPHR: map[string]calibrate.PHR{}, PricePerKg: map[string]float64{}, StockGrams: map[string]calibrate.Grams{}}
	pigments, err := b.Pigments(ctx)
	if err != nil {
		return l, err
	}
	for _, p := range pigments {
		if p.MaxPHR > 0 {
			l.MaxPHR[p.Code] = calibrate.PHR(p.MaxPHR)
		}
		if p.PricePerKG > 0 {
			l.PricePerKg[p.Code] = p.PricePerKG
		}
		if o.stock && p.StockG != nil {
			l.StockGrams[p.Code] = calibrate.Grams(*p.StockG)
		}
	}
	for code, v := range o.maxPHR {
		l.MaxPHR[code] = calibrate.PHR(v)
		if v == 0 {
			l.Forbidden = append(l.Forbidden, code)
		}
	}
	tidyCodes := func(codes []string) []string {
		var out []string
		for _, c := range codes {
			if c = strings.TrimSpace(c); c != "" {
				out = append(out, c)
			}
		}
		return out
	}
	l.Required, l.Allowed = tidyCodes(o.required), tidyCodes(o.allowed)
	l.Forbidden = append(l.Forbidden, tidyCodes(o.forbidden)...)
	for _, code := range slices.Concat(l.Required, l.Allowed, slices.Sorted(maps.Keys(o.maxPHR)), tidyCodes(o.forbidden)) {
		if _, err := b.Pigment(ctx, code); err != nil {
			return l, err
		}
	}
	for _, code := range slices.Concat(l.Required, l.Allowed) {
		if cal.Index(code) == 0 {
			return l, notFitted(code, stored)
		}
	}
	// what no calibration knows cannot be used anyway
	l.Forbidden = slices.DeleteFunc(l.Forbidden, func(code string) bool { return cal.Index(code) == 0 })
	return l, nil
}

// keptWithRecipe is what the bench keeps of a found recipe beside its loadings.
type keptWithRecipe struct {
	BatchGrams float64            `json:"batch_grams"`
	ScaleGrams float64            `json:"scale_g"`
	Opacity    float64            `json:"opacity"`
	CostPerKg  float64            `json:"cost_per_kg,omitempty"`
	Metamerism map[string]float64 `json:"metamerism,omitempty"`
	Why        []string           `json:"why"`
}

// keepRecipes stores what a match found. A recipe that the bench holds already,
// from asking the same before, is not stored again.
func keepRecipes(ctx context.Context, b *archive.Bench, o matchOptions, t archive.Target, stored archive.Calibration, found []recipes.Recipe) ([]archive.Recipe, error) {
	before, err := b.Recipes(ctx, t.Client, t.Name)
	if err != nil {
		return nil, err
	}
	kept := make([]archive.Recipe, len(found))
	var fresh []archive.Recipe
	var at []int
	for i, r := range found {
		document, err := json.Marshal(keptWithRecipe{o.grams, o.scale, r.Opacity, r.CostPerKg, r.Metamerism, r.Why})
		if err != nil {
			return nil, err
		}
		a := archive.Recipe{Name: strings.Join(r.Why, ", "), Resin: stored.Resin, Calibration: stored.Ref, Client: t.Client, Target: t.Name, TargetCard: t.Ref,
			Loadings: floats(r.Loadings), ThicknessMM: o.thickness, Backing: firstText(o.over, "white"),
			DE00: r.DE00, ExpectedDE00: r.Expected, Upper95DE00: r.Upper95, Chance: r.Chance, Document: document}
		for _, c := range r.Colors {
			a.Predicted = append(a.Predicted, archive.LabOf(c.Lab))
		}
		if old := slices.IndexFunc(before, func(old archive.Recipe) bool { return sameRecipe(old, a) }); old >= 0 {
			kept[i] = before[old]
			continue
		}
		fresh, at = append(fresh, a), append(at, i)
	}
	if len(fresh) == 0 {
		return kept, nil
	}
	added, err := b.AddRecipes(ctx, fresh...)
	if err != nil {
		return nil, err
	}
	for n, r := range added {
		kept[at[n]] = r
	}
	return kept, nil
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
	env.print("%q%s in %s, %s mm over %s, tolerance %s", tidy(t.Name), forClient(t.Client), stored.Name(), short(o.thickness), tidy(firstText(o.over, "white")), short(target.Within()))
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
	env.print("All %d sets of pigments were covered: %d solved, %d excluded by a bound.", a.Subsets, a.Solved, a.Excluded)
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
