package main

import (
	"context"

	"github.com/spf13/cobra"

	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func newReorderCommand(env *Env) *cobra.Command {
	var r workbench.ReorderRequest
	var paper paperFlags
	cmd := &cobra.Command{
		Use:   "reorder TARGET (--grams G | --cavity-ml V --shots N --waste W)",
		Short: "Cast an approved part again, with today's lots",
		Long: `Makes an approved recipe up again for an amount: the sheet to weigh from, as
"masstone batch" gives it. When lots, calibration or resin changed since the
approval it warns and says what is expected of the approved recipe now; where
solving it again among its pigments helps, the sheet is for the recipe so found,
unless --as-approved. The approval itself stays as it is.

  masstone reorder "Harbour lamp / housing" --grams 500

` + paperHelp + `

` + jsonKeys(workbench.Reorder{}),
		Args: needs("TARGET"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Target = args[0]
			return runReorder(cmd.Context(), env, r, paper)
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Client, "client", "", "client, where several have a target of this name")
	wholeVar(f, &r.Version, "version", 0, "version of the approval (else the newest)")
	f.BoolVar(&r.AsApproved, "as-approved", false, "weigh the approved recipe even where another is expected nearer")
	addMaking(f, &r.Making)
	paper.add(f, "the sheet")
	return cmd
}

func runReorder(ctx context.Context, env *Env, r workbench.ReorderRequest, paper paperFlags) error {
	if err := paper.check(env); err != nil {
		return err
	}
	r.Shop, r.Deliver = paper.maker(env), paper.deliver(env)
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := workbench.MakeReorder(ctx, b, r)
		if err != nil {
			return err
		}
		env.remark(v.Remarks)
		if env.JSON {
			return env.emit(v)
		}
		printReorder(env, v)
		if paper.out == "" {
			env.print("")
		}
		return printSheet(env, v.Sheet, paper)
	})
}

func printReorder(env *Env, v workbench.Reorder) {
	env.print("%s%s, approved by %s on %s: recipe %s, %s phr", named(v.Approval), forClient(v.Of.Client), tidy(v.Of.By), v.Of.At[:10], v.Approved, figure.Loadings(v.Of.Recipe.Loadings))
	switch {
	case len(v.Changes) == 0 && len(v.Since) == 0:
		env.print("nothing that is known has changed since")
	case len(v.Since) > 0:
		env.print("Read since, and counted: %s.", figure.List(v.Since))
	}
	for _, c := range v.Changes {
		env.print("Changed since: %s, then %s, now %s: %s.", c.What, tidy(c.Then), tidy(c.Now), tidy(c.Effect))
	}
	if v.Question != "" {
		env.print("Ask the client: %s", tidy(v.Question))
	}
	if v.Now != nil && len(v.Changes) > 0 {
		env.print("Expected of the approved recipe now: dE00 %.2f.", *v.Now)
	}
	if v.Then == nil {
		return
	}
	change := figure.Changes(v.Change, v.Loadings)
	if v.Resolved {
		env.print("Solved again as %s it is expected at %.2f: %s phr. The sheet is for it; approve it once a pour proves it.", v.Recipe, *v.Then, change)
	} else {
		env.print("Solved again it would be expected at %.2f (%s phr); the sheet is for the recipe as approved.", *v.Then, change)
	}
}
