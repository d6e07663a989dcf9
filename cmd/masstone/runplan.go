package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func newRunPlanCommand(env *Env) *cobra.Command {
	var r workbench.RunPlanRequest
	cmd := &cobra.Command{
		Use:   "plan RUN [--mould NAME]",
		Short: "Share what is left of a run among moulds",
		Long: `Shares the parts of a run that are still to be cast among its moulds, shot by
shot, as long as they last; says what is short, and with --per-day how many days it
takes. Without --mould they are the moulds of the run's part and those used in it.

  masstone run plan RUN1 --per-day 3

` + jsonKeys(workbench.RunPlan{}),
		Args: needs("RUN"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Run = args[0]
			return withBench(cmd.Context(), env, func(b *workbench.Bench) error {
				v, err := workbench.PlanRun(cmd.Context(), b, r)
				if err != nil {
					return err
				}
				env.remark(v.Remarks)
				if env.JSON {
					return env.emit(v)
				}
				env.print("%s: %s to cast", v.Run, figure.Count(v.Left, "part"))
				t := newTable("mould", ">shots", ">parts", ">shots then", ">left of its life")
				for _, m := range v.Moulds {
					left := "-"
					if m.Left != nil {
						left = fmt.Sprint(*m.Left)
					}
					t.add(m.Name, fmt.Sprint(m.Shots), fmt.Sprint(m.Parts), fmt.Sprint(m.Then), left)
				}
				t.print(env.Stdout)
				if v.Days > 0 {
					env.print("%s", figure.Count(v.Days, "day"))
				}
				return nil
			})
		},
	}
	f := cmd.Flags()
	f.StringArrayVar(&r.Moulds, "mould", nil, "`NAME` of a mould (may be repeated)")
	wholeVar(f, &r.PerDay, "per-day", 0, "shots that one mould takes a day")
	return cmd
}
