package main

import (
	"context"

	"github.com/spf13/cobra"

	"masstone/recipes/workbench"
)

func newCorrectCommand(env *Env) *cobra.Command {
	var r workbench.CorrectRequest
	cmd := &cobra.Command{
		Use:   "correct POUR [--pot-grams G --pot-side B|mixed]",
		Short: "What to do about a pour that missed: every way, side by side",
		Long: `Says what can be done about a pour that was read, each way with the difference
it is expected to lead to:

  live with it     the chance that the part is within tolerance after all
  add to the pot   grams to add to what is left (--pot-grams; nothing can be taken
                   out); where that is not enough, with more resin, or with another
                   pigment
  next batch       a new recipe, for the lots as the pours show them to be

All pours of the target with these lots so far are evidence about the lots and
about this target; the calibration itself stays as it is. A way is recommended
only where its expected gain exceeds what the noise of reading and weighing
explains. A pot of both sides has set by the time its part can be read: it is
added to only with --still-flows, and not past its pot life.

The new recipe is stored, and so are additions, as a batch whose next shot is
recorded with "masstone pour add". --keep stores what was learnt of the lots, for
other recipes.

  masstone correct P1
  masstone correct P1 --pot-grams 118 --pot-side B
  masstone correct P4 --stock "grey pail"

` + jsonKeys(workbench.Correction{}),
		Args: needs("POUR"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Pour = args[0]
			return runCorrect(cmd.Context(), env, r)
		},
	}
	f := cmd.Flags()
	numberVar(f, &r.PotGrams, "pot-grams", inGrams, 0, "what is left in the pot, pastes included, such as 118g")
	f.StringVar(&r.PotSide, "pot-side", "", "what the pot holds: the tinted side, A or B, or mixed (else the tinted side)")
	f.BoolVar(&r.StillFlows, "still-flows", false, "the mixed pot has not set, though the part was read")
	f.StringVar(&r.Stock, "stock", "", "the pot is the tinted stock of this `NAME`")
	numberVar(f, &r.MaxGrowth, "pot-growth", aTimes, 2, "how many times its resin the pot may grow to")
	f.BoolVar(&r.AnyPigment, "any-pigment", false, "also try pigments that are not in the cup")
	wholeVar(f, &r.MaxPigments, "max-pigments", workbench.UsualMaxPigments, "most pigments of a recipe found with --any-pigment")
	numberVar(f, &r.BatchGrams, "grams", inGrams, 0, "the next batch (else as large as the last)")
	scaleVar(f, &r.ScaleGrams, &r.ScaleChoice, ", else 0.01 g")
	numberVar(f, &r.MinWeigh, "min-weigh", inGrams, 0, "least amount worth weighing")
	f.BoolVar(&r.Keep, "keep", false, "store what was learnt of the lots, for other recipes")
	return cmd
}

func runCorrect(ctx context.Context, env *Env, r workbench.CorrectRequest) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.Correction, error) { return workbench.Correct(ctx, b, r) }, func(v workbench.Correction) {
		printCorrection(env, r, v)
	})
}
