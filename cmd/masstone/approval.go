package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func newApprovalCommand(env *Env) *cobra.Command {
	return newFamily("approval", "Approved recipes: list, show; links for clients", newApprovalListCommand(env), newApprovalShowCommand(env),
		newApprovalLinkCommand(env), newApprovalLinksCommand(env), newApprovalUnlinkCommand(env))
}

func newApprovalListCommand(env *Env) *cobra.Command {
	var r workbench.ApprovalsRequest
	cmd := &cobra.Command{
		Use:   "list [TARGET]",
		Short: "List approved recipes",
		Long: `Lists the approved recipe of every target, or all versions of one.

` + jsonKeys(workbench.ApprovalList{}),
		Args: atMost("TARGET"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				r.Target = args[0]
			}
			return runApprovalList(cmd.Context(), env, r)
		},
	}
	cmd.Flags().StringVar(&r.Client, "client", "", "of this client only")
	return cmd
}

func runApprovalList(ctx context.Context, env *Env, r workbench.ApprovalsRequest) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := workbench.Approvals(ctx, b, r)
		if err != nil {
			return err
		}
		switch {
		case env.JSON:
			return env.emit(v)
		case len(v.Approvals) == 0:
			env.say("nothing is approved yet; masstone approve RECIPE --pour POUR")
			return nil
		}
		t := newTable("target", "client", ">version", "recipe", "loadings (phr)", "approved at", "by", "on")
		for _, a := range v.Approvals {
			at, swatch := "", ""
			if len(a.Colors) > 0 {
				at, swatch = a.Colors[0].Lab.String()+" "+a.Colors[0].Under, env.swatch(a.Colors[0].Color())
			}
			t.add(a.Target, a.Client, fmt.Sprint(a.Version), a.Recipe.ID, figure.Loadings(a.Recipe.Loadings), at, a.By, a.At[:10])
			t.paint(swatch)
		}
		t.print(env.Stdout)
		return nil
	})
}

func newApprovalShowCommand(env *Env) *cobra.Command {
	var r workbench.ApprovalRequest
	cmd := &cobra.Command{
		Use:   "show TARGET",
		Short: "Show an approved recipe and everything it came from",
		Long: `Shows an approved recipe with everything it came from, and its checksum.

` + jsonKeys(workbench.Approval{}),
		Args: needs("TARGET"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Target = args[0]
			return runApprovalShow(cmd.Context(), env, r)
		},
	}
	cmd.Flags().StringVar(&r.Client, "client", "", "client, where several have a target of this name")
	wholeVar(cmd.Flags(), &r.Version, "version", 0, "version of the approval (else the newest)")
	return cmd
}

func runApprovalShow(ctx context.Context, env *Env, r workbench.ApprovalRequest) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.Approval, error) { return workbench.ShowApproval(ctx, b, r) }, func(v workbench.Approval) {
		env.print("%s%s, approved by %s on %s", named(v.Name), forClient(v.Client), tidy(v.By), v.At[:10])
		thickness := "0"
		if v.Recipe.ThicknessMM != nil {
			thickness = figure.Short(float64(*v.Recipe.ThicknessMM))
		}
		env.print("recipe %s in %s: %s phr, %s mm over %s", v.Recipe.ID, v.Recipe.Resin, figure.Loadings(v.Recipe.Loadings), thickness, tidy(v.Recipe.Over))
		if len(v.Corrected) > 0 {
			env.print("corrected from %s", figure.List(v.Corrected))
		}
		for _, c := range v.Colors {
			printColor(env, "approved at", c)
		}
		if v.Calibration != "" {
			env.print("calibration %s from %s", v.Calibration, figure.Count(v.Chips, "chip"))
		}
		if len(v.Pours) > 0 {
			env.print("proved by %s", figure.List(v.Pours))
		}
		if len(v.Lots) > 0 {
			env.print("lots: %s", lotsOf(v.Lots))
		}
		if v.Note != "" {
			env.print("note: %s", tidy(v.Note))
		}
		env.print("checksum %s", v.Checksum)
		env.print("head of the log %s", v.Head)
	})
}
