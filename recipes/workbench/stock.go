package workbench

import (
	"context"

	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
)

// A Stock is a pail of the tinted side of a resin, with what moved in and out.
type Stock struct {
	Stock    string                   `json:"stock"`
	Resin    string                   `json:"resin"`
	Recipe   string                   `json:"recipe,omitempty"`
	Grams    figure.Number            `json:"grams" doc:"left"`
	Contents []Amount                 `json:"contents"`
	Loadings map[string]figure.Number `json:"loadings_phr" doc:"once mixed"`
	Note     string                   `json:"note,omitempty"`
	Jar      *Jar                     `json:"predilution,omitempty" doc:"where it is one"`
	Moves    []StockMove              `json:"moves"`
}

// A StockMove is what went into a pail, was drawn from it, or was counted.
type StockMove struct {
	At    string         `json:"at"`
	Who   string         `json:"who"`
	Kind  string         `json:"kind" doc:"tint, draw, correct, count"`
	Lines []Amount       `json:"lines,omitempty" doc:"that went in"`
	Grams *figure.Number `json:"grams,omitempty" doc:"drawn, or counted"`
	Pour  string         `json:"pour,omitempty"`
	Note  string         `json:"note,omitempty"`
}

// A StockList is the tinted stocks by name.
type StockList struct {
	Stocks []Stock `json:"stocks"`
}

// Stocks lists the tinted stocks.
func Stocks(ctx context.Context, b *Bench) (StockList, error) {
	v := StockList{Stocks: []Stock{}}
	stocks, err := b.archive.Stocks(ctx)
	if err != nil {
		return v, err
	}
	for _, s := range stocks {
		one, err := ShowStock(ctx, b, s.Name)
		if err != nil {
			return v, err
		}
		v.Stocks = append(v.Stocks, one)
	}
	return v, nil
}

// ShowStock shows what a stock contains, and every movement of it.
func ShowStock(ctx context.Context, b *Bench, name string) (Stock, error) {
	p, err := pailNamed(ctx, b.archive, name)
	if err != nil {
		return Stock{}, err
	}
	return p.view(ctx, b.archive)
}

// A pail is a stock with what it was made of.
type pail struct {
	archive.StockLevel
	resin  archive.Resin
	recipe *archive.Recipe
}

func pailNamed(ctx context.Context, a *archive.Bench, name string) (pail, error) {
	level, err := a.StockLevel(ctx, name)
	if err != nil {
		return pail{}, err
	}
	return pailOf(ctx, a, level)
}

func pailOf(ctx context.Context, a *archive.Bench, level archive.StockLevel) (pail, error) {
	p := pail{StockLevel: level}
	var err error
	if p.resin, err = a.Resin(ctx, level.Stock.Resin); err != nil || level.Stock.Recipe == "" {
		return p, err
	}
	r, err := a.RecipeRef(ctx, level.Stock.Recipe)
	p.recipe = &r
	return p, err
}

// side is the side of the resin that is in the pail.
func (p pail) side() batch.Side { return batch.Side(p.resin.PigmentSide) }

// contents are those of the pail with the other side they will be mixed with.
func (p pail) contents() batch.Contents {
	return batch.ContentsOf(amountsOf(p.Items()), p.side(), nil).Complete(p.side(), mixOf(p.resin))
}

// loadings are those of the pail once mixed, none where nothing is in it.
func (p pail) loadings() map[string]batch.PHR {
	phr, err := p.contents().Loadings()
	if err != nil {
		return map[string]batch.PHR{}
	}
	return phr
}

func (p pail) view(ctx context.Context, a *archive.Bench) (Stock, error) {
	v := Stock{Stock: p.Stock.Name, Resin: p.Stock.Resin, Grams: figure.Number(p.Grams), Contents: amounts(p.Items()),
		Loadings: figure.Map(p.loadings()), Note: p.Stock.Note, Moves: []StockMove{}}
	if p.recipe != nil {
		v.Recipe = p.recipe.ID()
	}
	if p.Stock.Pigment != "" {
		k := p.asJar()
		v.Jar, v.Loadings = &k, map[string]figure.Number{}
	}
	for _, m := range p.Moves {
		move := StockMove{At: figure.At(m.At), Who: m.Who, Kind: m.Kind, Lines: amounts(m.Lines), Grams: figure.Known(m.Grams), Note: m.Note}
		if m.Pour != "" {
			pour, err := a.PourRef(ctx, m.Pour)
			if err != nil {
				return v, err
			}
			move.Pour = pour.ID()
		}
		v.Moves = append(v.Moves, move)
	}
	return v, nil
}
