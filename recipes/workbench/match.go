package workbench

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"masstone/color/remedy"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
	"masstone/recipes/kept"
)

// A MatchRequest asks for recipes for a target.
type MatchRequest struct {
	Target, Client string
	Resin          string  // code; the only one on the bench if empty
	Calibration    int     // version; 0 for the newest
	ThicknessMM    float64 // of the part; the target's if 0
	Over           string  // backing behind the part; the target's if empty
	Limits         Limits
	Anyway         bool // though the target is of a kind that pigments here do not make
}

// A MatchResult is what a match found, and stored.
type MatchResult struct {
	Target      string        `json:"target"`
	Client      string        `json:"client,omitempty"`
	Resin       string        `json:"resin"`
	Calibration string        `json:"calibration"`
	Under       string        `json:"under"`
	Lab         figure.Lab    `json:"lab" doc:"of the target"`
	ThicknessMM figure.Number `json:"thickness_mm"`
	Over        string        `json:"over"`
	Tolerance   figure.Number `json:"tolerance"`
	BatchGrams  figure.Number `json:"batch_grams"`
	ScaleGrams  figure.Number `json:"scale_g"`
	Recipes     []FoundRecipe `json:"recipes"`
	Subsets     int           `json:"subsets" doc:"sets of pigments looked at"`
	Solved      int           `json:"solved"`
	Excluded    int           `json:"excluded" doc:"the nearest colour they reach is too far"`
	InGamut     bool          `json:"in_gamut" doc:"some mixture within the limits is predicted within 0.5"`
	Reach       string        `json:"reach" doc:"reached, not known well enough, forbidden by the limits, beyond the chips, no mixture reaches it"`
	Missing     string        `json:"missing,omitempty" doc:"the proof of that"`
	Binding     []string      `json:"binding"`
	LeftOut     []LeftOut     `json:"left_out,omitempty" doc:"pigments not used for their class"`
	Notes       []string      `json:"notes"`

	Accepts string  `json:"-"` // tolerance and limits in words
	Seen    []Color `json:"-"` // the target under every light it is known under
}

// A FoundRecipe is one answer of a match. Differences are CIEDE2000.
type FoundRecipe struct {
	ID         string                   `json:"id"`
	Loadings   map[string]figure.Number `json:"loadings_phr"`
	LoadingSD  map[string]figure.Number `json:"loading_sd_phr"`
	Total      figure.Number            `json:"total_phr"`
	Predicted  figure.Lab               `json:"predicted" doc:"L, a, b under the main light"`
	DE00       figure.Number            `json:"dE00" doc:"predicted"`
	Expected   figure.Number            `json:"expected_dE00"`
	Upper95    figure.Number            `json:"upper95_dE00"`
	Chance     figure.Number            `json:"chance" doc:"of landing within tolerance"`
	Opacity    figure.Number            `json:"opacity"`
	CostPerKg  *figure.Number           `json:"cost_per_kg,omitempty"`
	Metamerism map[string]figure.Number `json:"metamerism" doc:"by light"`
	Slip       map[string]figure.Number `json:"slip_dE00" doc:"what 1 % more of a pigment moves the colour by"`
	Why        []string                 `json:"why"`
	Colors     []PredictedColor         `json:"colors" doc:"from the target"`
}

// signs says what the target is that pigments which absorb and scatter do not make,
// and refuses it unless it is to be matched all the same.
func (r MatchRequest) signs(t archive.Target) ([]string, error) {
	piece, err := pieceOf(t.Name, t.Readings)
	if err != nil {
		return nil, err
	}
	signs, err := piece.Signs()
	switch {
	case err != nil || len(signs) == 0:
		return nil, err
	case !r.Anyway:
		return nil, invalid("anyway", "target %q: %s; pigments here only absorb and scatter: read it again, or match what they can reach with %s", t.Name, saying(signs), remedy.Input("anyway"))
	}
	return []string{fmt.Sprintf("matched though %s: it holds under the light and the angle it was read at, at best", saying(signs))}, nil
}

// Match finds recipes for a target and keeps them; asking again keeps nothing
// twice.
func Match(ctx context.Context, b *Bench, r MatchRequest) (MatchResult, error) {
	if err := r.Limits.check(); err != nil {
		return MatchResult{}, err
	}
	if err := r.Limits.fill(ctx, b.archive, usualStep, &r.Limits.ScaleGrams, nil, nil); err != nil {
		return MatchResult{}, err
	}
	t, err := b.archive.Target(ctx, r.Client, r.Target)
	if err != nil {
		return MatchResult{}, err
	}
	resin, err := resinAt(ctx, b.archive, r.Resin)
	if err != nil {
		return MatchResult{}, err
	}
	r.ThicknessMM, r.Over = cmp.Or(r.ThicknessMM, t.ThicknessMM, usualThickness), cmp.Or(r.Over, t.Backing, usualBacking)
	k, err := know(ctx, b.archive, question{resin: resin.Code, version: r.Calibration, target: &t, thickness: r.ThicknessMM, over: r.Over})
	if err != nil {
		return MatchResult{}, err
	}
	signs, err := r.signs(t)
	if err != nil {
		return MatchResult{}, err
	}
	limits, err := limitsOf(ctx, b.archive, r.Limits, resin, k.stored, k.fitted)
	if err != nil {
		return MatchResult{}, err
	}
	_, done, err := admitted(t, k.fitted)
	if err != nil {
		return MatchResult{}, err
	}
	out, err := fastness(ctx, b.archive, r.Limits, &limits, k.fitted)
	if err != nil {
		return MatchResult{}, err
	}
	limits.Progress = b.count
	answer, err := recipes.Match(ctx, k.now, *k.target, limits)
	if err != nil {
		return MatchResult{}, blameClass(err, out)
	}
	answer.Recipes = slices.DeleteFunc(answer.Recipes, func(r recipes.Recipe) bool { return r.TotalPHR == 0 })
	if len(answer.Recipes) == 0 {
		return MatchResult{}, blameClass(outOfReach("no paste brings bare %s nearer to target %q under these limits; allow more pigments", resin.Code, t.Name), out)
	}
	fresh := make([]archive.Recipe, len(answer.Recipes))
	for i, f := range answer.Recipes {
		if fresh[i], err = k.foundRecipe(t, f, r.ThicknessMM, r.Over, kept.Recipe{BatchGrams: float64(r.Limits.BatchGrams), ScaleGrams: float64(r.Limits.ScaleGrams), Why: f.Why}); err != nil {
			return MatchResult{}, err
		}
		fresh[i].Name = strings.Join(f.Why, ", ")
	}
	var found []archive.Recipe
	err = together(ctx, b, &found, func(a *archive.Bench) error {
		found, err = findOrAddRecipes(ctx, a, fresh...)
		return err
	})
	if err != nil {
		return MatchResult{}, err
	}
	v := MatchResult{Target: t.Name, Client: t.Client, Resin: resin.Code, Calibration: k.stored.Name(), ThicknessMM: figure.Number(r.ThicknessMM), Over: r.Over,
		Tolerance: figure.Number(k.target.Within()), BatchGrams: figure.Number(r.Limits.BatchGrams), ScaleGrams: figure.Number(r.Limits.ScaleGrams),
		Subsets: answer.Subsets, Solved: answer.Solved, Excluded: answer.Excluded, InGamut: answer.InGamut, Reach: string(answer.Reach), Missing: answer.Missing,
		Binding: append([]string{}, answer.Binding...), LeftOut: out, Notes: append([]string{}, slices.Concat(signs, done, answer.Notes, k.notes, crookedNotes(k.fitted))...), Accepts: acceptance(t)}
	foreign, err := k.foreign(answer.Recipes[0])
	if err != nil {
		return v, err
	}
	v.Notes = append(foreign, v.Notes...)
	for i, f := range answer.Recipes {
		for _, note := range beyond(k.fitted, floats(f.Loadings)) {
			v.Notes = append(v.Notes, found[i].ID()+": "+note)
		}
	}
	v.Under, v.Lab = k.target.Labs[0].Under.String(), figure.LabOf(k.target.Labs[0])
	for _, lab := range k.target.Labs {
		v.Seen = append(v.Seen, Color{lab.Under.String(), figure.LabOf(lab)})
	}
	for i, f := range answer.Recipes {
		v.Recipes = append(v.Recipes, FoundRecipe{found[i].ID(), figure.Map(f.Loadings), figure.Map(f.LoadingSD), figure.Number(f.TotalPHR), figure.LabOf(f.Colors[0].Lab),
			figure.Number(f.DE00), figure.Number(f.Expected), figure.Number(f.Upper95), figure.Number(f.Chance), figure.Number(f.Opacity), figure.Known(f.CostPerKg),
			figure.Map(f.Metamerism), figure.Map(f.Slip), append([]string{}, f.Why...), predictedColors(f.Colors)})
	}
	return v, nil
}
