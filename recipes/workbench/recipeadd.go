package workbench

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/kept"
)

// An AddRecipeRequest adds a recipe that no match found.
type AddRecipeRequest struct {
	Resin          string // code; the only one on the bench if empty
	Loadings       map[string]calibrate.PHR
	Target, Client string // that it is for; for none if empty
	Name, Note     string
	ThicknessMM    float64 // of the part; the target's if 0
	Over           string  // backing behind the part; the target's if empty
}

// An AddedRecipe is the recipe as stored.
type AddedRecipe struct {
	Recipe

	Remarks Remarks `json:"-"`
}

// AddRecipe adds a recipe. With a calibration its colour is predicted for the
// lots in use, and judged against its target by what pours taught.
func AddRecipe(ctx context.Context, b *Bench, r AddRecipeRequest) (AddedRecipe, error) {
	var v AddedRecipe
	if len(r.Loadings) == 0 {
		return v, invalid("phr", "recipe: %s is missing; give CODE=PHR,..., such as %s", remedy.Input("phr"), remedy.InputAs("phr", "WH=1,RD=0.2"))
	}
	resin, err := resinAt(ctx, b.archive, r.Resin)
	if err != nil {
		return v, err
	}
	a := archive.Recipe{Name: r.Name, Resin: resin.Code, Loadings: floats(r.Loadings), ThicknessMM: r.ThicknessMM, Backing: r.Over, Note: r.Note, Document: json.RawMessage("{}")}
	var t *archive.Target
	if r.Target != "" {
		found, err := b.archive.Target(ctx, r.Client, r.Target)
		if err != nil {
			return v, err
		}
		t, a.Client, a.Target, a.TargetCard = &found, found.Client, found.Name, found.Ref
		a.ThicknessMM, a.Backing = cmp.Or(a.ThicknessMM, found.ThicknessMM), cmp.Or(a.Backing, found.Backing)
	}
	a.ThicknessMM, a.Backing = cmp.Or(a.ThicknessMM, usualThickness), cmp.Or(a.Backing, usualBacking)
	if err := v.expect(ctx, b.archive, &a, t); err != nil {
		return v, err
	}
	err = together(ctx, b, &v, func(x *archive.Bench) error {
		added, err := findOrAddRecipes(ctx, x, a)
		if err == nil {
			v.Recipe = recipeOf(added[0])
		}
		return err
	})
	return v, err
}

// expect fills in what is known of a recipe, if its resin is calibrated.
func (v *AddedRecipe) expect(ctx context.Context, a *archive.Bench, r *archive.Recipe, t *archive.Target) error {
	stored, cal, err := calibrationOn(ctx, a, r.Resin, 0)
	switch {
	case errors.Is(err, archive.ErrNotFound):
		if t != nil {
			v.Remarks.say("%s is not calibrated yet, so what to expect of the recipe is not known; a pour will show", r.Resin)
		}
		return nil
	case err != nil:
		return err
	}
	if err := checkFitted(ctx, a, stored, cal, r.Loadings); err != nil {
		return err
	}
	k, err := know(ctx, a, question{resin: r.Resin, codes: codesOf(*r), target: t, thickness: r.ThicknessMM, over: r.Backing})
	if err != nil {
		return err
	}
	for _, note := range k.notes {
		v.Remarks.say("%s", note)
	}
	r.Calibration = k.stored.Ref
	if p := k.posterior(); p != nil {
		if r.Document, err = json.Marshal(kept.TypedRecipe{Posterior: p}); err != nil {
			return err
		}
	}
	if t == nil {
		return k.predict(ctx, a, r)
	}
	e, err := k.expect(phrs(r.Loadings), nil)
	r.Predicted = []archive.Lab{archive.LabOf(e.lab)}
	r.DE00, r.ExpectedDE00, r.Upper95DE00, r.Chance = e.de, e.Expected, e.Upper95, e.Chance
	return err
}

// predict fills in the colours of a recipe for no target.
func (k *knowledge) predict(ctx context.Context, a *archive.Bench, r *archive.Recipe) error {
	setting, err := settingOf(ctx, a, r.ThicknessMM, r.Backing, color.SpecularIncluded)
	if err != nil {
		return err
	}
	p, err := k.now.Predict(calibrate.Sample{Loadings: phrs(r.Loadings), Setting: setting}, lightsOf(k.fitted, nil)...)
	if err != nil {
		return err
	}
	for _, c := range p.Colors {
		r.Predicted = append(r.Predicted, archive.LabOf(c.Lab))
	}
	return nil
}
