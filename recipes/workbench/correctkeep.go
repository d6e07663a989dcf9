package workbench

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
	"masstone/recipes/kept"
)

// store keeps the recipes, the additions and, if asked for, what was learnt. It
// runs inside Together.
func (c *correction) store(ctx context.Context, a *archive.Bench) error {
	var found []archive.Recipe
	from := c.last.recipe
	for _, w := range c.ways[1:] {
		r, err := c.known.foundRecipe(c.target, w.route.Recipe, from.ThicknessMM, from.Backing,
			kept.Recipe{BatchGrams: float64(c.grams()), ScaleGrams: float64(c.ScaleGrams), Why: []string{string(w.way)}})
		if err != nil {
			return err
		}
		r.Name, r.Corrects = fmt.Sprintf("%s after %s", w.way, c.last.pour.ID()), from.Ref
		found = append(found, r)
	}
	stored, err := findOrAddRecipes(ctx, a, found...)
	if err != nil {
		return err
	}
	for i := range c.ways[1:] {
		w := &c.ways[i+1]
		w.recipe = stored[i]
		if w.growth == 0 || c.Stock != "" { // a stock has its own record
			continue
		}
		if w.batch, err = c.keepAdditions(ctx, a, *w); err != nil {
			return err
		}
	}
	if c.Keep {
		return c.keepLots(ctx, a)
	}
	return nil
}

// keepAdditions stores what is added to a cup's pot as a batch, so that its next
// shot can be recorded.
func (c *correction) keepAdditions(ctx context.Context, a *archive.Bench, w wayOut) (string, error) {
	pot := *c.pot
	pot.Diluted = map[string]recipes.Dilution{}
	for code, d := range c.pot.Diluted {
		if slices.ContainsFunc(w.lines, func(l batch.Amount) bool { return l.Item == d.Item }) {
			pot.Diluted[code] = d
		}
	}
	document, err := json.Marshal(kept.PotOf(pot))
	if err != nil {
		return "", err
	}
	contents := batch.Refilled(pot, w.lines, batch.Side(c.last.resin.PigmentSide), mixOf(c.last.resin))
	k, err := findOrAddBatch(ctx, a, archive.Batch{Recipe: w.recipe.Ref, AddsTo: c.last.pour.Ref, TotalGrams: contents.Tinted() + contents.Other, ScaleGrams: float64(c.ScaleGrams),
		Lines: linesOf(w.lines), Lots: c.last.pour.Lots, Document: document})
	return k.ID(), err
}

// keepLots stores what the pours taught about the lots in the cup, unless
// somebody learnt something else of them meanwhile.
func (c *correction) keepLots(ctx context.Context, a *archive.Bench) error {
	now, err := knownOfLots(ctx, a)
	if err != nil {
		return err
	}
	var nameless []string
	for _, code := range c.inCup() {
		s := c.answer.Strengths[code]
		lot := pigmentLot(code, lotOf(c.last.pour.Lots, archive.OfPigment, code))
		if lot.Name == "" {
			nameless = append(nameless, code)
			continue
		}
		old := now.strength(lot)
		if seen := c.lots.strength(lot); old != nil && (seen == nil || seen.Ref != old.Ref) {
			return &Error{Conflict, "keep", fmt.Errorf("the strength of %s lot %s was learnt anew by %s at %s, meanwhile; correct %s again", code, lot.Name, old.Who, figure.At(old.At), c.last.pour.ID())}
		}
		evidence := slices.Clone(c.known.seen.refs)
		if _, counted := c.known.before[code]; counted && old != nil {
			evidence = append(slices.Clone(old.Evidence), evidence...)
		}
		if _, err := a.SetLotStrength(ctx, archive.LotStrength{Item: archive.OfPigment, Code: code, Lot: lot.Name, LnStrength: s.Ln, SD: s.SD, Calibration: c.known.stored.Ref, Evidence: evidence}); err != nil {
			return err
		}
		c.kept = append(c.kept, lot)
	}
	if len(nameless) > 0 {
		c.notes = append(c.notes, fmt.Sprintf("what was learnt of %s is not kept, since the pour names no lot of it; add and open its lot before the next", figure.List(nameless)))
	}
	return nil
}

// inCup lists the pigments of the pour that something was learnt of.
func (c *correction) inCup() []string {
	return slices.DeleteFunc(codesOf(c.last.recipe), func(code string) bool { _, learnt := c.answer.Strengths[code]; return !learnt })
}

func (c *correction) result() Correction {
	v := Correction{Pour: c.last.pour.ID(), Recipe: c.last.recipe.ID(), Target: c.last.recipe.Target, Client: c.last.recipe.Client, Resin: c.last.recipe.Resin,
		Calibration: c.known.stored.Name(), Verdict: c.verdict, Best: string(c.answer.Best), Why: c.why(), Lots: []LotStrength{}, Kept: lotsByCode(c.kept),
		Notes: append([]string{}, c.notes...), BatchGrams: c.grams(), ScaleGrams: c.ScaleGrams}
	for _, s := range c.known.seen.casts {
		v.Pours = append(v.Pours, s.pour.ID())
	}
	for _, code := range c.inCup() {
		v.Lots = append(v.Lots, strengthOf(code, lotOf(c.last.pour.Lots, archive.OfPigment, code), c.answer.Strengths[code]))
	}
	for _, w := range c.ways {
		v.Ways = append(v.Ways, c.way(w))
	}
	return v
}

func (c *correction) way(w wayOut) Way {
	if w.route == nil {
		live := c.answer.Live
		return Way{Way: string(w.way), Expected: figure.Number(live.Expected), Upper95: figure.Number(live.Upper95), Chance: figure.Number(live.Chance), Recommended: c.answer.Best == w.way}
	}
	r, poured := w.route, c.known.seen.pours[len(c.known.seen.pours)-1].Loadings
	predicted := r.Colors[0].Lab
	v := Way{Way: string(w.way), Recipe: w.recipe.ID(), Batch: w.batch, Loadings: figure.Map(r.Loadings), Change: figure.Map(recipes.Change(poured, r.Loadings)), Lines: amounts(linesOf(w.lines)),
		Growth: figure.Known(w.growth), Expected: figure.Number(r.Expected), Upper95: figure.Number(r.Upper95), Chance: figure.Number(r.Chance), Worse: figure.Number(r.Worse), Gain: figure.Number(r.Gain),
		Recommended: r.Recommended, CostPerKg: figure.Known(r.CostPerKg), Predicted: &Color{predicted.Under.String(), figure.LabOf(predicted)}}
	if w.growth == 0 {
		v.Total = figure.Known(float64(c.grams()))
	}
	return v
}

// why says in a line why the best way is the best.
func (c *correction) why() string {
	live := c.answer.Live
	for _, w := range c.ways {
		if w.way == c.answer.Best && w.route != nil {
			return fmt.Sprintf("%.2f is expected instead of %.2f, more than the noise of reading and weighing explains; the chance of being further off than now is %.0f %%", w.route.Expected, live.Expected, 100*w.route.Worse)
		}
	}
	if live.Chance >= 0.5 {
		return fmt.Sprintf("the part is within tolerance with a chance of %.0f %%, and what another would gain the noise of reading and weighing explains", 100*live.Chance)
	}
	return "no way is sure enough to come nearer; read the part again, or cast chips of the pigments whose lots are in doubt"
}
