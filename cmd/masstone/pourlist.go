package main

import (
	"context"

	"github.com/spf13/cobra"

	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func newPourListCommand(env *Env) *cobra.Command {
	var r workbench.PoursRequest
	cmd := &cobra.Command{
		Use:   "list [TARGET]",
		Short: "List pours and their verdicts, the newest first",
		Long: `Lists pours, the newest first: all, or those of a target.

` + jsonKeys(workbench.PourList{}),
		Args: atMost("TARGET"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				r.Target = args[0]
			}
			return runPourList(cmd.Context(), env, r)
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Client, "client", "", "client, where several have a target of this name")
	wholeVar(f, &r.Limit, "limit", 50, "most pours to list")
	return cmd
}

// atMost is the check of a command's arguments: one that may be left out.
func atMost(name string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) > 1 {
			return misusef("%s: %q is one argument too many, %s is %q already; put names with spaces in quotes", cmd.CommandPath(), args[1], name, args[0])
		}
		return readCodes(cmd, []string{name}, args)
	}
}

func runPourList(ctx context.Context, env *Env, r workbench.PoursRequest) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.PourList, error) { return workbench.Pours(ctx, b, r) }, func(v workbench.PourList) {
		if len(v.Pours) == 0 {
			env.say("no pour yet; masstone pour add BATCH")
			return
		}
		t := newTable("", "batch", "recipe", "target", "on", "loadings (phr)", "verdict")
		for _, p := range v.Pours {
			verdict, loadings := "not read", "-"
			if p.Readings > 0 {
				verdict = p.Verdict.Word()
			}
			if p.Verdict != nil {
				verdict += ", " + verdictLine(p.Verdict)
			}
			if len(p.Loadings) > 0 {
				loadings = figure.Loadings(p.Loadings)
			}
			t.add(p.Pour, p.Batch, p.Recipe, p.Target, p.On, loadings, verdict)
		}
		t.print(env.Stdout)
	})
}
