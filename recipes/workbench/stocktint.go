package workbench

import (
	"context"
	"fmt"
	"maps"
	"slices"

	"masstone/calibrate"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
)

// beyondMost is how far over its most a loading may be, as what is weighed in
// steps of a scale may.
const beyondMost = 1.001

// usualTintStep is the step of the scale that a pail stands on where nobody says, g.
const usualTintStep = 0.1

// A TintStockRequest tints a pail of the side that takes the pigments, or adds
// to it.
type TintStockRequest struct {
	Stock  string
	Recipe string          // to tint to; the stock's if empty
	Grams  calibrate.Grams // of the tinted side to make, pastes included
	ScaleChoice
	ScaleGrams calibrate.Grams // step of the scale; that of the scale in use if 0
	Weighed    batch.Poured    // what the scale showed, where it was not the line
	Note       string
	Again      bool // meant, though the same was recorded a moment ago
}

// A TintedStock is a stock and what was weighed into it.
type TintedStock struct {
	Stock
	Jars    []Jar    `json:"jars,omitempty" doc:"pre-dilutions taken from"`
	Side    string   `json:"-"`
	Tinted  []Amount `json:"-"` // what to weigh, in this order
	Remarks Remarks  `json:"-"`

	ScaleGrams calibrate.Grams `json:"-"` // step of the scale
}

// TintStock gives what to weigh so that a pail holds a recipe, and records it as
// done.
func TintStock(ctx context.Context, b *Bench, r TintStockRequest) (TintedStock, error) {
	var v TintedStock
	if r.Grams == 0 {
		return v, missing("stock "+r.Stock, "grams", "give how much to tint", "5kg")
	}
	if err := weighable(weight{"grams", r.Grams}, weight{"scale", r.ScaleGrams}); err != nil {
		return v, err
	}
	err := together(ctx, b, &v, func(a *archive.Bench) error {
		r := r
		if err := r.fill(ctx, a, usualTintStep, &r.ScaleGrams, nil, nil); err != nil {
			return err
		}
		card, recipe, err := r.stock(ctx, a)
		if err != nil {
			return err
		}
		resin, err := a.Resin(ctx, recipe.Resin)
		if err != nil {
			return err
		}
		over, err := overMost(ctx, a, resin, recipe.Loadings)
		if err != nil {
			return err
		}
		if over != "" {
			return outOfReach("recipe %s: %s; tint to another recipe, or mend the card", recipe.ID(), over)
		}
		jars, notes, err := jarsFor(ctx, a, resin.Code, codesOf(recipe))
		if err != nil {
			return err
		}
		for _, note := range notes {
			v.Remarks.say("%s", note)
		}
		weighed, used, err := r.lines(recipe, resin, jars)
		if err != nil {
			return err
		}
		if _, err := a.PutStock(ctx, card, archive.Refuse); err != nil {
			return advise(err, "a stock holds one recipe; give another name")
		}
		p, err := moved(ctx, a, archive.StockMove{Stock: card.Name, Kind: archive.Tint, Lines: linesOf(weighed), LetDown: letDowns(used), Note: r.Note}, r.Again)
		if err != nil {
			return err
		}
		for _, u := range used {
			at := slices.IndexFunc(weighed, func(a batch.Amount) bool { return a.Item == u.Item })
			k, err := drawn(ctx, a, u, weighed[at].Grams.Grams(), "", "into "+card.Name, &v.Remarks)
			if err != nil {
				return err
			}
			v.Jars = append(v.Jars, k)
		}
		if over, err = overMost(ctx, a, resin, p.loadings()); err != nil {
			return err
		}
		if over != "" { // it is in the pail, as weighed
			v.Remarks.warn("stock %s: %s", card.Name, over)
		}
		v.Side, v.Tinted, v.ScaleGrams = resin.PigmentSide, amounts(linesOf(weighed)), r.ScaleGrams
		v.Stock, err = p.view(ctx, a)
		return err
	})
	return v, err
}

// moved records a movement of a stock, which is refused if it was recorded a
// moment ago and is not meant once more.
func moved(ctx context.Context, a *archive.Bench, m archive.StockMove, again bool) (pail, error) {
	level, err := a.MoveStock(ctx, m)
	if err != nil {
		return pail{}, err
	}
	if n := len(level.Moves); !again && n > 1 {
		before, now := level.Moves[n-2], level.Moves[n-1]
		if before.Kind == now.Kind && before.Grams == now.Grams && before.Note == now.Note && slices.Equal(before.Lines, now.Lines) {
			if err := twice(fmt.Sprintf("stock %q has such a %s", m.Stock, m.Kind), before.Stamp, now.Stamp); err != nil {
				return pail{}, err
			}
		}
	}
	return pailOf(ctx, a, level)
}

// stock is the card of the stock and the recipe to tint it to.
func (r TintStockRequest) stock(ctx context.Context, a *archive.Bench) (archive.Stock, archive.Recipe, error) {
	stocks, err := a.Stocks(ctx)
	if err != nil {
		return archive.Stock{}, archive.Recipe{}, err
	}
	known := slices.IndexFunc(stocks, func(s archive.Stock) bool { return s.Name == r.Stock })
	switch {
	case r.Recipe == "" && (known < 0 || stocks[known].Recipe == ""):
		return archive.Stock{}, archive.Recipe{}, missing("stock "+r.Stock, "recipe", "say which recipe to tint to", "R1")
	case r.Recipe == "":
		recipe, err := a.RecipeRef(ctx, stocks[known].Recipe)
		return stocks[known], recipe, err
	}
	recipe, err := a.Recipe(ctx, r.Recipe)
	if known >= 0 && stocks[known].Pigment != "" {
		return archive.Stock{}, recipe, invalid("stock", "stock %q is a pre-dilution of %s; give the pail another name", r.Stock, stocks[known].Pigment)
	}
	card := archive.Stock{Name: r.Stock, Resin: recipe.Resin, Recipe: recipe.Ref, Note: r.Note}
	if known >= 0 {
		card.Note = stocks[known].Note
	}
	return card, recipe, err
}

// lines are what to weigh, with what the scale showed instead.
func (r TintStockRequest) lines(recipe archive.Recipe, resin archive.Resin, jars []batch.Jar) ([]batch.Amount, []batch.Predilution, error) {
	lines, used, err := batch.Tint(phrs(recipe.Loadings), batchResin(resin), batch.Scale{Step: batch.Grams(float64(r.ScaleGrams))}, batch.Grams(float64(r.Grams)), jars...)
	if err != nil {
		return nil, nil, err
	}
	for _, item := range slices.Sorted(maps.Keys(r.Weighed)) {
		named := item
		if u := slices.IndexFunc(used, func(p batch.Predilution) bool { return p.Pigment == item }); u >= 0 {
			named = used[u].Item
		}
		i := slices.IndexFunc(lines, func(a batch.Amount) bool { return a.Item == named })
		if i < 0 {
			return nil, nil, fmt.Errorf("%s is no line of the tint; its lines are %s", item, itemsOf(lines))
		}
		lines[i].Grams = r.Weighed[item]
	}
	return lines, used, nil
}

// overMost says where loadings are more than the card of a pigment or of the
// resin gives as the most; empty if nowhere.
func overMost[V ~float64](ctx context.Context, a *archive.Bench, resin archive.Resin, loadings map[string]V) (string, error) {
	sum := 0.0
	for _, code := range slices.Sorted(maps.Keys(loadings)) {
		p, err := a.Pigment(ctx, code)
		if err != nil {
			return "", err
		}
		phr := float64(loadings[code])
		if sum += phr; p.MaxPHR > 0 && phr > beyondMost*p.MaxPHR {
			return fmt.Sprintf("%.4g phr of %s is more than its card allows (%s)", phr, code, figure.Short(p.MaxPHR)), nil
		}
	}
	if resin.MaxPHR > 0 && sum > beyondMost*resin.MaxPHR {
		return fmt.Sprintf("%.4g phr of paste is more than %s bears (%s)", sum, resin.Code, figure.Short(resin.MaxPHR)), nil
	}
	return "", nil
}
