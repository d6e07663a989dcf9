package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"masstone/recipes/kept"
	"masstone/recipes/workbench"
)

func newResinDriftCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "drift CODE",
		Short: "Show how parts of a resin still change after they are read",
		Long: `Shows what a part of a resin that is read at some age still changes by until it
is settled, after 7 days. It is learnt from parts that were read at several ages:

  masstone pour read P1 --lab 65.9,-11.6,-2.3 --age 24h
  masstone pour read P1 --lab 65.8,-11.5,-1.8 --age 7d
  masstone resin drift CLR

Until there are such, nothing is assumed, and the bars of a part read young are
wider by a stated prior.

` + jsonKeys(workbench.ResinDrift{}),
		Args: needs("CODE"),
		RunE: func(cmd *cobra.Command, args []string) error { return runResinDrift(cmd.Context(), env, args[0]) },
	}
}

func runResinDrift(ctx context.Context, env *Env, code string) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.ResinDrift, error) { return workbench.ShowDrift(ctx, b, code) }, func(v workbench.ResinDrift) {
		if v.Parts == 0 {
			env.print("How parts of %s change is not learnt: no part was read at several ages, and nothing is assumed.", tidy(v.Resin))
		} else {
			env.print("How parts of %s change, learnt from %d read at several ages; time constant %.0f h (95 %%: %.0f to %.0f):", tidy(v.Resin), v.Parts, v.Tau, v.TauLow, v.TauHigh)
		}
		t := newTable("until "+kept.Age(float64(v.AtH))+", from", ">dL*", ">da*", ">db*", ">bars 95 %")
		for _, f := range v.From {
			t.add(kept.Age(float64(f.AgeH)), fmt.Sprintf("%+.2f", f.DL), fmt.Sprintf("%+.2f", f.DA), fmt.Sprintf("%+.2f", f.DB),
				fmt.Sprintf("%.2f, %.2f, %.2f", 1.96*f.SDL, 1.96*f.SDA, 1.96*f.SDB))
		}
		t.print(env.Stdout)
		env.say("before any reading: %s", v.Prior)
	})
}
