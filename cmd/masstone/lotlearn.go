package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"masstone/recipes/workbench"
)

func newLotLearnCommand(env *Env) *cobra.Command {
	var r workbench.LearnLotRequest
	var reading readingFlags
	cmd := &cobra.Command{
		Use:   "learn CODE LOT FILE --resin CODE",
		Short: "Learn a lot's strength from a few chips of it",
		Long: `Learns how strong a lot of a pigment is against the lot that was calibrated, from
a few chips of it: one in white is enough. The file has the columns of "masstone
chip import". The chips are kept with their readings, but not fitted: the
calibration stays as it is.

Of a resin it learns how strong the resin's own colour is, as of a side A that has
yellowed: from thick chips without paste (a column of one, with 0), or of white. That
is of the day it was learnt; the longer ago, the wider its bars (common practice, no
source), so learn an old drum again.

  masstone lot learn RD L123 newred.csv --resin CLR --chip-grams 50 --scale 0.01
  masstone lot learn CLR A-77 base.csv

` + jsonKeys(workbench.LearnedLot{}),
		Args: needs("CODE", "LOT", "FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Code, r.Lot = args[0], args[1]
			return reading.opened(cmd.Context(), env, args[2], func(f *workbench.File) error {
				r.Chips = *f
				return runLotLearn(cmd.Context(), env, r)
			})
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Resin, "resin", "", "`CODE` of the resin the chips were cast in")
	numberVar(f, &r.ChipGrams, "chip-grams", inGrams, 0, "mixed resin in the cup of each chip, such as 50g")
	numberVar(f, &r.ScaleGrams, "scale", inGrams, 0, "step of the scale the chips were weighed on, such as 0.01g")
	thicknessSDVar(f, &r.ThicknessSDMM, "a chip", usualMisses)
	f.BoolVar(&reading.repeats, "repeats", false, "rows of one name are readings of one piece")
	reading.addPiece(f, "", 0)
	reading.addConditions(f)
	reading.addSight(f)
	reading.addLayout(f)
	reading.addPercent(f)
	return cmd
}

func runLotLearn(ctx context.Context, env *Env, r workbench.LearnLotRequest) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := workbench.LearnLot(ctx, b, r)
		if err != nil {
			return err
		}
		env.remark(v.Remarks)
		if env.JSON {
			return env.emit(v)
		}
		env.print("lot %s of %s against the one calibrated in %s: %s", tidy(v.Lot), v.Code, v.Calibration, v.LotStrength)
		t := newTable("chip", ">dE00 as calibrated", ">dE00 as learnt")
		for _, c := range v.Chips {
			t.add(c.Chip, fmt.Sprintf("%.2f", c.Before), fmt.Sprintf("%.2f", c.After))
		}
		t.print(env.Stdout)
		return nil
	})
}
