package main

import (
	"context"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"masstone/recipes/archive"
	"masstone/recipes/batch"
)

func newStockCommand(env *Env) *cobra.Command {
	return newFamily("stock", "Pails of the tinted side: tint, draw, correct, count, list, show", newStockTintCommand(env), newStockDrawCommand(env),
		newStockCorrectCommand(env), newStockCountCommand(env), newStockListCommand(env), newStockShowCommand(env))
}

// stockView is a stock in JSON.
type stockView struct {
	Stock    string          `json:"stock"`
	Resin    string          `json:"resin"`
	Recipe   string          `json:"recipe,omitempty"`
	Grams    fig             `json:"grams"`
	Contents []amountView    `json:"contents"`
	Loadings map[string]fig  `json:"loadings_phr"`
	Note     string          `json:"note,omitempty"`
	Moves    []stockMoveView `json:"moves"`
}

type stockMoveView struct {
	At    string       `json:"at"`
	Who   string       `json:"who"`
	Kind  string       `json:"kind"`
	Lines []amountView `json:"lines,omitempty"`
	Grams *fig         `json:"grams,omitempty"`
	Pour  string       `json:"pour,omitempty"`
	Note  string       `json:"note,omitempty"`
}

const stockKeys = `stock, resin, recipe, grams (left), contents (a list of item,
grams), loadings_phr (once mixed), note, moves (a list of at, who, kind (tint,
draw, correct, count), lines (item, grams), grams, pour, note)`

// heldInStock is what a stock holds, with the other side it will be mixed with.
func heldInStock(l archive.StockLevel, resin archive.Resin) batch.Contents {
	side := batch.Side(resin.PigmentSide)
	return batch.ContentsOf(amountsOf(l.Items()), side, nil).Complete(side, mixOf(resin))
}

// A pail is a stock with what it was made of.
type pail struct {
	archive.StockLevel
	resin  archive.Resin
	recipe *archive.Recipe
}

func pailNamed(ctx context.Context, b *archive.Bench, name string) (pail, error) {
	level, err := b.StockLevel(ctx, name)
	if err != nil {
		return pail{}, err
	}
	return pailOf(ctx, b, level)
}

func pailOf(ctx context.Context, b *archive.Bench, level archive.StockLevel) (pail, error) {
	p := pail{StockLevel: level}
	var err error
	if p.resin, err = b.Resin(ctx, level.Stock.Resin); err != nil {
		return p, err
	}
	if level.Stock.Recipe != "" {
		r, err := b.RecipeRef(ctx, level.Stock.Recipe)
		if err != nil {
			return p, err
		}
		p.recipe = &r
	}
	return p, nil
}

func (p pail) loadings() map[string]batch.PHR {
	phr, err := heldInStock(p.StockLevel, p.resin).Loadings()
	if err != nil {
		return map[string]batch.PHR{} // nothing in it
	}
	return phr
}

func (p pail) view(ctx context.Context, b *archive.Bench) (stockView, error) {
	v := stockView{Stock: p.Stock.Name, Resin: p.Stock.Resin, Grams: fig(p.Grams), Contents: viewAmounts(p.Items()), Loadings: figures(p.loadings()), Note: p.Stock.Note, Moves: []stockMoveView{}}
	if p.recipe != nil {
		v.Recipe = p.recipe.ID()
	}
	for _, m := range p.Moves {
		move := stockMoveView{At: day(m.At), Who: m.Who, Kind: m.Kind, Lines: viewAmounts(m.Lines), Grams: optional(m.Grams), Note: m.Note}
		if m.Pour != "" {
			pour, err := b.PourRef(ctx, m.Pour)
			if err != nil {
				return v, err
			}
			move.Pour = pour.ID()
		}
		v.Moves = append(v.Moves, move)
	}
	return v, nil
}

// told prints or emits a pail after a movement.
func (p pail) told(ctx context.Context, env *Env, b *archive.Bench, say func()) error {
	if env.JSON {
		v, err := p.view(ctx, b)
		if err != nil {
			return err
		}
		return env.emit(v)
	}
	say()
	if p.Grams == 0 {
		env.print("stock %s is empty", tidy(p.Stock.Name))
		return nil
	}
	env.print("stock %s holds %s g: %s phr once mixed", tidy(p.Stock.Name), short(p.Grams), recipeText(p.loadings(), " ", ", "))
	return nil
}

func printAmounts(env *Env, lines []batch.Amount, step batch.Mass) {
	t := newTable("", "item", ">grams")
	for _, l := range lines {
		t.add("[ ]", l.Item, l.Grams.At(step))
	}
	t.print(env.Stdout)
}

type stockTintOptions struct {
	stock, recipe, note string
	grams, scale        float64
	weighed             []string
}

func newStockTintCommand(env *Env) *cobra.Command {
	var o stockTintOptions
	cmd := &cobra.Command{
		Use:   "tint NAME --recipe RECIPE --grams G",
		Short: "Tint a pail of the pigmented side to a recipe",
		Long: `Gives what to weigh so that a pail of the side that takes the pigments holds a
recipe, and records it as done. Shots are drawn from the pail by mass and mixed
with the other side. Tinting a known stock again adds to it.

  masstone stock tint "grey pail" --recipe R1 --grams 5kg --scale 0.1

--weighed says what the scale really showed for a line.

JSON keys: ` + stockKeys + `.`,
		Args: needs("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.stock = args[0]
			return runStockTint(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.recipe, "recipe", "", "`RECIPE` to tint to, such as R1 (else the stock's)")
	numberVar(f, &o.grams, "grams", inGrams, 0, "tinted side to make, pastes included, such as 5kg")
	numberVar(f, &o.scale, "scale", inGrams, 0.1, "step of the scale")
	f.StringArrayVar(&o.weighed, "weighed", nil, "what the scale showed for a line, `ITEM=GRAMS` (may be repeated)")
	f.StringVar(&o.note, "note", "", "remark kept with it")
	return cmd
}

func runStockTint(ctx context.Context, env *Env, o stockTintOptions) error {
	if o.grams == 0 {
		return misusef("stock %s: --grams is missing; give how much to tint, such as --grams 5kg", o.stock)
	}
	shown, err := batch.ParsePoured(o.weighed)
	if err != nil {
		return misusef("--weighed: %s", trimBatch(err))
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		card, r, err := stockToTint(ctx, b, o)
		if err != nil {
			return err
		}
		resin, err := b.Resin(ctx, r.Resin)
		if err != nil {
			return err
		}
		lines, err := batch.Tint(phrs(r.Loadings), batchResin(resin), batch.Scale{Step: batch.Grams(o.scale)}, batch.Grams(o.grams))
		if err != nil {
			return err
		}
		for item, g := range shown {
			i := slices.IndexFunc(lines, func(a batch.Amount) bool { return a.Item == item })
			if i < 0 {
				return fmt.Errorf("%s is no line of the tint; its lines are %s", item, itemsOf(lines))
			}
			lines[i].Grams = g
		}
		var level archive.StockLevel
		err = b.Together(ctx, func(b *archive.Bench) error {
			if _, err := b.PutStock(ctx, card, archive.Refuse); err != nil {
				return advise(err, "a stock holds one recipe; give another name")
			}
			level, err = b.MoveStock(ctx, archive.StockMove{Stock: card.Name, Kind: archive.Tint, Lines: linesOf(lines), Note: o.note})
			return err
		})
		if err != nil {
			return err
		}
		p, err := pailOf(ctx, b, level)
		if err != nil {
			return err
		}
		return p.told(ctx, env, b, func() {
			env.print("%s g of side %s of %s, tinted to recipe %s:", short(o.grams), resin.PigmentSide, resin.Code, r.ID())
			printAmounts(env, lines, batch.Grams(o.scale))
			printCaution(env)
		})
	})
}

// stockToTint is the card of the stock and the recipe to tint it to.
func stockToTint(ctx context.Context, b *archive.Bench, o stockTintOptions) (archive.Stock, archive.Recipe, error) {
	stocks, err := b.Stocks(ctx)
	if err != nil {
		return archive.Stock{}, archive.Recipe{}, err
	}
	known := slices.IndexFunc(stocks, func(s archive.Stock) bool { return s.Name == o.stock })
	switch {
	case o.recipe == "" && known < 0:
		return archive.Stock{}, archive.Recipe{}, misusef("stock %s: --recipe is missing; say which recipe to tint to, such as --recipe R1", o.stock)
	case o.recipe == "" && stocks[known].Recipe != "":
		r, err := b.RecipeRef(ctx, stocks[known].Recipe)
		return stocks[known], r, err
	}
	r, err := b.Recipe(ctx, o.recipe)
	card := archive.Stock{Name: o.stock, Resin: r.Resin, Recipe: r.Ref, Note: o.note}
	if known >= 0 {
		card.Note = stocks[known].Note
	}
	return card, r, err
}

func itemsOf(lines []batch.Amount) string {
	var items []string
	for _, l := range lines {
		items = append(items, l.Item)
	}
	return listed(items)
}

func newStockListCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "list",
		Short: "List the tinted stocks and what is left of each",
		Long: `Lists the tinted stocks.

JSON keys: stocks, a list of
` + stockKeys + `.`,
		Args: needs(),
		RunE: func(cmd *cobra.Command, args []string) error { return runStockList(cmd.Context(), env) },
	}
}

func runStockList(ctx context.Context, env *Env) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		stocks, err := b.Stocks(ctx)
		if err != nil {
			return err
		}
		views := make([]stockView, len(stocks))
		t := newTable("stock", "resin", "recipe", ">grams left", "loadings once mixed (phr)")
		for i, s := range stocks {
			p, err := pailNamed(ctx, b, s.Name)
			if err != nil {
				return err
			}
			if views[i], err = p.view(ctx, b); err != nil {
				return err
			}
			loadings := "-"
			if p.Grams > 0 {
				loadings = recipeText(p.loadings(), " ", ", ")
			}
			t.add(s.Name, s.Resin, views[i].Recipe, short(p.Grams), loadings)
		}
		switch {
		case env.JSON:
			return env.emit(struct {
				Stocks []stockView `json:"stocks"`
			}{views})
		case len(stocks) == 0:
			env.say("no tinted stock yet; masstone stock tint NAME --recipe R1 --grams 5kg")
			return nil
		}
		t.print(env.Stdout)
		return nil
	})
}

func newStockShowCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "show NAME",
		Short: "Show a stock: what it holds and every movement",
		Long: `Shows a tinted stock.

JSON keys: ` + stockKeys + `.`,
		Args: needs("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error { return runStockShow(cmd.Context(), env, args[0]) },
	}
}

func runStockShow(ctx context.Context, env *Env, name string) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		p, err := pailNamed(ctx, b, name)
		if err != nil {
			return err
		}
		v, err := p.view(ctx, b)
		if err != nil {
			return err
		}
		return p.told(ctx, env, b, func() {
			t := newTable("at", "who", "what", "grams", "pour", "note")
			for _, m := range v.Moves {
				grams := ""
				if m.Grams != nil {
					grams = short(float64(*m.Grams))
				}
				for i, l := range m.Lines {
					if i > 0 {
						grams += ", "
					}
					grams += l.Item + " " + short(float64(l.Grams))
				}
				t.add(m.At[:10], m.Who, m.Kind, grams, m.Pour, m.Note)
			}
			t.print(env.Stdout)
		})
	})
}
