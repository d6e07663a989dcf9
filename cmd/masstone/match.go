package main

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"gonum.org/v1/gonum/floats/scalar"

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
	heatClass, lightClass    float64
	strictClass              bool
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

--heat-class and --light-class leave out pigments whose card gives a lower class:
the first number on the card counts, so that 7-8 is 7. A pigment whose card gives
none stays in, unless --strict-class.

  masstone match "Harbour lamp / housing" --resin CLR --max-pigments 4

JSON keys: target, client, resin, calibration, under, lab (of the target),
thickness_mm, over, tolerance, batch_grams, scale_g, recipes (a list of id,
loadings_phr, loading_sd_phr, total_phr, predicted (L, a, b under the main light),
dE00 (predicted), expected_dE00, upper95_dE00, chance (of landing within
tolerance), opacity, cost_per_kg, metamerism (by light), slip_dE00 (what 1 % more
of a pigment moves the colour by), why, colors (a list of under, lab, half95,
expected_dE00 and upper95_dE00 from the target, swatch, swatch_in_gamut)),
subsets (sets of pigments looked at), solved, excluded (the nearest colour they reach is too far),
in_gamut, missing, binding, left_out (pigments not used for their class, a list
of pigment, why), notes.`,
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
	numberVar(f, &o.scatter, "strength-scatter", aShare, 0, "pigment strength from pour to pour, one standard deviation, such as 3% (as the chips showed)")
	numberVar(f, &o.opacity, "min-opacity", aShare, 0, "least contrast over black and white at the part's thickness, such as 98%")
	numberVar(f, &o.maxCost, "max-cost", inPrice, 0, "cost ceiling per kg of coloured resin")
	numberVar(f, &o.resinPrice, "resin-price", inPrice, 0, "price per kg of mixed resin, for the cost")
	f.BoolVar(&o.stock, "stock", false, "use no more of a pigment than its card says is on the shelf")
	numberVar(f, &o.heatClass, "heat-class", aClass, 0, "least heat fastness class of a pigment, as its card has it")
	numberVar(f, &o.lightClass, "light-class", aClass, 0, "least light fastness class of a pigment, such as 7 of the blue wool scale")
	f.BoolVar(&o.strictClass, "strict-class", false, "leave out pigments whose card gives no such class too")
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
		cal, belief, notes, err := withLotsInUse(ctx, b, stored, cal, cal.Codes())
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
		_, done, err := admitted(t, cal)
		if err != nil {
			return err
		}
		out, err := fastness(ctx, b, o, &limits, cal)
		if err != nil {
			return err
		}
		p := env.progress()
		limits.Progress = p.count
		answer, err := recipes.Match(ctx, cal, target, limits)
		p.end()
		if err != nil {
			return blameClass(err, out)
		}
		answer.Recipes = slices.DeleteFunc(answer.Recipes, func(r recipes.Recipe) bool { return r.TotalPHR == 0 })
		if len(answer.Recipes) == 0 {
			return blameClass(fmt.Errorf("no paste brings bare %s nearer to target %q under these limits; allow more pigments", resin.Code, t.Name), out)
		}
		answer.Notes = slices.Concat(done, answer.Notes)
		answer.Notes = append(answer.Notes, notes...)
		kept, err := keepRecipes(ctx, b, o, t, stored, belief, answer.Recipes)
		if err != nil {
			return err
		}
		if env.JSON {
			v := viewMatch(o, t, target, stored, kept, answer)
			v.LeftOut = out
			return env.emit(v)
		}
		printMatch(env, o, t, target, stored, kept, answer)
		printLeftOut(env, out)
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

// keepRecipes stores what a match found. A recipe that the bench holds already,
// from asking the same before, is not stored again.
func keepRecipes(ctx context.Context, b *archive.Bench, o matchOptions, t archive.Target, stored archive.Calibration, belief *keptBelief, found []recipes.Recipe) ([]archive.Recipe, error) {
	before, err := b.Recipes(ctx, t.Client, t.Name)
	if err != nil {
		return nil, err
	}
	kept := make([]archive.Recipe, len(found))
	var fresh []archive.Recipe
	var at []int
	for i, r := range found {
		document, err := json.Marshal(keptWithRecipe{o.grams, o.scale, r.Opacity, r.CostPerKg, r.Metamerism, r.Why, belief})
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
