package main

import (
	"context"

	"github.com/spf13/cobra"

	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func newForgetCommand(env *Env) *cobra.Command {
	var r workbench.ForgetRequest
	cmd := &cobra.Command{
		Use:   "forget CLIENT --into FILE",
		Short: "Make a new bench without a client and all that was made for it",
		Long: `Makes a new bench with all of this one but a client: its parts, targets, recipes,
batches, pours and approvals, and what was drawn from a stock for them and after.
The log is not taken along. This bench stays as it is: look the new one through,
notes above all, then delete this one, its backups, bundles and papers.

  masstone forget "Tern Lighting" --into new.db

` + jsonKeys(workbench.Forgotten{}),
		Args: needs("CLIENT"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Client = args[0]
			return runForget(cmd.Context(), env, r)
		},
	}
	cmd.Flags().StringVar(&r.Into, "into", "", "`FILE` of the new bench")
	return cmd
}

func runForget(ctx context.Context, env *Env, r workbench.ForgetRequest) error {
	if r.Into != "" {
		r.Into = env.path(r.Into)
	}
	return tell(ctx, env, func(b *workbench.Bench) (workbench.Forgotten, error) {
		v, err := workbench.Forget(ctx, b, r)
		if err == nil {
			env.noteWritten(v.Bench)
		}
		return v, err
	}, func(v workbench.Forgotten) {
		env.print("new bench %s: %s", tidy(v.Bench), figure.Count(v.Records, "record"))
		for _, line := range v.Numbered {
			env.print("  %s", tidy(line))
		}
		env.leftOut(v.Left)
		env.say("this bench still has it all; look the new one through, then delete this one, its backups and bundles")
	})
}
