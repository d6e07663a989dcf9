package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"masstone/recipes/archive"
)

type approveOptions struct {
	recipe, by, note string
	pours            []string
}

func newApproveCommand(env *Env) *cobra.Command {
	var o approveOptions
	cmd := &cobra.Command{
		Use:   "approve RECIPE --pour POUR",
		Short: "Approve a recipe for its target, once and for all",
		Long: `Approves a recipe for its target, with the pours that proved it: the recipe to
reorder from. The approval keeps everything it came from (calibration, chips, lots,
pours, readings, who approved it and when) under one checksum. It cannot be changed
afterwards; approving again makes the target's next version.

  masstone approve R6 --pour P2 --by "J. Brandt, Tern Lighting"

JSON keys: ` + approvalKeys + `.`,
		Args: needs("RECIPE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.recipe = args[0]
			return runApprove(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	f.StringSliceVar(&o.pours, "pour", nil, "`POUR` that proved it, such as P2 (may be repeated)")
	f.StringVar(&o.by, "by", "", "who approved it (else who is at the bench)")
	f.StringVar(&o.note, "note", "", "remark kept with it")
	return cmd
}

func runApprove(ctx context.Context, env *Env, o approveOptions) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		r, err := b.Recipe(ctx, o.recipe)
		if err != nil {
			return err
		}
		a := archive.Approval{Recipe: r.Ref, By: o.by, Note: o.note}
		for _, id := range o.pours {
			c, err := castNamed(ctx, b, id)
			if err != nil {
				return err
			}
			if err := proves(env, c, r); err != nil {
				return err
			}
			piece, err := c.piece()
			if err != nil {
				return err
			}
			labs, err := colors(piece, conditionsOf(r.Predicted))
			if err != nil {
				return err
			}
			a.Colors = nil // the last pour named is the part approved
			for _, l := range labs {
				a.Colors = append(a.Colors, archive.LabOf(l))
			}
			a.Pours = append(a.Pours, c.pour.Ref)
		}
		if len(o.pours) == 0 {
			env.say("no pour proves it: it is approved as predicted; name one with --pour")
		}
		if a, err = b.Approve(ctx, a); err != nil {
			return err
		}
		p, err := b.Provenance(ctx, a)
		if err != nil {
			return err
		}
		if env.JSON {
			return env.emit(viewApproval(p))
		}
		env.print("approved %q%s: recipe %s, by %s, checksum %s", tidy(a.Name()), forClient(a.Client), r.ID(), tidy(a.By), a.Ref)
		env.say("to cast it again: masstone reorder %s --grams 250", quoted(a.Target))
		return nil
	})
}

// proves refuses a pour of another recipe, and warns of one that misses.
func proves(env *Env, c cast, r archive.Recipe) error {
	switch {
	case c.recipe.Ref != r.Ref:
		return fmt.Errorf("%s was poured from recipe %s, not from %s; approve %s, or name a pour of %s", c.pour.ID(), c.recipe.ID(), r.ID(), c.recipe.ID(), r.ID())
	case c.verdict != nil && !c.verdict.Passes:
		env.say("warning: %s is outside tolerance, %s", c.pour.ID(), c.verdict.line())
	}
	return nil
}
