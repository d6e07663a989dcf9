package main

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"masstone/recipes/archive"
	"masstone/recipes/batch"
)

// batchResin is a resin's card for the batch package.
func batchResin(r archive.Resin) batch.Resin {
	return batch.Resin{Mix: mixOf(r), DensityA: batch.GramsPerML(r.DensityA), DensityB: batch.GramsPerML(r.DensityB),
		PotLife: r.PotLife, PigmentSide: batch.Side(r.PigmentSide), MaxPHR: batch.PHR(r.MaxPHR)}
}

// trimBatch is an error of the batch package as a flag's error says it.
func trimBatch(err error) string {
	return strings.TrimPrefix(strings.Replace(err.Error(), "poured ", "", 1), "batch: ")
}

type stockDrawOptions struct {
	stock, note, date string
	grams, scale      float64
	pour              bool
}

func newStockDrawCommand(env *Env) *cobra.Command {
	var o stockDrawOptions
	cmd := &cobra.Command{
		Use:   "draw NAME --grams G",
		Short: "Draw a shot from a tinted stock",
		Long: `Records a shot drawn from a tinted stock, and says how much of the other side
goes with it. --pour records the pour as well, so that the part can be read and
judged.

  masstone stock draw "grey pail" --grams 120 --pour

JSON keys: ` + stockKeys + `;
drawn (grams), other_side, other_grams, mixed_grams, and with --pour pour, batch.`,
		Args: needs("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.stock = args[0]
			return runStockDraw(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	numberVar(f, &o.grams, "grams", inGrams, 0, "tinted side drawn, such as 120g")
	numberVar(f, &o.scale, "scale", inGrams, 0.01, "step of the scale")
	f.BoolVar(&o.pour, "pour", false, "record the pour too")
	dayVar(f, &o.date, "date", "day it was poured, 2026-03-31 (else today)")
	f.StringVar(&o.note, "note", "", "remark kept with it")
	return cmd
}

func runStockDraw(ctx context.Context, env *Env, o stockDrawOptions) error {
	if o.grams == 0 {
		return misusef("stock %s: --grams is missing; give what was drawn, such as --grams 120g", o.stock)
	}
	if o.date != "" && !o.pour {
		return misusef("stock %s: --date goes with --pour", o.stock)
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		p, err := pailNamed(ctx, b, o.stock)
		if err != nil {
			return err
		}
		if o.pour && p.recipe == nil {
			return fmt.Errorf("stock %q was tinted to no recipe, so a pour cannot be recorded; leave --pour out", o.stock)
		}
		shot, err := heldInStock(p.StockLevel, p.resin).Shot(batch.Grams(o.grams), batch.Side(p.resin.PigmentSide), mixOf(p.resin), batch.Grams(o.scale))
		if err != nil {
			return fmt.Errorf("stock %q: %w", o.stock, err)
		}
		other := shot[len(shot)-1]
		var pour archive.Pour
		var k archive.Batch
		err = b.Together(ctx, func(b *archive.Bench) error {
			move := archive.StockMove{Stock: o.stock, Kind: archive.Draw, Grams: o.grams, Note: o.note}
			if o.pour {
				if k, pour, err = keepShot(ctx, b, p, shot, o); err != nil {
					return err
				}
				move.Pour = pour.Ref
			}
			p.StockLevel, err = b.MoveStock(ctx, move)
			return err
		})
		if err != nil {
			return err
		}
		env.warnAhead(o.date)
		if env.JSON {
			v, err := p.view(ctx, b)
			if err != nil {
				return err
			}
			out := struct {
				stockView
				Drawn  fig    `json:"drawn"`
				Side   string `json:"other_side"`
				Other  fig    `json:"other_grams"`
				Mixed  fig    `json:"mixed_grams"`
				Pour   string `json:"pour,omitempty"`
				InCase string `json:"batch,omitempty"`
			}{v, fig(o.grams), other.Item, fig(other.Grams.Grams()), fig(batch.Grams(o.grams).Plus(other.Grams).Grams()), "", ""}
			if o.pour {
				out.Pour, out.InCase = pour.ID(), k.ID()
			}
			return env.emit(out)
		}
		return p.told(ctx, env, b, func() {
			env.print("%s g of %s, with %s g of side %s: %s g mixed", short(o.grams), tidy(o.stock), other.Grams.At(batch.Grams(o.scale)), other.Item,
				batch.Grams(o.grams).Plus(other.Grams).At(batch.Grams(o.scale)))
			printCaution(env)
			if o.pour {
				env.print("pour %s; when it has cured: masstone pour read %s --lab L,a,b --illuminant D65", pour.ID(), pour.ID())
			}
		})
	})
}

// keepShot stores a shot as a batch of the stock's recipe and its pour. What a
// stock held when it was drawn from stands in the lines. Weighing into a pail
// is taken as exact.
func keepShot(ctx context.Context, b *archive.Bench, p pail, shot []batch.Amount, o stockDrawOptions) (archive.Batch, archive.Pour, error) {
	lots, err := lotsInUse(ctx, b, p.resin.Code, codesOf(*p.recipe))
	if err != nil {
		return archive.Batch{}, archive.Pour{}, err
	}
	total := batch.Mass{}
	for _, a := range shot {
		total = total.Plus(a.Grams)
	}
	k, err := b.AddBatch(ctx, archive.Batch{Recipe: p.recipe.Ref, Stock: p.Stock.Name, TotalGrams: total.Grams(), Lines: linesOf(shot), Lots: lots})
	if err != nil {
		return k, archive.Pour{}, err
	}
	pour, err := b.AddPour(ctx, archive.Pour{Batch: k.Ref, PouredOn: o.date, Note: o.note})
	return k, pour, err
}

type stockCorrectOptions struct {
	stock, recipe, note string
	amounts             []string
}

func newStockCorrectCommand(env *Env) *cobra.Command {
	var o stockCorrectOptions
	cmd := &cobra.Command{
		Use:   "correct NAME ITEM=GRAMS ...",
		Short: "Record what was added to a tinted stock",
		Long: `Records additions to a tinted stock: pastes by code, or more of the side by A or
B. "masstone correct POUR --stock NAME" says what to add, and which recipe the
stock holds then: shots drawn from now on are of it.

  masstone stock correct "grey pail" RD=0.34 WH=12.1 B=150 --recipe R7

JSON keys: ` + stockKeys + `.`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) < 2 {
				return misusef("%s: what was added? use %s", cmd.CommandPath(), cmd.UseLine())
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			o.stock, o.amounts = args[0], args[1:]
			return runStockCorrect(cmd.Context(), env, o)
		},
	}
	cmd.Flags().StringVar(&o.recipe, "recipe", "", "`RECIPE` that the stock holds with it, such as R7")
	cmd.Flags().StringVar(&o.note, "note", "", "remark kept with it")
	return cmd
}

func runStockCorrect(ctx context.Context, env *Env, o stockCorrectOptions) error {
	var texts []string
	for _, a := range o.amounts {
		texts = append(texts, strings.Split(a, ",")...)
	}
	added, err := batch.ParsePoured(texts)
	if err != nil {
		return misusef("stock correct: %s", trimBatch(err))
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		p, err := pailNamed(ctx, b, o.stock)
		if err != nil {
			return err
		}
		move := archive.StockMove{Stock: o.stock, Kind: archive.Correct, Note: o.note}
		card := p.Stock
		if o.recipe != "" {
			r, err := b.Recipe(ctx, o.recipe)
			if err != nil {
				return err
			}
			if r.Resin != p.resin.Code {
				return fmt.Errorf("stock %q is of resin %s, recipe %s of %s; name a recipe of %s", o.stock, p.resin.Code, r.ID(), r.Resin, p.resin.Code)
			}
			card.Recipe, p.recipe = r.Ref, &r
		}
		for _, text := range texts { // in the order given
			item, _, _ := strings.Cut(text, "=")
			item = strings.TrimSpace(item)
			if item != p.resin.PigmentSide {
				if item == "A" || item == "B" {
					return fmt.Errorf("stock %q is of side %s; side %s goes in only when a shot is mixed", o.stock, p.resin.PigmentSide, item)
				}
				if _, err := b.Pigment(ctx, item); err != nil {
					return err
				}
			}
			move.Lines = append(move.Lines, archive.Line{Item: item, Grams: added[item].Grams()})
		}
		err = b.Together(ctx, func(b *archive.Bench) error {
			if p.StockLevel, err = b.MoveStock(ctx, move); err != nil || o.recipe == "" {
				return err
			}
			_, err := b.PutStock(ctx, card, archive.Replace)
			return err
		})
		if err != nil {
			return err
		}
		return p.told(ctx, env, b, func() {
			env.print("added to %s: %s", tidy(o.stock), amountsText(amountsOf(move.Lines)))
			printCaution(env)
		})
	})
}

func newStockCountCommand(env *Env) *cobra.Command {
	var grams float64
	var note string
	cmd := &cobra.Command{
		Use:   "count NAME --grams G",
		Short: "Record what a tinted stock weighs",
		Long: `Records what is really left of a tinted stock, as weighed; what it holds stays as
mixed.

JSON keys: ` + stockKeys + `.`,
		Args: needs("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if !cmd.Flags().Changed("grams") {
				return misusef("stock %s: --grams is missing; give what is left, such as --grams 3.2kg", args[0])
			}
			return runStockCount(cmd.Context(), env, args[0], grams, note)
		},
	}
	left := inGrams
	left.reach = true
	numberVar(cmd.Flags(), &grams, "grams", left, 0, "what is left, without the pail")
	cmd.Flags().StringVar(&note, "note", "", "remark kept with it")
	return cmd
}

func runStockCount(ctx context.Context, env *Env, name string, grams float64, note string) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		level, err := b.MoveStock(ctx, archive.StockMove{Stock: name, Kind: archive.Count, Grams: grams, Note: note})
		if err != nil {
			return err
		}
		p, err := pailOf(ctx, b, level)
		if err != nil {
			return err
		}
		return p.told(ctx, env, b, func() { env.print("counted: %s g", short(grams)) })
	})
}
