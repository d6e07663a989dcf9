package main

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"masstone/calibrate"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/papers"
)

type reorderOptions struct {
	target, client string
	version        int
	asApproved     bool
	batchOptions
}

func newReorderCommand(env *Env) *cobra.Command {
	var o reorderOptions
	cmd := &cobra.Command{
		Use:   "reorder TARGET (--grams G | --cavity-ml V --shots N --waste W)",
		Short: "Cast an approved part again, with today's lots",
		Long: `Makes an approved recipe up again for an amount: the sheet to weigh from, as
"masstone batch" gives it. When lots, calibration or resin changed since the
approval it warns and says what is expected of the approved recipe now; where
solving it again among its pigments helps, the sheet is for the recipe so found,
unless --as-approved. The approval itself stays as it is.

  masstone reorder "Harbour lamp / housing" --grams 500

` + paperHelp + `

JSON keys: approval, approved_recipe, recipe (on the sheet), resolved (whether it
was solved again), changes (a list of what, then, now, effect), expected_dE00 (now,
of the approved recipe), resolved_expected_dE00, change_phr, sheet (with the keys
of "batch").`,
		Args: needs("TARGET"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.target = args[0]
			return runReorder(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.client, "client", "", "client, where several have a target of this name")
	f.IntVar(&o.version, "version", 0, "version of the approval (else the newest)")
	f.BoolVar(&o.asApproved, "as-approved", false, "weigh the approved recipe even where another is expected nearer")
	o.batchOptions.addFlags(f)
	o.paper.add(f, "the sheet")
	return cmd
}

// A reorder is an approved recipe and what became of it.
type reorder struct {
	archive.Provenance
	resin    archive.Resin
	lots     []archive.LotName // in use now
	changes  []changeView
	judged   bool // the rest is known
	now      float64
	resolved *recipes.Recipe
	belief   *keptBelief
	stored   archive.Calibration
	cal      *calibrate.Calibration // as believed now
	target   recipes.Target
	recipe   archive.Recipe // on the sheet
}

// changeView is something that changed since an approval, in JSON.
type changeView struct {
	What   string `json:"what"`
	Then   string `json:"then"`
	Now    string `json:"now"`
	Effect string `json:"effect"`
}

func runReorder(ctx context.Context, env *Env, o reorderOptions) error {
	o.recipe = o.target // as the batch's messages name it
	order, err := o.order()
	if err != nil {
		return err
	}
	if err := o.paper.check(env); err != nil {
		return err
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		a, err := b.Approval(ctx, o.client, o.target, o.version)
		if err != nil {
			return err
		}
		r := &reorder{}
		if r.Provenance, err = b.Provenance(ctx, a); err != nil {
			return err
		}
		r.recipe = r.Recipe
		if err := r.compare(ctx, b); err != nil {
			return err
		}
		if err := r.judge(ctx, b, o); err != nil {
			return err
		}
		var v batchView
		var paper papers.BatchSheet
		err = b.Together(ctx, func(b *archive.Bench) error {
			if r.resolved != nil && !o.asApproved {
				if err := r.keep(ctx, b); err != nil {
					return err
				}
			}
			if v, err = r.sheet(ctx, b, o, order); err != nil {
				return err
			}
			if paper, err = sheetPaper(ctx, b, v, r.recipe, o.orderText(), o.paper.heading(env)); err != nil || o.paper.out == "" {
				return err
			}
			return o.paper.write(env, o.paper.out, paper)
		})
		if err != nil {
			return err
		}
		if env.JSON {
			return env.emit(r.view(v))
		}
		r.print(env, o)
		if o.paper.out != "" {
			env.print("batch %s: %s g of recipe %s, written to %s", v.Batch, v.Total.At(v.Step), v.Recipe, tidy(o.paper.out))
			return nil
		}
		env.print("")
		return o.paper.put(env, paper)
	})
}

// compare lists what changed since the approval.
func (r *reorder) compare(ctx context.Context, b *archive.Bench) error {
	cards, err := archive.History[archive.Resin](ctx, b, r.Recipe.Resin)
	if err != nil {
		return err
	}
	r.resin = cards[len(cards)-1]
	then := cards[0]
	for _, k := range cards {
		if !k.At.After(r.Approval.At) {
			then = k
		}
	}
	if then.PigmentSide != r.resin.PigmentSide || mixOf(then) != mixOf(r.resin) {
		r.changes = append(r.changes, changeView{"resin " + r.resin.Code, mixText(then) + ", pigments in " + then.PigmentSide, mixText(r.resin) + ", pigments in " + r.resin.PigmentSide, "the sheet goes by today's card; cast a test part first"})
	}
	if r.lots, err = lotsInUse(ctx, b, r.Recipe.Resin, codesOf(r.Recipe)); err != nil {
		return err
	}
	if was, is := lotOf(r.Approval.Lots, archive.OfResin, r.resin.Code), lotOf(r.lots, archive.OfResin, r.resin.Code); was != is && was != "" && is != "" {
		r.changes = append(r.changes, changeView{"lot of resin " + r.resin.Code, was, is, "its own colour may differ; nothing is known of it"})
	}
	return nil
}

// judge says what is expected of the approved recipe now, and solves it again
// where something changed that matters.
func (r *reorder) judge(ctx context.Context, b *archive.Bench, o reorderOptions) error {
	if r.Calibration == nil {
		r.lotsUnjudged()
		return nil
	}
	stored, cal, err := calibrationOn(ctx, b, r.Recipe.Resin, 0)
	if err != nil {
		return err
	}
	r.stored = stored
	if stored.Ref != r.Calibration.Ref {
		r.changes = append(r.changes, changeView{"calibration", r.Calibration.Name(), stored.Name(), "the recipe is judged by the newer one"})
	}
	for _, code := range codesOf(r.Recipe) {
		if cal.Index(code) == 0 {
			r.lotsUnjudged()
			return nil
		}
	}
	if r.target, err = recipesTarget(ctx, b, r.Target, cal, r.Recipe.ThicknessMM, r.Recipe.Backing); err != nil {
		return err
	}
	if err := r.believe(ctx, b, cal); err != nil {
		return err
	}
	judge, err := recipes.NewJudge(r.cal, r.target)
	if err != nil {
		return err
	}
	_, landing, err := judge.Land(phrs(r.Recipe.Loadings), nil)
	if err != nil {
		return err
	}
	r.judged, r.now = true, landing.Expected
	if len(r.changes) == 0 {
		return nil
	}
	return r.solveAgain(ctx, b, cal, o)
}

// lotsUnjudged tells of other lots where no calibration says what they do.
func (r *reorder) lotsUnjudged() {
	for _, code := range codesOf(r.Recipe) {
		if was, is := lotOf(r.Approval.Lots, archive.OfPigment, code), lotOf(r.lots, archive.OfPigment, code); was != "" && is != "" && was != is {
			r.changes = append(r.changes, changeView{"lot of " + code, was, is, "no calibration says what it does; cast a test part first"})
		}
	}
}

// believe forms today's belief: what the approved pours taught, with the lots
// that are in use now.
func (r *reorder) believe(ctx context.Context, b *archive.Bench, cal *calibrate.Calibration) error {
	var e evidence
	for _, p := range r.Pours {
		c, err := castOf(ctx, b, p)
		if err != nil {
			return err
		}
		if len(c.readings) > 0 {
			if err := e.add(ctx, b, c); err != nil {
				return err
			}
		}
	}
	then, _, err := strengthsOf(ctx, b, r.Approval.Lots, r.stored, e.refs)
	if err != nil {
		return err
	}
	r.belief = &keptBelief{Lots: fitted(cal, then), Pours: e.refs}
	was := r.belief.Lots
	if len(e.pours) > 0 {
		_, learned, err := recipes.Learn(cal, r.target, e.pours, recipes.CorrectOptions{Lots: r.belief.Lots})
		if err != nil {
			return err
		}
		was = learned.Strengths
	}
	today, _, err := strengthsOf(ctx, b, r.lots, r.stored, nil)
	if err != nil {
		return err
	}
	for _, code := range codesOf(r.Recipe) {
		before, now := lotOf(r.Approval.Lots, archive.OfPigment, code), lotOf(r.lots, archive.OfPigment, code)
		if now == "" || now == before {
			continue
		}
		s, known := today[code]
		if before == "" && !known {
			continue // no lot was named then, and nothing is known of this one
		}
		effect := fmt.Sprintf("counted as %s", strengthText(s))
		if !known {
			s = calibrate.Strength{SD: cal.UsualDrift()[code]}
			effect = fmt.Sprintf("its strength is not known: %.0f %% either way is usual; masstone lot learn %s %s FILE", 100*s.SD, code, quoted(now))
		}
		if r.belief.Since == nil {
			r.belief.Since = map[string]calibrate.Strength{}
		}
		r.belief.Since[code] = calibrate.Strength{Ln: s.Ln - was[code].Ln, SD: s.SD}
		r.changes = append(r.changes, changeView{"lot of " + code, firstText(before, "not named"), now, effect})
	}
	r.cal, err = r.belief.form(ctx, b, cal, r.target)
	return err
}

// solveAgain looks for a recipe of the same pigments that is expected nearer
// than the approved one is now.
func (r *reorder) solveAgain(ctx context.Context, b *archive.Bench, cal *calibrate.Calibration, o reorderOptions) error {
	limits, err := limitsOf(ctx, b, matchOptions{grams: firstKnown(o.grams, usualGrams), scale: o.scale}, r.resin, r.stored, cal)
	if err != nil {
		return err
	}
	again, err := recipes.Adjust(r.cal, r.target, phrs(r.Recipe.Loadings), limits)
	if err != nil {
		return err
	}
	if recipes.WorthChanging(r.now, again.Expected) {
		r.resolved = &again
	}
	return nil
}

// usualGrams stands in for a batch whose mass is not known yet.
const usualGrams = 100

// keep stores the recipe solved again.
func (r *reorder) keep(ctx context.Context, b *archive.Bench) error {
	s := r.resolved
	document, err := json.Marshal(keptWithRecipe{0, 0, s.Opacity, s.CostPerKg, s.Metamerism, []string{"reorder"}, r.belief})
	if err != nil {
		return err
	}
	a := archive.Recipe{Name: "reorder of v" + fmt.Sprint(r.Approval.Version), Resin: r.Recipe.Resin, Calibration: r.stored.Ref, Client: r.Recipe.Client, Target: r.Recipe.Target,
		TargetCard: r.Target.Ref, Corrects: r.Recipe.Ref, Loadings: floats(s.Loadings), ThicknessMM: r.Recipe.ThicknessMM, Backing: r.Recipe.Backing,
		DE00: s.DE00, ExpectedDE00: s.Expected, Upper95DE00: s.Upper95, Chance: s.Chance, Document: document}
	for _, c := range s.Colors {
		a.Predicted = append(a.Predicted, archive.LabOf(c.Lab))
	}
	before, err := b.Recipes(ctx, a.Client, a.Target)
	if err != nil {
		return err
	}
	if i := slices.IndexFunc(before, func(old archive.Recipe) bool {
		return old.Name == a.Name && old.Corrects == a.Corrects && sameRecipe(old, a)
	}); i >= 0 {
		r.recipe = before[i]
		return nil
	}
	added, err := b.AddRecipes(ctx, a)
	if err != nil {
		return err
	}
	r.recipe = added[0]
	return nil
}

// sheet plans and stores the batch.
func (r *reorder) sheet(ctx context.Context, b *archive.Bench, o reorderOptions, order batch.Order) (batchView, error) {
	v := batchView{Recipe: r.recipe.ID(), Resin: r.recipe.Resin, Target: r.recipe.Target, Client: r.recipe.Client}
	request, err := o.request(ctx, b, r.recipe, r.resin, order)
	if err != nil {
		return v, err
	}
	if r.judged { // as believed now, not as it was when the recipe was found
		if err := judgeBy(ctx, &request, r.cal, r.target); err != nil {
			return v, err
		}
	}
	if v.Sheet, err = batch.Plan(request); err != nil {
		return v, err
	}
	v.Batch, err = keepBatch(ctx, b, r.recipe, v.Sheet)
	return v, err
}

// reorderView is a reorder in JSON.
type reorderView struct {
	Approval string         `json:"approval"`
	Approved string         `json:"approved_recipe"`
	Recipe   string         `json:"recipe"`
	Resolved bool           `json:"resolved"`
	Changes  []changeView   `json:"changes"`
	Now      *fig           `json:"expected_dE00,omitempty"`
	Then     *fig           `json:"resolved_expected_dE00,omitempty"`
	Change   map[string]fig `json:"change_phr,omitempty"`
	Sheet    batchView      `json:"sheet"`
}

func (r *reorder) view(sheet batchView) reorderView {
	v := reorderView{Approval: r.Approval.Name(), Approved: r.Recipe.ID(), Recipe: r.recipe.ID(), Resolved: r.recipe.Ref != r.Recipe.Ref, Changes: append([]changeView{}, r.changes...), Sheet: sheet}
	if r.judged {
		now := fig(r.now)
		v.Now = &now
	}
	if r.resolved != nil {
		then := fig(r.resolved.Expected)
		v.Then, v.Change = &then, figures(recipes.Change(phrs(r.Recipe.Loadings), r.resolved.Loadings))
	}
	return v
}

func (r *reorder) print(env *Env, o reorderOptions) {
	env.print("%q%s, approved by %s on %s: recipe %s, %s phr", tidy(r.Approval.Name()), forClient(r.Approval.Client), tidy(r.Approval.By), day(r.Approval.At)[:10], r.Recipe.ID(), recipeText(r.Recipe.Loadings, " ", ", "))
	if len(r.changes) == 0 {
		env.print("nothing that is known has changed since")
	}
	for _, c := range r.changes {
		env.print("Changed since: %s, then %s, now %s: %s.", c.What, tidy(c.Then), tidy(c.Now), tidy(c.Effect))
	}
	if r.judged && len(r.changes) > 0 {
		env.print("Expected of the approved recipe now: dE00 %.2f.", r.now)
	}
	switch {
	case r.resolved == nil:
	case o.asApproved:
		env.print("Solved again it would be expected at %.2f (%s phr); the sheet is for the recipe as approved.", r.resolved.Expected, changeText(recipes.Change(phrs(r.Recipe.Loadings), r.resolved.Loadings), r.resolved.Loadings))
	default:
		env.print("Solved again as %s it is expected at %.2f: %s phr. The sheet is for it; approve it once a pour proves it.", r.recipe.ID(), r.resolved.Expected, changeText(recipes.Change(phrs(r.Recipe.Loadings), r.resolved.Loadings), r.resolved.Loadings))
	}
}
