package main

import (
	"context"
	"slices"

	"github.com/spf13/cobra"

	"masstone/recipes/archive"
)

type pourListOptions struct {
	target, client string
	limit          int
}

func newPourListCommand(env *Env) *cobra.Command {
	var o pourListOptions
	cmd := &cobra.Command{
		Use:   "list [TARGET]",
		Short: "List pours and their verdicts, the newest first",
		Long: `Lists pours, the newest first: all, or those of a target.

JSON keys: pours, a list of
` + pourKeys + `.`,
		Args: atMost("TARGET"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				o.target = args[0]
			}
			return runPourList(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.client, "client", "", "client, where several have a target of this name")
	f.IntVar(&o.limit, "limit", 50, "most pours to list")
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

func runPourList(ctx context.Context, env *Env, o pourListOptions) error {
	if o.limit < 1 {
		return misusef("--limit %d: is out of range; give 1 or more", o.limit)
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		pours, err := poursOn(ctx, b, o)
		if err != nil {
			return err
		}
		casts := make([]cast, len(pours))
		for i, p := range pours {
			if casts[i], err = castOf(ctx, b, p); err != nil {
				return err
			}
		}
		switch {
		case env.JSON:
			views := make([]pourView, len(casts))
			for i, c := range casts {
				views[i] = viewPour(c)
			}
			return env.emit(struct {
				Pours []pourView `json:"pours"`
			}{views})
		case len(casts) == 0:
			env.say("no pour yet; masstone pour add BATCH")
			return nil
		}
		t := newTable("", "batch", "recipe", "target", "on", "loadings (phr)", "verdict")
		for _, c := range casts {
			verdict := "not read"
			if len(c.readings) > 0 {
				verdict = c.verdict.word()
			}
			if c.verdict != nil {
				verdict += ", " + c.verdict.line()
			}
			loadings := "-"
			if phr, err := c.held.Loadings(); err == nil {
				loadings = recipeText(phr, " ", ", ")
			}
			t.add(c.pour.ID(), c.batch.ID(), c.recipe.ID(), c.recipe.Target, c.pour.PouredOn, loadings, verdict)
		}
		t.print(env.Stdout)
		return nil
	})
}

// poursOn lists pours, the newest first.
func poursOn(ctx context.Context, b *archive.Bench, o pourListOptions) ([]archive.Pour, error) {
	var pours []archive.Pour
	if o.target != "" {
		found, err := b.Pours(ctx, o.client, o.target)
		if err != nil {
			return nil, err
		}
		pours = found
	} else {
		batches, err := b.Batches(ctx, "")
		if err != nil {
			return nil, err
		}
		for _, k := range batches {
			found, err := b.PoursOfBatch(ctx, k.Ref)
			if err != nil {
				return nil, err
			}
			pours = append(pours, found...)
		}
	}
	slices.SortFunc(pours, func(a, b archive.Pour) int { return int(b.Number - a.Number) })
	return pours[:min(len(pours), o.limit)], nil
}

func newPourShowCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "show POUR",
		Short: "Show a pour, its readings and verdicts",
		Long: `Shows a pour: what was weighed, and every reading of the cured part with its
verdict.

JSON keys: ` + pourKeys + `
(of the newest reading: ` + verdictKeys + `),
history (a list of read_on, colors (under, lab), verdict, note).`,
		Args: needs("POUR"),
		RunE: func(cmd *cobra.Command, args []string) error { return runPourShow(cmd.Context(), env, args[0]) },
	}
}
