package main

import (
	"context"

	"github.com/spf13/cobra"

	"masstone/recipes/workbench"
)

func newApproveCommand(env *Env) *cobra.Command {
	var r workbench.ApproveRequest
	cmd := &cobra.Command{
		Use:   "approve RECIPE --pour POUR",
		Short: "Approve a recipe for its target, once and for all",
		Long: `Approves a recipe for its target, with the pours that proved it: the recipe to
reorder from. The approval keeps everything it came from (calibration, chips, lots,
pours, readings, who approved it and when) under one checksum. It cannot be changed
afterwards; approving again makes the target's next version.

  masstone approve R6 --pour P2 --by "J. Brandt, Tern Lighting"

` + jsonKeys(workbench.Approval{}),
		Args: needs("RECIPE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Recipe = args[0]
			return runApprove(cmd.Context(), env, r)
		},
	}
	f := cmd.Flags()
	f.StringSliceVar(&r.Pours, "pour", nil, "`POUR` that proved it, such as P2 (may be repeated)")
	f.StringVar(&r.By, "by", "", "who approved it (else who is at the bench)")
	f.StringVar(&r.Note, "note", "", "remark kept with it")
	againVar(f, &r.Again)
	return cmd
}

func runApprove(ctx context.Context, env *Env, r workbench.ApproveRequest) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := onceMore(ctx, env, &r.Again, func() (workbench.Approval, error) { return workbench.Approve(ctx, b, r) })
		if err != nil {
			return err
		}
		env.remark(v.Remarks)
		if env.JSON {
			return env.emit(v)
		}
		env.print("approved %s%s: recipe %s, by %s, checksum %s, head of the log %s", named(v.Name), forClient(v.Client), v.Recipe.ID, tidy(v.By), v.Checksum, v.Head)
		env.say("to cast it again: masstone reorder %s --grams 250", quoted(v.Target))
		return nil
	})
}
