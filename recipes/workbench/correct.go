package workbench

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"masstone/calibrate"
	"masstone/color/remedy"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
	"masstone/recipes/kept"
)

// A CorrectRequest asks what can be done about a pour that was read.
type CorrectRequest struct {
	Pour string
	// What can still be added to: grams left in the cup, pastes included, or a
	// stock; neither for nothing.
	PotGrams   calibrate.Grams
	PotSide    string // what the pot holds: the tinted side, A or B, or mixed; the tinted side if empty
	StillFlows bool   // the mixed pot has not set, though the part was read
	Stock      string
	MaxGrowth  float64 // how many times its resin the pot may grow to, 2 if 0

	AnyPigment  bool            // also try pigments that are not in the cup
	MaxPigments int             // in a recipe of any pigments
	BatchGrams  calibrate.Grams // the next batch; as large as the last if 0
	ScaleChoice
	ScaleGrams calibrate.Grams // step of the scale; that of the scale in use if 0
	MinWeigh   calibrate.Grams // least amount worth weighing
	Keep       bool            // what was learnt of the lots, for other recipes
}

func (r CorrectRequest) check() error {
	switch {
	case r.Stock != "" && r.PotGrams != 0:
		return invalid("stock", "correct %s: give either %s or %s", r.Pour, remedy.Input("pot-grams"), remedy.Input("stock"))
	case r.PotSide != "" && r.PotGrams == 0:
		return missing("correct "+r.Pour, "pot-grams", "give what is left in the pot", "118g")
	case r.StillFlows && !strings.EqualFold(r.PotSide, mixedPot):
		return invalid("still-flows", "correct %s: %s goes with %s", r.Pour, remedy.Input("still-flows"), remedy.InputAs("pot-side", mixedPot))
	case r.MaxPigments < 1 || r.MaxPigments > recipes.MaxPerRecipe:
		return outOfRange("max-pigments", r.MaxPigments, fmt.Sprintf("1 to %d", recipes.MaxPerRecipe))
	}
	return weighable(weight{"pot-grams", r.PotGrams}, weight{"grams", r.BatchGrams}, weight{"scale", r.ScaleGrams}, weight{"min-weigh", r.MinWeigh})
}

// A Correction is what can be done about a pour. Differences are CIEDE2000.
type Correction struct {
	Pour        string            `json:"pour"`
	Recipe      string            `json:"recipe"`
	Target      string            `json:"target"`
	Client      string            `json:"client,omitempty"`
	Resin       string            `json:"resin"`
	Calibration string            `json:"calibration"`
	Pours       []string          `json:"pours" doc:"learnt from"`
	Verdict     *kept.Verdict     `json:"verdict" as:"pour read"`
	Ways        []Way             `json:"ways"`
	Best        string            `json:"best"`
	Why         string            `json:"why"`
	Lots        []LotStrength     `json:"lots"`
	Kept        map[string]string `json:"kept" doc:"lots stored, by code"`
	Notes       []string          `json:"notes"`

	BatchGrams calibrate.Grams `json:"-"` // of the next batch
	ScaleGrams calibrate.Grams `json:"-"` // step of the scale
}

// A Way is one way to go on from a pour, with what it is expected to lead to.
type Way struct {
	Way         string                   `json:"way"`
	Recipe      string                   `json:"recipe,omitempty"`
	Batch       string                   `json:"batch,omitempty"`
	Loadings    map[string]figure.Number `json:"loadings_phr,omitempty"`
	Change      map[string]figure.Number `json:"change_phr,omitempty" doc:"against the pour"`
	Lines       []Amount                 `json:"lines,omitempty" doc:"to add, or to weigh"`
	Total       *figure.Number           `json:"total_grams,omitempty"`
	Growth      *figure.Number           `json:"growth,omitempty" doc:"of the pot's resin"`
	Expected    figure.Number            `json:"expected_dE00"`
	Upper95     figure.Number            `json:"upper95_dE00"`
	Chance      figure.Number            `json:"chance"`
	Worse       figure.Number            `json:"worse" doc:"chance of being further off"`
	Gain        figure.Number            `json:"gain_dE00"`
	Recommended bool                     `json:"recommended"`
	CostPerKg   *figure.Number           `json:"cost_per_kg,omitempty"`

	Predicted *Color `json:"-"` // nil for living with it
}

// A correction is what a pour is corrected from and what comes of it.
type correction struct {
	CorrectRequest
	last    cast
	target  archive.Target
	known   knowledge
	lots    lotKnowledge // as they were when known was formed
	pot     *recipes.Pot
	verdict *kept.Verdict
	answer  recipes.Correction
	ways    []wayOut
	kept    []archive.LotName
	notes   []string
}

// A wayOut is one way of a correction: what to weigh, and once it is stored the
// recipe and, for additions to a cup, the batch.
type wayOut struct {
	way    recipes.Way
	route  *recipes.Route // nil for living with it
	growth float64
	lines  []batch.Amount
	recipe archive.Recipe
	batch  string
}

// Correct says what can be done about a pour, each way with the difference it is
// expected to lead to. The pours of the target with these lots up to this one
// are the evidence; the calibration stays. The recipes of the ways are kept, and
// additions as a batch whose next shot can be recorded.
func Correct(ctx context.Context, b *Bench, r CorrectRequest) (Correction, error) {
	if err := r.check(); err != nil {
		return Correction{}, err
	}
	if err := r.fill(ctx, b.archive, usualStep, &r.ScaleGrams, &r.MinWeigh, nil); err != nil {
		return Correction{}, err
	}
	c := correction{CorrectRequest: r}
	if err := c.know(ctx, b.archive); err != nil {
		return Correction{}, err
	}
	if err := c.findPot(ctx, b); err != nil {
		return Correction{}, err
	}
	if err := c.solve(ctx, b); err != nil {
		return Correction{}, err
	}
	if err := c.weigh(ctx, b.archive); err != nil {
		return Correction{}, err
	}
	if err := together(ctx, b, &c, func(a *archive.Bench) error { return c.store(ctx, a) }); err != nil {
		return Correction{}, err
	}
	return c.result(), nil
}

// know finds the pour and what was known once it was read.
func (c *correction) know(ctx context.Context, a *archive.Bench) error {
	var err error
	if c.last, err = castNamed(ctx, a, c.Pour); err != nil {
		return err
	}
	r := c.last.recipe
	if _, err := c.last.piece(); err != nil {
		return err
	}
	t, err := targetOf(ctx, a, r)
	if err != nil {
		return err
	}
	if t == nil {
		return fmt.Errorf("%s cannot be corrected: recipe %s is for no target; add one with %s", c.last.pour.ID(), r.ID(), remedy.Verb("recipe add", remedy.Input("target")))
	}
	c.target = *t
	if c.lots, err = knownOfLots(ctx, a); err != nil {
		return err
	}
	stored, cal, err := calibrationBefore(ctx, a, r.Resin, c.last.pour)
	if err != nil {
		return err
	}
	loadings, err := c.last.contents.Loadings()
	if err != nil {
		return fmt.Errorf("%s: %w", c.last.pour.ID(), err)
	}
	if err := checkFitted(ctx, a, stored, cal, floats(loadings)); err != nil {
		return err
	}
	newest, err := a.Calibration(ctx, r.Resin, 0)
	if err != nil {
		return err
	}
	if newest.FittedFrom(c.last.pour) {
		c.notes = append(c.notes, fmt.Sprintf("%s is in %s already, so %s counts here; a match goes by the newest", c.last.pour.ID(), newest.Name(), stored.Name()))
	}
	if stored.Ref != r.Calibration && r.Calibration != "" {
		c.notes = append(c.notes, fmt.Sprintf("recipe %s was found with an older calibration; %s counts now", r.ID(), stored.Name()))
	}
	if c.known, err = know(ctx, a, question{resin: r.Resin, version: stored.Version, target: t, thickness: r.ThicknessMM, over: r.Backing, after: &c.last}); err != nil {
		return err
	}
	c.notes = append(c.notes, c.known.notes...)
	inUse, err := lotsInUse(ctx, a, r.Resin, cal.Codes())
	if err != nil {
		return err
	}
	for _, code := range c.last.codes() {
		then, now := lotOf(c.last.pour.Lots, archive.OfPigment, code), lotOf(inUse, archive.OfPigment, code)
		if then != "" && now != "" && then != now {
			c.notes = append(c.notes, fmt.Sprintf("%s lot %s is in use since; what is expected here is for lot %s of the pour, and a batch says it for the one in use", code, now, then))
		}
	}
	if text := c.last.partsText(); text != "" {
		c.notes = append(c.notes, text)
	}
	c.verdict, err = c.last.judged(ctx, a)
	return err
}

// mixedPot is a pot of both sides.
const mixedPot = "mixed"

// findPot is what can be added to.
func (c *correction) findPot(ctx context.Context, b *Bench) error {
	a := b.archive
	resin, side := c.last.resin, batch.Side(c.last.resin.PigmentSide)
	var pot recipes.Pot
	switch {
	case c.Stock != "":
		p, err := pailNamed(ctx, a, c.Stock)
		if err != nil {
			return err
		}
		if err := p.noJar("name a tinted pail"); err != nil {
			return err
		}
		if p.resin.Code != resin.Code {
			return invalid("stock", "stock %q is of resin %s, %s of %s; name a stock of %s", c.Stock, p.resin.Code, c.last.pour.ID(), resin.Code, resin.Code)
		}
		if pot, err = p.contents().Pot(batch.Grams(p.Grams), false); err != nil {
			return fmt.Errorf("stock %q: %w", c.Stock, err)
		}
	case c.PotGrams != 0:
		mixed := strings.EqualFold(c.PotSide, mixedPot)
		if !mixed && c.PotSide != "" && !strings.EqualFold(c.PotSide, string(side)) {
			return invalid("pot-side", "%s: the pigments of %s are in side %s; give %s, or mixed", remedy.InputAs("pot-side", c.PotSide), resin.Code, side, side)
		}
		if why := setBy(resin.PotLife, b.now().Sub(c.last.pour.At), c.StillFlows); mixed && why != "" {
			c.notes = append(c.notes, solid(c.last.pour.ID(), string(side), why))
			return nil
		}
		var err error
		if pot, err = c.last.contents.Pot(batch.Grams(float64(c.PotGrams)), mixed); err != nil {
			return err
		}
	default:
		return nil
	}
	pot.ScaleGrams, pot.MinWeigh, pot.MaxGrowth = c.ScaleGrams, c.MinWeigh, c.MaxGrowth
	if c.Stock == "" && pot.Share < 1 {
		if err := c.fromJars(ctx, a, &pot); err != nil {
			return err
		}
	}
	c.pot = &pot
	for i, other := range c.known.seen.casts {
		var err error
		if c.known.seen.pours[i].FromPot, err = c.ofPot(ctx, a, other); err != nil {
			return err
		}
	}
	return nil
}

// fromJars lets additions come from the pre-dilutions at hand, of a pigment from the
// jar that holds most.
func (c *correction) fromJars(ctx context.Context, a *archive.Bench, pot *recipes.Pot) error {
	jars, notes, err := jarsFor(ctx, a, c.last.resin.Code, c.known.fitted.Codes())
	if err != nil {
		return err
	}
	c.notes = append(c.notes, notes...)
	pot.Diluted = map[string]recipes.Dilution{}
	inUse, err := lotsInUse(ctx, a, c.last.resin.Code, c.known.fitted.Codes())
	if err != nil {
		return err
	}
	for _, k := range jars {
		then, now := lotOf(c.last.pour.Lots, archive.OfPigment, k.Pigment), lotOf(inUse, archive.OfPigment, k.Pigment)
		if k.Side != batch.Side(c.last.resin.PigmentSide) || then != "" && then != now {
			continue // of another lot than is in the pot
		}
		d := k.Dilution(batch.Scale{Step: massOf(c.ScaleGrams), Minimum: massOf(c.MinWeigh)})
		if before, ok := pot.Diluted[k.Pigment]; !ok || d.Left > before.Left {
			pot.Diluted[k.Pigment] = d
		}
	}
	return nil
}

// ofPot tells whether a part is a shot of the pot that is to be added to: the
// last one, and those whose pot it was before something was added.
func (c *correction) ofPot(ctx context.Context, a *archive.Bench, other cast) (bool, error) {
	if c.Stock != "" {
		return other.batch.Stock == c.Stock, nil
	}
	for last := c.last; ; {
		if other.pour.Batch == last.pour.Batch { // of a batch for several cups pots follow each other
			of, err := other.casting(ctx, a)
			if err != nil {
				return false, err
			}
			its, err := last.casting(ctx, a)
			return of == its, err
		}
		before := last.batch.AddsTo
		i := slices.IndexFunc(c.known.seen.casts, func(x cast) bool { return x.pour.Ref == before })
		if before == "" || i < 0 {
			return false, nil
		}
		last = c.known.seen.casts[i]
	}
}

// grams is the mass of the next batch.
func (c *correction) grams() calibrate.Grams {
	return cmp.Or(c.BatchGrams, calibrate.Grams(c.last.batch.TotalGrams), usualGrams)
}

// solve works out the ways.
func (c *correction) solve(ctx context.Context, b *Bench) error {
	was, err := kept.ReadRecipe(c.last.recipe.ID(), c.last.recipe.Document)
	if err != nil {
		return err
	}
	limits, err := limitsOf(ctx, b.archive, Limits{MaxPigments: c.MaxPigments, Recipes: 1, BatchGrams: c.grams(), ScaleGrams: c.ScaleGrams, MinWeigh: c.MinWeigh}, c.last.resin, c.known.stored, c.known.fitted)
	if err != nil {
		return err
	}
	limits.MinOpacity, limits.Progress = recipes.AsOpaque(was.Opacity), b.count
	c.answer, err = recipes.Correct(ctx, c.known.fitted, *c.known.target, c.known.seen.pours, recipes.CorrectOptions{Limits: limits, AnyPigment: c.AnyPigment, Pot: c.pot, Lots: c.known.before})
	c.notes = append(c.notes, c.answer.Notes...)
	return err
}

// weigh says of each way what to weigh.
func (c *correction) weigh(ctx context.Context, a *archive.Bench) error {
	c.ways = []wayOut{{way: recipes.LiveWithIt}}
	for _, w := range []struct {
		way   recipes.Way
		route *recipes.PotRoute
	}{{recipes.AddToPot, c.answer.Add}, {recipes.GrowPot, c.answer.Grow}, {recipes.WidenPot, c.answer.Widen}} {
		if w.route == nil {
			continue
		}
		lines := batch.Additions(*w.route, *c.pot, batch.Side(c.last.resin.PigmentSide), mixOf(c.last.resin), batch.Grams(float64(c.ScaleGrams)))
		if len(lines) == 0 {
			c.notes = append(c.notes, "nothing that could be added to the pot brings it nearer")
			continue
		}
		for _, code := range slices.Sorted(maps.Keys(w.route.From)) {
			d := c.pot.Diluted[code]
			if note := fmt.Sprintf("%s comes from jar %s, let down 1:%.3g, which is better on this scale: stir it first", code, d.Jar, 1/d.Share-1); !slices.Contains(c.notes, note) {
				c.notes = append(c.notes, note)
			}
		}
		c.ways = append(c.ways, wayOut{way: w.way, route: &w.route.Route, growth: w.route.Growth, lines: lines})
	}
	for _, w := range []wayOut{{way: recipes.NextBatch, route: &c.answer.Next}, {way: recipes.OtherPigments, route: c.answer.Other}} {
		if w.route == nil {
			continue
		}
		sheet, err := c.sheet(ctx, a, *w.route)
		if err != nil {
			return err
		}
		for _, l := range sheet.Lines {
			w.lines = append(w.lines, batch.Amount{Item: l.Item, Grams: l.Grams})
		}
		c.ways = append(c.ways, w)
	}
	return nil
}

// sheet plans the next batch by a way's recipe, judged by what is known after
// the pour.
func (c *correction) sheet(ctx context.Context, a *archive.Bench, route recipes.Route) (batch.Sheet, error) {
	outcome, err := c.known.outcome(ctx)
	if err != nil {
		return batch.Sheet{}, err
	}
	request := batch.Request{Recipe: route.Loadings, Resin: batchResin(c.last.resin), Order: batch.Order{Total: batch.Grams(float64(c.grams()))},
		Handling: batch.UsualHandling(), Colorants: map[string]batch.Colorant{}, Outcome: outcome, Tolerance: c.known.target.Within(),
		Scale: batch.Scale{Step: batch.Grams(float64(c.ScaleGrams)), Minimum: batch.Grams(float64(c.MinWeigh))}}
	for code := range route.Loadings {
		p, err := a.Pigment(ctx, code)
		if err != nil {
			return batch.Sheet{}, err
		}
		request.Colorants[code] = batch.Colorant{Density: batch.GramsPerML(p.Density)}
	}
	if request.Jars, _, err = jarsFor(ctx, a, c.last.resin.Code, slices.Collect(maps.Keys(route.Loadings))); err != nil {
		return batch.Sheet{}, err
	}
	return batch.Plan(request)
}
