package workbench

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"masstone/color/remedy"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
	"masstone/recipes/kept"
	"masstone/recipes/papers"
)

// A ReorderRequest casts an approved part again.
type ReorderRequest struct {
	Target, Client string
	Version        int  // of the approval; the newest if 0
	AsApproved     bool // weigh the approved recipe even where another is expected nearer
	Making
	Shop []string // who made it, on the sheet: name, then lines of the address
	// Deliver is given the sheet before it is stored; a sheet that it refuses is
	// not stored. It may be nil.
	Deliver func(papers.BatchSheet) error
}

// A Reorder is an approved recipe made up again with today's lots. Differences
// are CIEDE2000.
type Reorder struct {
	Approval string                   `json:"approval"`
	Approved string                   `json:"approved_recipe"`
	Recipe   string                   `json:"recipe" doc:"on the sheet"`
	Resolved bool                     `json:"resolved" doc:"whether it was solved again"`
	Changes  []Change                 `json:"changes"`
	Now      *figure.Number           `json:"expected_dE00,omitempty" doc:"now, of the approved recipe"`
	Then     *figure.Number           `json:"resolved_expected_dE00,omitempty"`
	Change   map[string]figure.Number `json:"change_phr,omitempty"`
	Question string                   `json:"question,omitempty" doc:"to put to the client, where something changed"`
	Sheet    Batch                    `json:"sheet" as:"batch"`

	Of       Approval                 `json:"-"`
	Since    []string                 `json:"-"` // pours counted that did not prove it
	Loadings map[string]figure.Number `json:"-"` // as solved again
	Remarks  Remarks                  `json:"-"`
}

// A Change is something that changed since an approval.
type Change struct {
	What   string `json:"what"`
	Then   string `json:"then"`
	Now    string `json:"now"`
	Effect string `json:"effect"`
}

// A reorder is an approved recipe and what becomes of it.
type reorder struct {
	ReorderRequest
	archive.Provenance
	known   *knowledge // nil where no calibration says what to expect
	lots    []archive.LotName
	changes []Change
	master  *fading // nil where it reads as it did
	now     expectation
	again   *recipes.Recipe // nil where solving it again does not help
}

// MakeReorder makes an approved recipe up again. Where lots, calibration or
// resin changed since the approval it says so; where solving the recipe again
// among its own pigments helps, the sheet is for the recipe so found, which is
// kept. The approval stays as it is.
func MakeReorder(ctx context.Context, b *Bench, r ReorderRequest) (Reorder, error) {
	if err := r.weighOn(ctx, b.archive); err != nil {
		return Reorder{}, err
	}
	order, part, err := r.order(r.Target)
	if err != nil {
		return Reorder{}, err
	}
	o := reorder{ReorderRequest: r}
	approval, err := b.archive.Approval(ctx, r.Client, r.Target, r.Version)
	if err != nil {
		return Reorder{}, err
	}
	if o.Provenance, err = b.archive.Provenance(ctx, approval); err != nil {
		return Reorder{}, err
	}
	if err := o.compare(ctx, b.archive); err != nil {
		return Reorder{}, err
	}
	if err := o.solve(ctx, b.archive); err != nil {
		return Reorder{}, err
	}
	v := o.result()
	onSheet, err := o.onSheet()
	if err != nil {
		return v, err
	}
	ask := BatchRequest{Making: r.Making, Shop: r.Shop, Deliver: r.Deliver}
	if v.Sheet, err = planBatch(ctx, b, onSheet, o.known, ask, order); err != nil {
		return v, err
	}
	v.Sheet.measured(part)
	err = together(ctx, b, &v, func(a *archive.Bench) error {
		onSheet := onSheet
		if onSheet.Ref == "" {
			stored, err := findOrAddRecipes(ctx, a, onSheet)
			if err != nil {
				return err
			}
			onSheet = stored[0]
		}
		v.Recipe, v.Sheet.Recipe = onSheet.ID(), onSheet.ID()
		v.Resolved = onSheet.Ref != o.Provenance.Recipe.Ref
		return v.Sheet.keep(ctx, b, a, onSheet, ask)
	})
	return v, err
}

// compare forms what is known now and lists what changed since the approval.
func (o *reorder) compare(ctx context.Context, a *archive.Bench) error {
	recipe := o.Provenance.Recipe
	if err := o.compareResin(ctx, a); err != nil {
		return err
	}
	if err := o.compareMaster(ctx, a); err != nil {
		return err
	}
	var err error
	if o.known, err = knowRecipe(ctx, a, recipe); err != nil {
		return err
	}
	if o.known != nil && o.Calibration != nil && o.known.stored.Ref != o.Calibration.Ref {
		o.changes = append(o.changes, Change{"calibration", o.Calibration.Name(), o.known.stored.Name(), "the recipe is judged by the newer one"})
	}
	for _, code := range codesOf(recipe) {
		was, is := lotOf(o.Approval.Lots, archive.OfPigment, code), lotOf(o.lots, archive.OfPigment, code)
		if is == "" || is == was {
			continue
		}
		effect, _ := o.effect(code, is)
		if was == "" {
			effect = "no lot was named then, so whether it is another is not known; " + effect
		}
		o.changes = append(o.changes, Change{"lot of " + code, cmp.Or(was, "not named"), is, effect})
	}
	return nil
}

// compareResin compares the resin's card and lot with those of the approval.
func (o *reorder) compareResin(ctx context.Context, a *archive.Bench) error {
	recipe := o.Provenance.Recipe
	cards, err := archive.History[archive.Resin](ctx, a, recipe.Resin)
	if err != nil {
		return err
	}
	now, then := cards[len(cards)-1], cards[0]
	for _, k := range cards {
		if !k.At.After(o.Approval.At) {
			then = k
		}
	}
	if then.PigmentSide != now.PigmentSide || mixOf(then) != mixOf(now) {
		o.changes = append(o.changes, Change{"resin " + now.Code, mixText(then) + ", pigments in " + then.PigmentSide, mixText(now) + ", pigments in " + now.PigmentSide, "the sheet goes by today's card; cast a test part first"})
	}
	if o.lots, err = lotsInUse(ctx, a, recipe.Resin, codesOf(recipe)); err != nil {
		return err
	}
	if was, is := lotOf(o.Approval.Lots, archive.OfResin, now.Code), lotOf(o.lots, archive.OfResin, now.Code); was != is && is != "" {
		o.changes = append(o.changes, Change{"lot of resin " + now.Code, cmp.Or(was, "not named"), is, "its own colour may differ; nothing is known of it"})
	}
	return nil
}

// effect says what the lot now in use of a pigment does, and whether it is
// counted.
func (o *reorder) effect(code, lot string) (text string, counted bool) {
	if o.known == nil {
		return "no calibration says what it does; cast a test part first", false
	}
	s, counted := o.known.strengthOf(code, lot)
	learn := remedy.Verb("lot learn", code, lot, "FILE")
	switch {
	case !counted:
		return fmt.Sprintf("its strength is not known and not counted: %.0f %% either way is usual; %s", 100*o.known.fitted.UsualDrift()[code], learn), false
	case o.known.isGuessed(code):
		return fmt.Sprintf("its strength is not known: %.0f %% either way is usual; %s", 100*s.SD, learn), true
	}
	return countedAs(s), true
}

// solve says what is expected of the approved recipe now, and solves it again
// where something changed that matters.
func (o *reorder) solve(ctx context.Context, a *archive.Bench) error {
	if o.known == nil {
		return nil
	}
	grams := cmp.Or(o.Grams, usualGrams)
	var err error
	if o.now, err = o.known.weighed(o.Provenance.Recipe, grams, o.ScaleGrams); err != nil || len(o.changes) == 0 {
		return err
	}
	again, err := o.known.adjusted(ctx, a, o.Provenance.Recipe, grams, o.ScaleGrams)
	if err == nil && recipes.WorthChanging(o.now.Expected, again.Expected) {
		o.again = &again
	}
	return err
}

// onSheet is the recipe to weigh; one solved again is not stored yet.
func (o *reorder) onSheet() (archive.Recipe, error) {
	approved := o.Provenance.Recipe
	if o.again == nil || o.AsApproved {
		return approved, nil
	}
	r, err := o.known.foundRecipe(o.Provenance.Target, *o.again, approved.ThicknessMM, approved.Backing, kept.Recipe{Why: []string{"reorder"}})
	r.Name, r.Corrects = fmt.Sprintf("reorder of v%d", o.Approval.Version), approved.Ref
	return r, err
}

func (o *reorder) result() Reorder {
	v := Reorder{Approval: o.Approval.Name(), Approved: o.Provenance.Recipe.ID(), Changes: append([]Change{}, o.changes...), Of: approvalOf(o.Provenance), Question: o.question()}
	if o.known != nil {
		v.Now = figure.Of(o.now.Expected)
		for _, note := range o.known.notes {
			v.Remarks.say("%s", note)
		}
		for _, c := range o.known.seen.casts {
			if !slices.Contains(o.Approval.Pours, c.pour.Ref) {
				v.Since = append(v.Since, c.pour.ID())
			}
		}
	}
	if o.again != nil {
		v.Then, v.Change = figure.Of(o.again.Expected), figure.Map(recipes.Change(phrs(o.Provenance.Recipe.Loadings), o.again.Loadings))
		v.Loadings = figure.Map(o.again.Loadings)
	}
	return v
}
