package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func newPourShowCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "show POUR",
		Short: "Show a pour, its readings and verdicts",
		Long: `Shows a pour: what was weighed, and every reading of the cured part with its
verdict.

` + jsonKeys(workbench.PourHistory{}),
		Args: needs("POUR"),
		RunE: func(cmd *cobra.Command, args []string) error { return runPourShow(cmd.Context(), env, args[0]) },
	}
}

func runPourShow(ctx context.Context, env *Env, id string) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := workbench.ShowPour(ctx, b, id)
		if err != nil {
			return err
		}
		if env.JSON {
			return env.emit(v)
		}
		printPour(env, v.Pour)
		if len(v.History) == 0 {
			env.print("not read yet")
			return nil
		}
		last := v.History[len(v.History)-1]
		for i, r := range v.History[:len(v.History)-1] {
			verdict := r.Verdict.Word()
			if r.Verdict != nil {
				verdict += ", " + verdictLine(r.Verdict)
			}
			if r.Part == last.Part {
				verdict += " (read again since)"
			}
			env.print("%d: read on %s%s: %s", i+1, r.On, partText(r), verdict)
		}
		text := "read on " + last.On + partText(last)
		if n := len(v.History); n > 1 {
			text = fmt.Sprintf("%d: %s", n, text)
		}
		if last.Companion {
			text += ", a chip from the same cup"
		}
		for _, c := range last.Colors {
			text += fmt.Sprintf("; %s under %s", c.Lab, c.Under)
		}
		env.print("%s", text)
		printTaken(env, last.Taken)
		if last.Verdict != nil {
			printVerdict(env, last.Verdict)
		}
		return nil
	})
}

// partText is which part was read, how old and how warm.
func partText(r workbench.PastReading) string {
	text := ""
	if r.Part > 0 {
		text += fmt.Sprintf(", part %d", r.Part)
	}
	if r.AgeHours != nil {
		text += fmt.Sprintf(", %s h old", figure.Short(float64(*r.AgeHours)))
	}
	if r.FlatMM != nil {
		text += fmt.Sprintf(", on a flat spot of %s mm", figure.Short(float64(*r.FlatMM)))
	}
	if r.PartC != nil {
		text += fmt.Sprintf(", at %s °C", figure.Short(float64(*r.PartC)))
	}
	return text
}
