package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"masstone/calibrate"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/papers"
)

type batchOptions struct {
	recipe                      string
	grams, cavity, waste, grow  float64
	shots                       int
	scale, minWeigh, capacity   float64
	tared                       bool
	maxCup, container, headroom float64
	noVacuum, neat, smallest    bool
	pourRate, margin            float64
	drops                       map[string]float64
	dropScatter                 float64
	poured                      []string
	paper                       paperFlags
}

func newBatchCommand(env *Env) *cobra.Command {
	var o batchOptions
	cmd := &cobra.Command{
		Use:   "batch RECIPE (--grams G | --cavity-ml V --shots N --waste W)",
		Short: "Make a recipe up for an amount: the sheet to weigh from",
		Long: `Makes a recipe up for an amount and gives the sheet to weigh from: each line in
grams on the scale's steps, in the order of weighing, with the running sum (the
cup stays on the scale), cups by size and pot life, what the scale costs in
colour, pre-dilutions where a line is too small to weigh, and the cautions.

The lines are not just rounded: of what the scale can show, the combination
expected to land nearest the target is taken.

--poured says what the scale really showed for lines already in the cup; the
answer is how to go on, adding only.

  masstone batch R1 --grams 250
  masstone batch R1 --cavity-ml 18.5 --shots 12 --waste 10%
  masstone batch R1 --grams 250 --poured RD=1.32

The sheet is stored as B1, B2, ...; the same sheet again keeps its name.

` + paperHelp + `

  masstone batch R1 --grams 250 --out sheet.pdf

JSON keys: batch (name), recipe, resin, target, client, lines (a list of item,
kind, pigment, grams, cumulative_grams, paste_grams, ideal_paste_grams, drops,
starts_pot_life), total_grams, ordered_grams, mixed_resin_grams, mix,
pigment_side, scale_grams, loadings_phr, weighed_phr, mixed_density, mixed_ml,
expected (ideal_dE00, rounded_dE00, sheet_dE00, rounding_costs_dE00,
gain_over_rounding_dE00, undiluted_dE00), predilutions (a list of pigment, item,
side, ratio, paste_grams, resin_grams, made_grams, use_grams, left_over_grams,
why), clock (pot_life_minutes, usable_minutes, weigh_minutes, mix_minutes,
degas_minutes), cups (a list of number, shots, pigmented_grams, other_grams,
total_grams, mixed_ml, container_ml, minutes, late), notes, cautions, smallest
(tolerance_dE00, neat and prediluted with found, total_grams, expected_dE00, why)
and, with --poured, rescue (over (a list of item, planned_grams, poured_grams),
planned_dE00, remedies (a list of way, lines (item, kind, planned_grams,
poured_grams, add_grams, add_drops, final_grams, cumulative_grams), total_grams,
extra_grams, extra_resin_grams, extra_paste_grams, weighed_phr, expected_dE00,
keeps_tolerance, cups, notes)).`,
		Args: needs("RECIPE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.recipe = args[0]
			return runBatch(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	o.addFlags(f)
	f.BoolVar(&o.smallest, "smallest", true, "say how small the batch may be made")
	f.StringArrayVar(&o.poured, "poured", nil, "what the scale showed for a line in the cup, `ITEM=GRAMS` (may be repeated)")
	o.paper.add(f, "the sheet")
	return cmd
}

// addFlags adds the flags that say how much is made and how it is weighed.
func (o *batchOptions) addFlags(f *pflag.FlagSet) {
	usual := batch.UsualHandling()
	numberVar(f, &o.grams, "grams", inGrams, 0, "whole batch, pastes included, such as 250g")
	numberVar(f, &o.cavity, "cavity-ml", inML, 0, "volume of one part, such as 18.5ml")
	f.IntVar(&o.shots, "shots", 0, "number of parts")
	f.Var(wasteFlag(&o.waste), "waste", "lost to cup, sprue and stick, such as 10%")
	numberVar(f, &o.grow, "grow", aShare, 0, "how much larger the batch may be made so that lines fall better on the scale, such as 2%")
	numberVar(f, &o.scale, "scale", inGrams, 0.01, "step of the scale")
	numberVar(f, &o.minWeigh, "min-weigh", inGrams, 0, "least line worth weighing (else ten steps)")
	numberVar(f, &o.capacity, "capacity", inGrams, 0, "most the scale carries")
	f.BoolVar(&o.tared, "tared", false, "the cup is zeroed before each line")
	numberVar(f, &o.maxCup, "max-cup", inGrams, 0, "largest cup to mix, such as 150g")
	numberVar(f, &o.container, "container", inML, 0, "brim volume of the cup at hand, such as 500ml")
	numberVar(f, &o.headroom, "headroom", aTimes, usual.Headroom, "container over mixed volume, for the vacuum")
	f.BoolVar(&o.noVacuum, "no-vacuum", false, "the cups are not degassed")
	numberVar(f, &o.pourRate, "pour-rate", inGrams, usual.PourRate, "grams poured a minute")
	numberVar(f, &o.margin, "pot-life-margin", aShare, usual.Margin, "share of the pot life left unused")
	f.BoolVar(&o.neat, "no-predilution", false, "weigh every paste as it is")
	f.Var(loadings[float64]{inGrams, &o.drops}, "drops", "pastes counted in drops, with the mass of one, such as BK=0.03g")
	numberVar(f, &o.dropScatter, "drop-scatter", aShare, 0.1, "scatter of one drop's mass, one standard deviation")
}

// batchView is a batch in JSON.
type batchView struct {
	Batch  string `json:"batch"`
	Recipe string `json:"recipe"`
	Resin  string `json:"resin"`
	Target string `json:"target,omitempty"`
	Client string `json:"client,omitempty"`
	batch.Sheet
	Smallest *batch.Sizes  `json:"smallest,omitempty"`
	Rescue   *batch.Rescue `json:"rescue,omitempty"`
}

func runBatch(ctx context.Context, env *Env, o batchOptions) error {
	order, err := o.order()
	if err != nil {
		return err
	}
	poured, err := batch.ParsePoured(o.poured)
	if err != nil {
		return misuse{errors.New("--poured: " + strings.TrimPrefix(err.Error(), "batch: "))}
	}
	if err := o.paper.check(env); err != nil {
		return err
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		r, err := b.Recipe(ctx, o.recipe)
		if err != nil {
			return err
		}
		resin, err := b.Resin(ctx, r.Resin)
		if err != nil {
			return err
		}
		request, err := o.request(ctx, b, r, resin, order)
		if err != nil {
			return err
		}
		sheet, err := batch.Plan(request)
		if err != nil {
			return err
		}
		v := batchView{Recipe: r.ID(), Resin: r.Resin, Target: r.Target, Client: r.Client, Sheet: sheet}
		if o.smallest && request.Outcome != nil && request.Tolerance > 0 {
			p := env.progress()
			sizes, err := batch.Smallest(watched(request, p))
			p.end()
			if err != nil {
				return err
			}
			v.Smallest = &sizes
		}
		if len(poured) > 0 {
			rescue, err := batch.Overshoot(request, sheet, poured)
			if err != nil {
				return err
			}
			v.Rescue = &rescue
		}
		var paper papers.BatchSheet
		err = b.Together(ctx, func(b *archive.Bench) error { // a sheet that cannot be written is not stored
			if v.Batch, err = keepBatch(ctx, b, r, sheet); err != nil {
				return err
			}
			if paper, err = sheetPaper(ctx, b, v, r, o.orderText(), o.paper.heading(env)); err != nil || o.paper.out == "" {
				return err
			}
			return o.paper.write(env, o.paper.out, paper)
		})
		if err != nil {
			return err
		}
		switch {
		case env.JSON:
			return env.emit(v)
		case o.paper.out != "":
			env.print("batch %s: %s g of recipe %s, written to %s", v.Batch, v.Total.At(v.Step), v.Recipe, tidy(o.paper.out))
			return nil
		}
		return o.paper.put(env, paper)
	})
}

// order is how much to make.
func (o batchOptions) order() (batch.Order, error) {
	byVolume := o.cavity != 0 || o.shots != 0
	switch {
	case o.grams != 0 && (byVolume || o.waste != 0):
		return batch.Order{}, misusef("batch %s: give either --grams, or --cavity-ml, --shots and --waste", o.recipe)
	case o.grams == 0 && !byVolume:
		return batch.Order{}, misusef("batch %s: how much? give --grams G, or --cavity-ml V --shots N --waste W", o.recipe)
	case byVolume && o.cavity == 0:
		return batch.Order{}, misusef("batch %s: --cavity-ml is missing; give the volume of one part, such as 18.5ml", o.recipe)
	case byVolume && o.shots < 1:
		return batch.Order{}, misusef("batch %s: --shots is missing; give the number of parts, 1 or more", o.recipe)
	}
	return batch.Order{Total: batch.Grams(o.grams), Cavity: batch.Millilitres(o.cavity), Shots: o.shots, Waste: o.waste, Grow: o.grow}, nil
}

// orderText is the order as it was given.
func (o batchOptions) orderText() string {
	if o.grams != 0 {
		return short(o.grams) + " g"
	}
	text := fmt.Sprintf("%s of %s ml", plural(o.shots, "part"), short(o.cavity))
	if o.waste > 0 {
		text += fmt.Sprintf(" and %.4g %% waste", 100*o.waste)
	}
	return text
}

func (o batchOptions) request(ctx context.Context, b *archive.Bench, r archive.Recipe, resin archive.Resin, order batch.Order) (batch.Request, error) {
	handling := batch.UsualHandling()
	handling.MaxCup, handling.Container, handling.Headroom = batch.Grams(o.maxCup), batch.Millilitres(o.container), o.headroom
	handling.PourRate, handling.Margin = o.pourRate, o.margin
	if o.noVacuum {
		handling.Degas, handling.Headroom = 0, 0
	}
	request := batch.Request{
		Recipe: phrs(r.Loadings), Order: order, Handling: handling, Colorants: map[string]batch.Colorant{},
		Resin: batchResin(resin),
		Scale: batch.Scale{Step: batch.Grams(o.scale), Minimum: batch.Grams(o.minWeigh), Tared: o.tared, Capacity: batch.Grams(o.capacity)},
	}
	if o.neat {
		request.Dilution = batch.DiluteNever
	}
	for code := range r.Loadings {
		p, err := b.Pigment(ctx, code)
		if err != nil {
			return request, err
		}
		c := batch.Colorant{Density: batch.GramsPerML(p.Density)}
		if drop, counted := o.drops[code]; counted {
			c.Drop, c.Scatter = batch.Grams(drop), o.dropScatter
		}
		request.Colorants[code] = c
	}
	for code := range o.drops {
		if _, used := r.Loadings[code]; !used {
			return request, misusef("--drops %s: recipe %s holds no such pigment; it holds %s", code, r.ID(), recipeText(r.Loadings, " ", ", "))
		}
	}
	cal, target, err := believed(ctx, b, r)
	if err != nil || cal == nil {
		return request, err
	}
	return request, judgeBy(ctx, &request, cal, target)
}

// judgeBy has a batch judged by how far from a target it is expected to land.
func judgeBy(ctx context.Context, request *batch.Request, cal *calibrate.Calibration, target recipes.Target) error {
	judge, err := recipes.NewJudge(cal, target)
	if err != nil {
		return err
	}
	request.Outcome = func(m batch.Mixture) (float64, error) {
		if err := ctx.Err(); err != nil {
			return 0, err
		}
		return judge.Expected(m.Loadings, m.Weighing)
	}
	request.Tolerance = target.Within()
	return nil
}

// watched shows progress while a request is worked on.
func watched(r batch.Request, p *progress) batch.Request {
	judge := r.Outcome
	r.Outcome = func(m batch.Mixture) (float64, error) {
		p.step("looking for the smallest batch")
		return judge(m)
	}
	return r
}

// keepBatch stores a sheet and returns its name; the same sheet again keeps
// its name.
func keepBatch(ctx context.Context, b *archive.Bench, r archive.Recipe, sheet batch.Sheet) (string, error) {
	document, err := json.Marshal(sheet)
	if err != nil {
		return "", err
	}
	before, err := b.Batches(ctx, r.Ref)
	if err != nil {
		return "", err
	}
	lots, err := lotsInUse(ctx, b, r.Resin, codesOf(r))
	if err != nil {
		return "", err
	}
	for _, k := range before {
		if string(k.Document) == string(document) && slices.Equal(k.Lots, lots) {
			return k.ID(), nil
		}
	}
	k := archive.Batch{Recipe: r.Ref, TotalGrams: sheet.Total.Grams(), ScaleGrams: sheet.Step.Grams(), Lots: lots, Document: document}
	for _, l := range sheet.Lines {
		k.Lines = append(k.Lines, archive.Line{Item: l.Item, Grams: l.Grams.Grams()})
	}
	added, err := b.AddBatch(ctx, k)
	return added.ID(), err
}
