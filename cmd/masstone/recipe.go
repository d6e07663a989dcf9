package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes"
	"masstone/recipes/archive"
)

func newRecipeCommand(env *Env) *cobra.Command {
	return newFamily("recipe", "Recipes: add, list, show, card", newRecipeAddCommand(env), newRecipeListCommand(env), newRecipeShowCommand(env), newRecipeCardCommand(env))
}

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

const recipeKeys = `id, name, resin, target, client, loadings_phr,
thickness_mm, over, predicted (a list of under, lab), dE00, expected_dE00,
upper95_dE00, chance, note, at, who`

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

type recipeAddOptions struct {
	resin, target, client, name, note string
	phr                               map[string]float64
	thickness                         float64
	over                              string
}

func newRecipeAddCommand(env *Env) *cobra.Command {
	var o recipeAddOptions
	cmd := &cobra.Command{
		Use:   "add --resin CODE --phr CODE=PHR,...",
		Short: "Add a recipe of your own",
		Long: `Adds a recipe that no match found: an old one from a notebook, or one of your
own. With a calibration its colour is predicted for the lots in use, and
with --target judged against it.

JSON keys: ` + recipeKeys + `.`,
		Args: needs(),
		RunE: func(cmd *cobra.Command, args []string) error { return runRecipeAdd(cmd.Context(), env, o) },
	}
	f := cmd.Flags()
	f.StringVar(&o.resin, "resin", "", "`CODE` of the resin")
	f.Var(loadings[float64]{inPHR, &o.phr}, "phr", "loadings, such as WH=1,RD=0.2")
	f.StringVar(&o.target, "target", "", "target it is for")
	f.StringVar(&o.client, "client", "", "client, where several have a target of this name")
	f.StringVar(&o.name, "name", "", "what it is called")
	f.StringVar(&o.note, "note", "", "remark kept with it")
	numberVar(f, &o.thickness, "thickness", inMM, 0, "thickness of the part (else the target's, else 3 mm)")
	f.StringVar(&o.over, "over", "", "backing behind the part (else the target's, else white)")
	return cmd
}

func runRecipeAdd(ctx context.Context, env *Env, o recipeAddOptions) error {
	if len(o.phr) == 0 {
		return misusef("recipe: --phr is missing; give CODE=PHR,..., such as --phr WH=1,RD=0.2")
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		resin, err := resinAt(ctx, b, o.resin)
		if err != nil {
			return err
		}
		r := archive.Recipe{Name: o.name, Resin: resin.Code, Loadings: o.phr, ThicknessMM: o.thickness, Backing: o.over, Note: o.note, Document: json.RawMessage("{}")}
		var t *archive.Target
		if o.target != "" {
			found, err := b.Target(ctx, o.client, o.target)
			if err != nil {
				return err
			}
			t, r.Client, r.Target, r.TargetCard = &found, found.Client, found.Name, found.Ref
			r.ThicknessMM, r.Backing = firstKnown(r.ThicknessMM, found.ThicknessMM), firstText(r.Backing, found.Backing)
		}
		r.ThicknessMM, r.Backing = firstKnown(r.ThicknessMM, usualThickness), firstText(r.Backing, "white")
		stored, cal, err := calibrationOn(ctx, b, resin.Code, 0)
		switch {
		case err == nil:
			r.Calibration = stored.Ref
			if cal, err = countLots(ctx, env, b, &r, stored, cal); err != nil {
				return err
			}
			if err := judge(ctx, b, &r, t, stored, cal); err != nil {
				return err
			}
		case !errors.Is(err, archive.ErrNotFound):
			return err
		case t != nil:
			env.say("%s is not calibrated yet, so what to expect of the recipe is not known; a pour will show", resin.Code)
		}
		added, err := b.AddRecipes(ctx, r)
		if err != nil {
			return err
		}
		if env.JSON {
			return env.emit(viewRecipe(added[0]))
		}
		printRecipes(env, added)
		return nil
	})
}

// countLots is the calibration for the lots in use of a recipe's pigments; what
// is known of them is kept with the recipe.
func countLots(ctx context.Context, env *Env, b *archive.Bench, r *archive.Recipe, stored archive.Calibration, cal *calibrate.Calibration) (*calibrate.Calibration, error) {
	cal, belief, notes, err := withLotsInUse(ctx, b, stored, cal, codesOf(*r))
	if err != nil {
		return nil, err
	}
	for _, line := range notes {
		env.say("%s", line)
	}
	if belief == nil {
		return cal, nil
	}
	r.Document, err = json.Marshal(struct {
		Belief *keptBelief `json:"belief"`
	}{belief})
	return cal, err
}

// judge fills in what the calibration says of a typed recipe.
func judge(ctx context.Context, b *archive.Bench, r *archive.Recipe, t *archive.Target, stored archive.Calibration, cal *calibrate.Calibration) error {
	if err := checkFitted(ctx, b, stored, cal, r.Loadings); err != nil {
		return err
	}
	if t == nil {
		setting, err := settingOf(ctx, b, r.ThicknessMM, r.Backing, color.SpecularIncluded)
		if err != nil {
			return err
		}
		p, err := cal.Predict(calibrate.Sample{Loadings: phrs(r.Loadings), Setting: setting}, lightsOf(cal, nil)...)
		if err != nil {
			return err
		}
		for _, c := range p.Colors {
			r.Predicted = append(r.Predicted, archive.LabOf(c.Lab))
		}
		return nil
	}
	target, err := recipesTarget(ctx, b, *t, cal, r.ThicknessMM, r.Backing)
	if err != nil {
		return err
	}
	j, err := recipes.NewJudge(cal, target)
	if err != nil {
		return err
	}
	lab, landing, err := j.Land(phrs(r.Loadings), nil)
	if err != nil {
		return err
	}
	if r.DE00, err = j.Want().DeltaE00(lab); err != nil {
		return err
	}
	r.Predicted = []archive.Lab{archive.LabOf(lab)}
	r.ExpectedDE00, r.Upper95DE00, r.Chance = landing.Expected, landing.Upper95, landing.Chance
	return nil
}

func newRecipeListCommand(env *Env) *cobra.Command {
	var q archive.FindQuery
	cmd := &cobra.Command{
		Use:   "list [WORDS]",
		Short: "List recipes, the newest first",
		Long: `Lists recipes, the newest first: all, or those in which every word is the
beginning of a word of client, part, target, resin, pigments or note.

JSON keys: recipes, a list of ` + recipeKeys + `.`,
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			q.Words = strings.Join(args, " ")
			return runRecipeList(cmd.Context(), env, q)
		},
	}
	f := cmd.Flags()
	f.StringVar(&q.Client, "client", "", "of this client only")
	f.StringVar(&q.Resin, "resin", "", "in this resin only")
	f.IntVar(&q.Limit, "limit", 100, "most recipes to list")
	return cmd
}

func runRecipeList(ctx context.Context, env *Env, q archive.FindQuery) error {
	if q.Limit < 1 {
		return misusef("--limit %d: is out of range; give 1 or more", q.Limit)
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		found, err := b.Find(ctx, q)
		if err != nil {
			return err
		}
		all := make([]archive.Recipe, len(found))
		for i, f := range found {
			all[i] = f.Recipe
		}
		switch {
		case env.JSON:
			return env.emit(struct {
				Recipes []recipeView `json:"recipes"`
			}{viewRecipes(all)})
		case len(all) == 0:
			env.say("no recipe found; masstone match TARGET --resin CODE finds some")
			return nil
		}
		printRecipes(env, all)
		return nil
	})
}

func newRecipeShowCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "show RECIPE",
		Short: "Show a recipe, such as R1",
		Long: `Shows a recipe and the batches weighed from it.

JSON keys: ` + recipeKeys + `, batches (a list of
batch, total_grams, at).`,
		Args: needs("RECIPE"),
		RunE: func(cmd *cobra.Command, args []string) error { return runRecipeShow(cmd.Context(), env, args[0]) },
	}
}

type batchLineView struct {
	Batch string `json:"batch"`
	Grams fig    `json:"total_grams"`
	At    string `json:"at"`
}

func runRecipeShow(ctx context.Context, env *Env, id string) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		r, err := b.Recipe(ctx, id)
		if err != nil {
			return err
		}
		batches, err := b.Batches(ctx, r.Ref)
		if err != nil {
			return err
		}
		if env.JSON {
			lines := []batchLineView{}
			for _, k := range batches {
				lines = append(lines, batchLineView{k.ID(), fig(k.TotalGrams), day(k.At)})
			}
			return env.emit(struct {
				recipeView
				Batches []batchLineView `json:"batches"`
			}{viewRecipe(r), lines})
		}
		head := "recipe " + r.ID()
		if r.Name != "" {
			head += " (" + tidy(r.Name) + ")"
		}
		if r.Target != "" {
			head += fmt.Sprintf(" for %q%s", tidy(r.Target), forClient(r.Client))
		}
		env.print("%s in %s, %s mm over %s, of %s", head, r.Resin, short(r.ThicknessMM), tidy(r.Backing), day(r.At)[:10])
		t := newTable("pigment", ">phr")
		for _, part := range strings.Split(recipeText(r.Loadings, " ", ","), ",") {
			code, phr, _ := strings.Cut(part, " ")
			t.add(code, phr)
		}
		t.print(env.Stdout)
		for _, l := range r.Predicted {
			env.print("predicted %s under %s  %s%s", archivedText(l), l.Color().Under, screen(l.Color()), spaced(env.swatch(l.Color())))
		}
		if isJudged(r) {
			env.print("dE00 %.2f predicted, %.2f expected, %.2f in the worst of twenty; chance within tolerance %.0f %%", r.DE00, r.ExpectedDE00, r.Upper95DE00, 100*r.Chance)
		}
		for _, k := range batches {
			env.print("batch %s of %s g on %s", k.ID(), short(k.TotalGrams), day(k.At)[:10])
		}
		return nil
	})
}

func spaced(s string) string {
	if s == "" {
		return ""
	}
	return "  " + s
}
