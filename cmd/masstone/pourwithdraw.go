package main

import (
	"context"

	"github.com/spf13/cobra"

	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func newPourWithdrawCommand(env *Env) *cobra.Command {
	var r workbench.WithdrawReadingRequest
	cmd := &cobra.Command{
		Use:   "withdraw POUR --why TEXT",
		Short: "Take back a reading of a pour that was wrong",
		Long: `Takes back a reading that was wrong, such as one of another part or of another age
than was said, and keeps the record of it with the reason. What goes by readings of the
pour, the drift of its resin too, goes without it from now on; "masstone pour read" takes
it again. An approval that it had proved stays, and is named. "masstone pour show" numbers the readings.

  masstone pour withdraw P1 --reading 2 --why "it was 24 h old, not 7 d"

` + jsonKeys(workbench.WithdrawnReading{}),
		Args: needs("POUR"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Pour = args[0]
			return runPourWithdraw(cmd.Context(), env, r)
		},
	}
	f := cmd.Flags()
	wholeVar(f, &r.Reading, "reading", 0, "which reading, from 1 (else the newest)")
	f.StringVar(&r.Why, "why", "", "the reason")
	return cmd
}

func runPourWithdraw(ctx context.Context, env *Env, r workbench.WithdrawReadingRequest) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := workbench.WithdrawReading(ctx, b, r)
		if err != nil {
			return err
		}
		env.remark(v.Remarks)
		if env.JSON {
			return env.emit(v)
		}
		env.print("reading %d of %s, of %s, withdrawn: %s; %s left", v.Reading, v.Pour, v.On, tidy(v.Why), figure.Count(v.Left, "reading"))
		return nil
	})
}
