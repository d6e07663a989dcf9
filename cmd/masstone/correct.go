package main

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"masstone/calibrate"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
)

type correctOptions struct {
	pour                   string
	potGrams, growth       float64
	potSide, stock         string
	anyPigment, keep       bool
	maxPigments            int
	grams, scale, minWeigh float64
}

func newCorrectCommand(env *Env) *cobra.Command {
	var o correctOptions
	cmd := &cobra.Command{
		Use:   "correct POUR [--pot-grams G --pot-side B|mixed]",
		Short: "What to do about a pour that missed: every way, side by side",
		Long: `Says what can be done about a pour that was read, each way with the difference
it is expected to lead to:

  live with it     the chance that the part is within tolerance after all
  add to the pot   grams to add to what is left (--pot-grams; nothing can be taken
                   out); where that is not enough, with more resin, or with another
                   pigment
  next batch       a new recipe, for the lots as the pours show them to be

All pours of the target with these lots so far are evidence about the lots and
about this target; the calibration itself stays as it is. A way is recommended
only where its expected gain exceeds what the noise of reading and weighing
explains.

The new recipe is stored, and so are additions, as a batch whose next shot is
recorded with "masstone pour add". --keep stores what was learnt of the lots, for
other recipes.

  masstone correct P1
  masstone correct P1 --pot-grams 118 --pot-side B
  masstone correct P4 --stock "grey pail"

JSON keys: pour, recipe, target, client, resin, calibration, pours (learnt from),
verdict (keys of "pour read"), ways (a list of way, recipe, batch, loadings_phr,
change_phr (against the pour), lines (a list of item, grams: to add, or to weigh),
total_grams, growth (of the pot's resin), expected_dE00, upper95_dE00, chance,
worse (chance of being further off), gain_dE00, recommended, cost_per_kg), best,
why, lots (a list of ` + strengthKeys + `),
kept (lots stored), notes.`,
		Args: needs("POUR"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.pour = args[0]
			return runCorrect(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	numberVar(f, &o.potGrams, "pot-grams", inGrams, 0, "what is left in the pot, pastes included, such as 118g")
	f.StringVar(&o.potSide, "pot-side", "", "what the pot holds: the tinted side, A or B, or mixed (else the tinted side)")
	f.StringVar(&o.stock, "stock", "", "the pot is the tinted stock of this `NAME`")
	numberVar(f, &o.growth, "pot-growth", aTimes, 2, "how many times its resin the pot may grow to")
	f.BoolVar(&o.anyPigment, "any-pigment", false, "also try pigments that are not in the cup")
	f.IntVar(&o.maxPigments, "max-pigments", 4, "most pigments of a recipe found with --any-pigment")
	numberVar(f, &o.grams, "grams", inGrams, 0, "the next batch (else as large as the last)")
	numberVar(f, &o.scale, "scale", inGrams, 0.01, "step of the scale")
	numberVar(f, &o.minWeigh, "min-weigh", inGrams, 0, "least amount worth weighing")
	f.BoolVar(&o.keep, "keep", false, "store what was learnt of the lots, for other recipes")
	return cmd
}

// A correction is what a pour was corrected from and what came of it.
type correction struct {
	o       correctOptions
	last    cast
	stored  archive.Calibration
	target  recipes.Target
	pot     *recipes.Pot
	known   map[string]calibrate.Strength // of lots, before the pours
	seen    evidence
	verdict *verdictView
	answer  recipes.Correction
	ways    []wayOut
	kept    []archive.LotName
	notes   []string
}

// A wayOut is one way of a correction, with what was stored of it.
type wayOut struct {
	way    recipes.Way
	route  *recipes.Route // nil for living with it
	growth float64
	recipe archive.Recipe
	batch  string // of additions, ""
	lines  []batch.Amount
}

func runCorrect(ctx context.Context, env *Env, o correctOptions) error {
	if o.stock != "" && o.potGrams != 0 {
		return misusef("correct %s: give either --pot-grams or --stock", o.pour)
	}
	if o.potSide != "" && o.potGrams == 0 {
		return misusef("correct %s: --pot-grams is missing; give what is left in the pot, such as --pot-grams 118g", o.pour)
	}
	if o.maxPigments < 1 || o.maxPigments > recipes.MaxPerRecipe {
		return misusef("--max-pigments %d: is out of range; give 1 to %d", o.maxPigments, recipes.MaxPerRecipe)
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		c, err := correctionOf(ctx, env, b, o)
		if err != nil {
			return err
		}
		if err := b.Together(ctx, func(b *archive.Bench) error { return c.store(ctx, b) }); err != nil {
			return err
		}
		if env.JSON {
			return env.emit(c.view())
		}
		c.print(env)
		return nil
	})
}

// correctionOf works out what can be done about a pour.
func correctionOf(ctx context.Context, env *Env, b *archive.Bench, o correctOptions) (*correction, error) {
	c := &correction{o: o}
	var err error
	if c.last, err = castNamed(ctx, b, o.pour); err != nil {
		return nil, err
	}
	r := c.last.recipe
	piece, err := c.last.piece()
	if err != nil {
		return nil, err
	}
	t, err := targetOf(ctx, b, r)
	if err != nil {
		return nil, err
	}
	if t == nil {
		return nil, fmt.Errorf("%s cannot be corrected: recipe %s is for no target; add one with masstone recipe add --target", c.last.pour.ID(), r.ID())
	}
	stored, cal, err := calibrationOn(ctx, b, r.Resin, 0)
	if err != nil {
		return nil, err
	}
	c.stored = stored
	if stored.Ref != r.Calibration && r.Calibration != "" {
		c.notes = append(c.notes, fmt.Sprintf("recipe %s was found with an older calibration; %s counts now", r.ID(), stored.Name()))
	}
	if c.target, err = recipesTarget(ctx, b, *t, cal, r.ThicknessMM, r.Backing); err != nil {
		return nil, err
	}
	if c.verdict, err = inspect(ctx, b, r, piece); err != nil {
		return nil, err
	}
	if c.seen, err = evidenceUpTo(ctx, b, c.last); err != nil {
		return nil, err
	}
	c.notes = append(c.notes, c.seen.notes...)
	for _, p := range c.seen.pours {
		if err := checkFitted(ctx, b, stored, cal, floats(p.Loadings)); err != nil {
			return nil, err
		}
	}
	if err := c.lots(ctx, b, cal); err != nil {
		return nil, err
	}
	if err := c.findPot(ctx, b); err != nil {
		return nil, err
	}
	limits, err := limitsOf(ctx, b, matchOptions{maxPigments: o.maxPigments, answers: 1, grams: c.grams(), scale: o.scale, minWeigh: o.minWeigh}, c.last.resin, stored, cal)
	if err != nil {
		return nil, err
	}
	kept, err := keptOf(r)
	if err != nil {
		return nil, err
	}
	limits.MinOpacity = recipes.AsOpaque(kept.Opacity)
	p := env.progress()
	limits.Progress = p.count
	c.answer, err = recipes.Correct(ctx, cal, c.target, c.seen.pours, recipes.CorrectOptions{Limits: limits, AnyPigment: o.anyPigment, Pot: c.pot, Lots: c.known})
	p.end()
	c.notes = append(c.notes, c.answer.Notes...)
	return c, err
}

// grams is the mass of the next batch.
func (c *correction) grams() float64 {
	return firstKnown(c.o.grams, c.last.batch.TotalGrams, 100)
}

// lots finds what is known of the lots: those of the pour, and for other
// pigments those in use.
func (c *correction) lots(ctx context.Context, b *archive.Bench, cal *calibrate.Calibration) error {
	lots := slices.Clone(c.last.pour.Lots)
	inUse, err := lotsInUse(ctx, b, c.last.resin.Code, cal.Codes())
	if err != nil {
		return err
	}
	for _, l := range inUse {
		if lotOf(lots, l.Item, l.Code) == "" && c.last.recipe.Loadings[l.Code] == 0 {
			lots = append(lots, l)
		}
	}
	known, notes, err := strengthsOf(ctx, b, lots, c.stored, c.seen.refs)
	c.known, c.notes = fitted(cal, known), append(c.notes, notes...)
	return err
}

// findPot is what can be added to.
func (c *correction) findPot(ctx context.Context, b *archive.Bench) error {
	side := batch.Side(c.last.resin.PigmentSide)
	switch {
	case c.o.stock != "":
		level, err := b.StockLevel(ctx, c.o.stock)
		if err != nil {
			return err
		}
		if level.Stock.Resin != c.last.resin.Code {
			return fmt.Errorf("stock %q is of resin %s, %s of %s; name a stock of %s", c.o.stock, level.Stock.Resin, c.last.pour.ID(), c.last.resin.Code, c.last.resin.Code)
		}
		pot, err := heldInStock(level, c.last.resin).Pot(batch.Grams(level.Grams), false)
		if err != nil {
			return fmt.Errorf("stock %q: %w", c.o.stock, err)
		}
		c.pot = &pot
	case c.o.potGrams != 0:
		mixed := strings.EqualFold(c.o.potSide, "mixed")
		if !mixed && c.o.potSide != "" && !strings.EqualFold(c.o.potSide, string(side)) {
			return misusef("--pot-side %s: the pigments of %s are in side %s; give %s, or mixed", c.o.potSide, c.last.resin.Code, side, side)
		}
		pot, err := c.last.held.Pot(batch.Grams(c.o.potGrams), mixed)
		if err != nil {
			return err
		}
		c.pot = &pot
	default:
		return nil
	}
	c.pot.ScaleGrams, c.pot.MinWeigh, c.pot.MaxGrowth = calibrate.Grams(c.o.scale), calibrate.Grams(c.o.minWeigh), c.o.growth
	for i := range c.seen.casts { // shots of the pot
		c.seen.pours[i].FromPot = c.ofPot(c.seen.casts[i])
	}
	return nil
}

// ofPot tells whether a part is a shot of the pot that is to be added to: the
// last one, and those whose pot it was before something was added.
func (c *correction) ofPot(other cast) bool {
	if c.o.stock != "" {
		return other.batch.Stock == c.o.stock
	}
	for last := c.last; ; {
		if other.pour.Batch == last.pour.Batch {
			return true
		}
		before := last.batch.AddsTo
		i := slices.IndexFunc(c.seen.casts, func(x cast) bool { return x.pour.Ref == before })
		if before == "" || i < 0 {
			return false
		}
		last = c.seen.casts[i]
	}
}

// store keeps the recipes, the additions and, if asked for, what was learnt.
func (c *correction) store(ctx context.Context, b *archive.Bench) error {
	c.ways = []wayOut{{way: recipes.LiveWithIt}}
	pot := func(way recipes.Way, r *recipes.PotRoute) error {
		if r == nil {
			return nil
		}
		w := wayOut{way: way, route: &r.Route, growth: r.Growth,
			lines: batch.Additions(*r, *c.pot, batch.Side(c.last.resin.PigmentSide), mixOf(c.last.resin), batch.Grams(c.o.scale))}
		if len(w.lines) == 0 {
			c.notes = append(c.notes, "nothing that could be added to the pot brings it nearer")
			return nil
		}
		return c.keepPotWay(ctx, b, &w)
	}
	for _, way := range []struct {
		name  recipes.Way
		route *recipes.PotRoute
	}{{recipes.AddToPot, c.answer.Add}, {recipes.GrowPot, c.answer.Grow}, {recipes.WidenPot, c.answer.Widen}} {
		if err := pot(way.name, way.route); err != nil {
			return err
		}
	}
	if err := c.keepBatchWay(ctx, b, wayOut{way: recipes.NextBatch, route: &c.answer.Next}); err != nil {
		return err
	}
	if c.answer.Other != nil {
		if err := c.keepBatchWay(ctx, b, wayOut{way: recipes.OtherPigments, route: c.answer.Other}); err != nil {
			return err
		}
	}
	if c.o.keep {
		return c.keepLots(ctx, b)
	}
	return nil
}

// keepRecipe stores the recipe of a way; the same correction again keeps it.
func (c *correction) keepRecipe(ctx context.Context, b *archive.Bench, w *wayOut) error {
	r := w.route.Recipe
	document, err := json.Marshal(keptWithRecipe{c.grams(), c.o.scale, r.Opacity, r.CostPerKg, r.Metamerism, []string{string(w.way)}, &keptBelief{Lots: c.known, Pours: c.seen.refs}})
	if err != nil {
		return err
	}
	from := c.last.recipe
	a := archive.Recipe{Name: fmt.Sprintf("%s after %s", w.way, c.last.pour.ID()), Resin: c.stored.Resin, Calibration: c.stored.Ref, Client: from.Client, Target: from.Target,
		TargetCard: from.TargetCard, Corrects: from.Ref, Loadings: floats(r.Loadings), ThicknessMM: from.ThicknessMM, Backing: from.Backing,
		DE00: r.DE00, ExpectedDE00: r.Expected, Upper95DE00: r.Upper95, Chance: r.Chance, Document: document}
	for _, l := range r.Colors {
		a.Predicted = append(a.Predicted, archive.LabOf(l.Lab))
	}
	before, err := b.Recipes(ctx, from.Client, from.Target)
	if err != nil {
		return err
	}
	for _, old := range before {
		if old.Name == a.Name && old.Corrects == a.Corrects && sameRecipe(old, a) {
			w.recipe = old
			return nil
		}
	}
	added, err := b.AddRecipes(ctx, a)
	if err != nil {
		return err
	}
	w.recipe = added[0]
	return nil
}

// keepBatchWay stores the recipe of a new batch and plans its lines.
func (c *correction) keepBatchWay(ctx context.Context, b *archive.Bench, w wayOut) error {
	if err := c.keepRecipe(ctx, b, &w); err != nil {
		return err
	}
	o := batchOptions{scale: c.o.scale, minWeigh: c.o.minWeigh, grams: c.grams()}
	request, err := o.request(ctx, b, w.recipe, c.last.resin, batch.Order{Total: batch.Grams(c.grams())})
	if err != nil {
		return err
	}
	sheet, err := batch.Plan(request)
	if err != nil {
		return err
	}
	for _, l := range sheet.Lines {
		w.lines = append(w.lines, batch.Amount{Item: l.Item, Grams: l.Grams})
	}
	c.ways = append(c.ways, w)
	return nil
}

// keepPotWay stores additions: for a cup's pot a batch, so that its next shot
// can be recorded; a stock has its own record.
func (c *correction) keepPotWay(ctx context.Context, b *archive.Bench, w *wayOut) error {
	if err := c.keepRecipe(ctx, b, w); err != nil {
		return err
	}
	defer func() { c.ways = append(c.ways, *w) }()
	if c.o.stock != "" {
		return nil
	}
	document, err := json.Marshal(keepPot(*c.pot))
	if err != nil {
		return err
	}
	side := batch.Side(c.last.resin.PigmentSide)
	held := batch.Refilled(*c.pot, w.lines, side, mixOf(c.last.resin))
	k := archive.Batch{Recipe: w.recipe.Ref, AddsTo: c.last.pour.Ref, TotalGrams: held.Tinted() + held.Other, ScaleGrams: c.o.scale,
		Lines: linesOf(w.lines), Lots: c.last.pour.Lots, Document: document}
	before, err := b.Batches(ctx, w.recipe.Ref)
	if err != nil {
		return err
	}
	for _, old := range before {
		if old.AddsTo == k.AddsTo && string(old.Document) == string(k.Document) && slices.Equal(old.Lines, k.Lines) {
			w.batch = old.ID()
			return nil
		}
	}
	added, err := b.AddBatch(ctx, k)
	w.batch = added.ID()
	return err
}

// keepLots stores what the pours taught about the lots in the cup.
func (c *correction) keepLots(ctx context.Context, b *archive.Bench) error {
	all, err := b.LotStrengths(ctx)
	if err != nil {
		return err
	}
	var nameless []string
	for _, code := range c.inCup() {
		s := c.answer.Strengths[code]
		lot := lotOf(c.last.pour.Lots, archive.OfPigment, code)
		if lot == "" {
			nameless = append(nameless, code)
			continue
		}
		evidence := slices.Clone(c.seen.refs)
		if _, before := c.known[code]; before {
			for _, old := range all {
				if old.Item == archive.OfPigment && old.Code == code && old.Lot == lot {
					evidence = append(slices.Clone(old.Evidence), evidence...)
				}
			}
		}
		if _, err := b.SetLotStrength(ctx, archive.LotStrength{Item: archive.OfPigment, Code: code, Lot: lot, LnStrength: s.Ln, SD: s.SD, Calibration: c.stored.Ref, Evidence: evidence}); err != nil {
			return err
		}
		c.kept = append(c.kept, pigmentLot(code, lot))
	}
	if len(nameless) > 0 {
		c.notes = append(c.notes, fmt.Sprintf("what was learnt of %s is not kept, since the pour names no lot of it; masstone lot add %s LOT --open before the next", listed(nameless), nameless[0]))
	}
	return nil
}
