package main

import (
	"context"

	"github.com/spf13/cobra"

	"masstone/calibrate"
	"masstone/recipes/workbench"
)

func newMatchCommand(env *Env) *cobra.Command {
	var o workbench.MatchRequest
	cmd := &cobra.Command{
		Use:   "match TARGET --resin CODE",
		Short: "Find the recipes most likely to land on a target",
		Long: `Finds recipes for a target over every set of pigments the limits allow, and
stores them as R1, R2, ... for "masstone batch".

The first is the one expected to land nearest: what the calibration does not
know, the reading of the target and the weighing of the batch are counted, so it
need not be the one with the smallest predicted difference. The others are
genuinely different, each with why one would pick it. Asking the same again gives
the same recipes under the same names.

--heat-class and --light-class leave out pigments whose card gives a lower class:
the first number on the card counts, so that 7-8 is 7. A pigment whose card gives
none stays in, unless --strict-class.

  masstone match "Harbour lamp / housing" --resin CLR --max-pigments 4

` + jsonKeys(workbench.MatchResult{}),
		Args: needs("TARGET"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.Target = args[0]
			return runMatch(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.Resin, "resin", "", "`CODE` of the resin to cast in")
	f.StringVar(&o.Client, "client", "", "client, where several have a target of this name")
	wholeVar(f, &o.Calibration, "calibration", 0, "version of the calibration (else the newest)")
	numberVar(f, &o.ThicknessMM, "thickness", inMM, 0, "thickness of the part (else the target's)")
	f.BoolVar(&o.Anyway, "anyway", false, "match a target that reads as fluorescent, metallic or pearl")
	f.StringVar(&o.Over, "over", "", "backing behind the part (else the target's)")
	wholeVar(f, &o.Limits.MaxPigments, "max-pigments", workbench.UsualMaxPigments, "most pigments in a recipe")
	wholeVar(f, &o.Limits.Recipes, "recipes", workbench.UsualRecipes, "most recipes to give")
	f.StringSliceVar(&o.Limits.Required, "require", nil, "`CODES` every recipe holds")
	f.StringSliceVar(&o.Limits.Allowed, "allow", nil, "`CODES` a recipe may hold (else all)")
	f.StringSliceVar(&o.Limits.Forbidden, "forbid", nil, "`CODES` no recipe holds")
	f.Var(loadings[calibrate.PHR]{inPHR, &o.Limits.MaxPHR}, "max-phr", "most of single pigments, such as BK=0.5 (else what their cards say)")
	numberVar(f, &o.Limits.TotalPHR, "total-phr", inPHR, 0, "most paste in all (else what the resin's card says)")
	numberVar(f, &o.Limits.BatchGrams, "grams", inGrams, 100, "batch to weigh, whose weighing error counts")
	scaleVar(f, &o.Limits.ScaleGrams, &o.Limits.ScaleChoice, ", else 0.01 g")
	numberVar(f, &o.Limits.MinWeigh, "min-weigh", inGrams, 0, "least amount of a pigment that may be weighed (else any: the batch sheet pre-dilutes)")
	numberVar(f, &o.Limits.StrengthScatter, "strength-scatter", aShare, 0, "pigment strength from pour to pour, one standard deviation, such as 3% (as the chips showed)")
	numberVar(f, &o.Limits.MinOpacity, "min-opacity", aShare, 0, "least contrast over black and white at the part's thickness, such as 98%")
	numberVar(f, &o.Limits.MaxCostPerKg, "max-cost", inPrice, 0, "cost ceiling per kg of coloured resin")
	numberVar(f, &o.Limits.ResinPricePerKg, "resin-price", inPrice, 0, "price per kg of mixed resin, for the cost")
	f.BoolVar(&o.Limits.Stock, "stock", false, "use no more of a pigment than its card says is on the shelf")
	numberVar(f, &o.Limits.HeatClass, "heat-class", aClass, 0, "least heat fastness class of a pigment, as its card has it")
	numberVar(f, &o.Limits.LightClass, "light-class", aClass, 0, "least light fastness class of a pigment, such as 7 of the blue wool scale")
	f.BoolVar(&o.Limits.StrictClass, "strict-class", false, "leave out pigments whose card gives no such class too")
	f.BoolVar(&o.Limits.ByPredicted, "by-predicted", false, "choose by predicted difference instead of expected")
	return cmd
}

func runMatch(ctx context.Context, env *Env, r workbench.MatchRequest) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.MatchResult, error) { return workbench.Match(ctx, b, r) }, func(v workbench.MatchResult) {
		printMatch(env, v)
	})
}
