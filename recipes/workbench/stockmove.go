package workbench

import (
	"context"
	"fmt"

	"masstone/calibrate"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
)

// A DrawStockRequest draws a shot from a tinted stock.
type DrawStockRequest struct {
	Stock string
	Grams calibrate.Grams // of the tinted side
	ScaleChoice
	ScaleGrams calibrate.Grams // step of the scale; that of the scale in use if 0
	Pour       bool            // record the pour too
	On         string          // day it was poured, 2026-03-31; today if empty
	Note       string
	Again      bool // meant, though the same was recorded a moment ago
}

// A DrawnStock is a stock after a shot was drawn, and the shot.
type DrawnStock struct {
	Stock
	Drawn figure.Number `json:"drawn" doc:"g of the tinted side"`
	Side  string        `json:"other_side"`
	Other figure.Number `json:"other_grams" doc:"to mix it with"`
	Mixed figure.Number `json:"mixed_grams"`
	Pour  string        `json:"pour,omitempty" doc:"if recorded"`
	Batch string        `json:"batch,omitempty"`

	Remarks Remarks `json:"-"`

	ScaleGrams calibrate.Grams `json:"-"` // step of the scale
}

// DrawStock records a shot drawn from a stock, and says how much of the other
// side goes with it.
func DrawStock(ctx context.Context, b *Bench, r DrawStockRequest) (DrawnStock, error) {
	var v DrawnStock
	switch {
	case r.Grams == 0:
		return v, missing("stock "+r.Stock, "grams", "give what was drawn", "120g")
	case r.On != "" && !r.Pour:
		return v, invalid("date", "stock %s: %s goes with %s", r.Stock, remedy.Input("date"), remedy.Input("pour"))
	}
	if err := weighable(weight{"grams", r.Grams}, weight{"scale", r.ScaleGrams}); err != nil {
		return v, err
	}
	err := together(ctx, b, &v, func(a *archive.Bench) error {
		r := r
		if err := r.fill(ctx, a, usualStep, &r.ScaleGrams, nil, nil); err != nil {
			return err
		}
		v.ScaleGrams = r.ScaleGrams
		p, err := pailNamed(ctx, a, r.Stock)
		if err != nil {
			return err
		}
		if r.Pour && p.recipe == nil {
			return fmt.Errorf("stock %q was tinted to no recipe, so a pour cannot be recorded; leave %s out", r.Stock, remedy.Input("pour"))
		}
		if p.Stock.Pigment != "" && p.Grams == 0 {
			return fmt.Errorf("jar %q is empty on record; stir another, or record a count with %s if there is some left", r.Stock, remedy.Verb("stock count"))
		}
		drawn := batch.Grams(float64(r.Grams))
		shot, err := p.contents().Shot(drawn, p.side(), mixOf(p.resin), batch.Grams(float64(r.ScaleGrams)))
		if err != nil {
			return fmt.Errorf("stock %q: %w", r.Stock, err)
		}
		move := archive.StockMove{Stock: r.Stock, Kind: archive.Draw, Grams: float64(r.Grams), Note: r.Note}
		if r.Pour {
			k, pour, err := keepShot(ctx, a, p, shot, r)
			if err != nil {
				return err
			}
			move.Pour, v.Pour, v.Batch = pour.Ref, pour.ID(), k.ID()
		}
		if p, err = moved(ctx, a, move, r.Again); err != nil {
			return err
		}
		other := shot[len(shot)-1]
		v.Drawn, v.Side, v.Other, v.Mixed = figure.Number(r.Grams), other.Item, figure.Number(other.Grams.Grams()), figure.Number(drawn.Plus(other.Grams).Grams())
		v.Stock, err = p.view(ctx, a)
		return err
	})
	b.warnAhead(r.On, &v.Remarks)
	return v, err
}

// keepShot stores a shot as a batch of the stock's recipe and its pour. What the
// stock contained when it was drawn from stands in the lines. Weighing into a
// pail is taken as exact.
func keepShot(ctx context.Context, a *archive.Bench, p pail, shot []batch.Amount, r DrawStockRequest) (archive.Batch, archive.Pour, error) {
	lots, err := lotsInUse(ctx, a, p.resin.Code, codesOf(*p.recipe))
	if err != nil {
		return archive.Batch{}, archive.Pour{}, err
	}
	total := batch.Mass{}
	for _, s := range shot {
		total = total.Plus(s.Grams)
	}
	k, err := a.AddBatch(ctx, archive.Batch{Recipe: p.recipe.Ref, Stock: p.Stock.Name, TotalGrams: total.Grams(), Lines: linesOf(shot), Lots: lots})
	if err != nil {
		return k, archive.Pour{}, err
	}
	pour, err := a.AddPour(ctx, archive.Pour{Batch: k.Ref, PouredOn: r.On, Note: r.Note})
	return k, pour, err
}

// A CorrectStockRequest records what was added to a tinted stock.
type CorrectStockRequest struct {
	Stock  string
	Added  []batch.Amount // pastes by code, or the side that is in the pail
	Recipe string         // that the stock holds with it, if another
	Note   string
	Again  bool // meant, though the same was recorded a moment ago
}

// A CorrectedStock is a stock with what was added.
type CorrectedStock struct {
	Stock
	Remarks Remarks `json:"-"`
}

// CorrectStock records additions to a stock, and which recipe it holds with
// them. They are in the pail: what it does not bear is warned of.
func CorrectStock(ctx context.Context, b *Bench, r CorrectStockRequest) (CorrectedStock, error) {
	var v CorrectedStock
	err := together(ctx, b, &v, func(a *archive.Bench) error {
		p, err := pailNamed(ctx, a, r.Stock)
		if err != nil {
			return err
		}
		for _, added := range r.Added {
			if err := p.takes(ctx, a, added.Item); err != nil {
				return err
			}
			if added.Grams.Grams() == 0 {
				return invalid("added", "stock %s: 0 g of %s is no addition; leave it out", r.Stock, added.Item)
			}
			if g := added.Grams.Grams(); g > p.Grams {
				v.Remarks.warn("stock %s: %s g of %s went into %s g; if the figure is wrong, begin another stock for what is in the pail", r.Stock, figure.Short(g), added.Item, figure.Short(p.Grams))
			}
		}
		if p, err = moved(ctx, a, archive.StockMove{Stock: r.Stock, Kind: archive.Correct, Lines: linesOf(r.Added), Note: r.Note}, r.Again); err != nil {
			return err
		}
		if r.Recipe != "" {
			if err := p.holds(ctx, a, r.Recipe); err != nil {
				return err
			}
		}
		if p.Stock.Pigment == "" {
			over, err := overMost(ctx, a, p.resin, p.loadings())
			if err != nil {
				return err
			}
			if over != "" {
				v.Remarks.warn("stock %s: %s", r.Stock, over)
			}
		}
		v.Stock, err = p.view(ctx, a)
		return err
	})
	return v, err
}

// takes refuses what does not go into the pail.
func (p pail) takes(ctx context.Context, a *archive.Bench, item string) error {
	switch item {
	case p.resin.PigmentSide:
		return nil
	case string(batch.SideA), string(batch.SideB):
		return fmt.Errorf("stock %q is of side %s; side %s goes in only when a shot is mixed", p.Stock.Name, p.resin.PigmentSide, item)
	}
	if of := p.Stock.Pigment; of != "" && item != of {
		return p.noJar("only more of it goes in")
	}
	_, err := a.Pigment(ctx, item)
	return err
}

// holds says that the pail holds another recipe from now on.
func (p *pail) holds(ctx context.Context, a *archive.Bench, id string) error {
	r, err := a.Recipe(ctx, id)
	if err != nil {
		return err
	}
	if r.Resin != p.resin.Code {
		return fmt.Errorf("stock %q is of resin %s, recipe %s of %s; name a recipe of %s", p.Stock.Name, p.resin.Code, r.ID(), r.Resin, p.resin.Code)
	}
	p.recipe, p.Stock.Recipe = &r, r.Ref
	_, err = a.PutStock(ctx, p.Stock, archive.Replace)
	return err
}

// A CountStockRequest records what a tinted stock weighs, without the pail.
type CountStockRequest struct {
	Stock string
	Grams *calibrate.Grams // left; 0 for an empty pail
	Note  string
}

// CountStock records what is left of a stock; its contents stay as mixed.
func CountStock(ctx context.Context, b *Bench, r CountStockRequest) (Stock, error) {
	var v Stock
	if r.Grams == nil {
		return v, missing("stock "+r.Stock, "grams", "give what is left", "3.2kg")
	}
	if err := weighable(weight{"grams", *r.Grams}); err != nil {
		return v, err
	}
	err := together(ctx, b, &v, func(a *archive.Bench) error {
		p, err := moved(ctx, a, archive.StockMove{Stock: r.Stock, Kind: archive.Count, Grams: float64(*r.Grams), Note: r.Note}, true) // counting twice counts once
		if err != nil {
			return err
		}
		v, err = p.view(ctx, a)
		return err
	})
	return v, err
}
