package main

import (
	"context"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"masstone/calibrate"
	"masstone/recipes/batch"
	"masstone/recipes/workbench"
)

func newBatchCommand(env *Env) *cobra.Command {
	var r workbench.BatchRequest
	var paper paperFlags
	cmd := &cobra.Command{
		Use:   "batch RECIPE (--grams G | --cavity-ml V --shots N --waste W)",
		Short: "Make a recipe up for an amount: the sheet to weigh from",
		Long: `Makes a recipe up for an amount and gives the sheet to weigh from: each line in
grams on the scale's steps, in the order of weighing, with the running sum (the
cup stays on the scale), cups by size and pot life, what the scale costs in
colour, pre-dilutions where a line is too small to weigh, and the cautions.

The lines are not just rounded: of what the scale can show, the combination
expected to land nearest the target is taken.

A part's volume is --cavity-ml, or is told by weighing: the original with its
density, the original hung in a cup of water, or the water that fills the mould.
Where parts are injected, cups are of as many shots as the pot life allows
(--shot-time, --resin-c) and stand on one clock.

--poured says what the scale really showed for lines already in the cup; the
answer is how to go on, adding only.

  masstone batch R1 --grams 250
  masstone batch R1 --cavity-ml 18.5 --shots 12 --waste 10%
  masstone batch R1 --water-g 2.40 --sprue-ml 0.8 --shots 30 --resin-c 26 --no-vacuum
  masstone batch R1 --grams 250 --poured RD=1.32

The sheet is stored as B1, B2, ...; the same sheet again keeps its name.

` + paperHelp + `

  masstone batch R1 --grams 250 --out sheet.pdf

` + jsonKeys(workbench.Batch{}),
		Args: needs("RECIPE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Recipe = args[0]
			return runBatch(cmd.Context(), env, r, paper)
		},
	}
	f := cmd.Flags()
	addMaking(f, &r.Making)
	f.BoolVar(&r.Smallest, "smallest", true, "say how small the batch may be made")
	f.Var(&weighedFlag{value: &r.Poured}, "poured", "what the scale showed for a line in the cup, `ITEM=GRAMS` (may be repeated)")
	paper.add(f, "the sheet")
	return cmd
}

// addMaking adds the flags that say how much is made and how it is weighed.
func addMaking(f *pflag.FlagSet, m *workbench.Making) {
	usual := batch.UsualHandling()
	numberVar(f, &m.Grams, "grams", inGrams, 0, "whole batch, pastes included, such as 250g")
	numberVar(f, &m.CavityML, "cavity-ml", inML, 0, "volume of one part, such as 18.5ml")
	wholeVar(f, &m.Shots, "shots", 0, "number of parts")
	f.Var(wasteFlag(&m.Waste), "waste", "lost to cup and stick, such as 10%")
	addVolume(f, m)
	numberVar(f, &m.Grow, "grow", aShare, 0, "how much larger the batch may be made so that lines fall better on the scale, such as 2%")
	scaleVar(f, &m.ScaleGrams, &m.ScaleChoice, ", else 0.01 g")
	numberVar(f, &m.MinWeigh, "min-weigh", inGrams, 0, "least line worth weighing (else ten steps)")
	numberVar(f, &m.Capacity, "capacity", inGrams, 0, "most the scale carries")
	f.BoolVar(&m.Tared, "tared", false, "the cup is zeroed before each line")
	numberVar(f, &m.MaxCup, "max-cup", inGrams, 0, "largest cup to mix, such as 150g")
	numberVar(f, &m.ContainerML, "container", inML, 0, "brim volume of the cup at hand, such as 500ml")
	numberVar(f, &m.Headroom, "headroom", aTimes, usual.Headroom, "container over mixed volume, for the vacuum")
	f.BoolVar(&m.NoVacuum, "no-vacuum", false, "the cups are not degassed")
	numberVar(f, &m.GramsPerMinute, "pour-rate", inGrams, usual.PourRate, "grams poured a minute")
	m.Shot = usual.Shot
	f.Var(minutes{&m.Shot}, "shot-time", "to load and inject one part, beside the pouring, such as 45s; 0 where parts are only poured")
	numberVar(f, &m.Celsius, "resin-c", inWarmth, 0, "temperature of the resin, such as 28C: above 23 °C the pot life is halved every 10 °C")
	numberVar(f, &m.Halving, "halving-c", inDegrees, batch.UsualHalving, "°C warmer at which this resin has half its pot life")
	f.Var(minutes{&m.PotLife}, "pot-life", "pot life as you timed it (else the resin's)")
	wholeVar(f, &m.People, "people", 1, "who share the work: with 2 or more a cup is mixed while the one before is injected")
	numberVar(f, &m.Margin, "pot-life-margin", aShare, usual.Margin, "share of the pot life left unused")
	f.BoolVar(&m.Neat, "no-predilution", false, "weigh every paste as it is")
	f.BoolVar(&m.NoJars, "fresh-predilutions", false, "leave the jars of pre-dilutions at hand alone")
	f.Var(loadings[calibrate.Grams]{inGrams, &m.DropGrams}, "drops", "pastes counted in drops, with the mass of one, such as BK=0.03g")
	numberVar(f, &m.DropScatter, "drop-scatter", aShare, 0.1, "scatter of one drop's mass, one standard deviation")
}

func runBatch(ctx context.Context, env *Env, r workbench.BatchRequest, paper paperFlags) error {
	if err := paper.check(env); err != nil {
		return err
	}
	r.Shop, r.Deliver = paper.maker(env), paper.deliver(env)
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := workbench.MakeBatch(ctx, b, r)
		if err != nil {
			return err
		}
		env.remark(v.Remarks)
		if env.JSON {
			return env.emit(v)
		}
		return printSheet(env, v, paper)
	})
}

// printSheet prints a sheet, or says which file it went to.
func printSheet(env *Env, v workbench.Batch, paper paperFlags) error {
	if paper.out == "" {
		return paper.put(env, v.Paper)
	}
	env.print("batch %s: %s g of recipe %s, written to %s", v.Batch, v.Total.At(v.Step), v.Recipe, tidy(paper.out))
	return nil
}
