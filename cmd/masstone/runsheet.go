package main

import (
	"github.com/spf13/cobra"

	"masstone/recipes/workbench"
)

func newRunSheetCommand(env *Env) *cobra.Command {
	var r workbench.RunSheetRequest
	var paper paperFlags
	cmd := &cobra.Command{
		Use:   "sheet RUN [--batch BATCH]",
		Short: "Print the sheet of a run, to be filled in beside the moulds",
		Long: `Prints a run before it is cast: a row for each cup with its parts, mould and start on
the clock, and room for when the second side went in, by whom, temperatures, and what
was read. Cups that are cast are filled in. --batch lays the next cups out as a batch
was weighed for them; without it a cup gives the parts of a shot of its mould, or
--cup-parts.

` + paperHelp + `

  masstone run sheet RUN1 --mould M1 --out run.pdf

JSON keys: made, shop, run, client, target, approval, recipe, resin, pigment_side,
loadings (pigment, phr), lots (of, lot), agreed (what the client accepts), target_lab (L, a, b, under),
parts (wanted), cast, batch, pot_life_minutes, pot_life_celsius, cup_minutes,
settled_days, cups (a list of cup, pour, parts, mould, starts_minutes, poured_on, by,
room_c, mould_c, read (part, lab)), notes, find.`,
		Args: needs("RUN"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Run = args[0]
			if r.CupParts == 0 && cmd.Flags().Changed("cup-parts") {
				r.CupParts = -1 // no part is no cup
			}
			if err := paper.check(env); err != nil {
				return err
			}
			r.Shop = paper.maker(env)
			return withBench(cmd.Context(), env, func(b *workbench.Bench) error {
				v, err := workbench.RunSheet(cmd.Context(), b, r)
				if err != nil {
					return err
				}
				return paper.show(env, "sheet of "+v.Run, v)
			})
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Batch, "batch", "", "`BATCH` whose cups are the next ones")
	wholeVar(f, &r.CupParts, "cup-parts", 0, "parts that a cup gives (else those of the batch's cups, or of a shot of the mould)")
	f.StringArrayVar(&r.Moulds, "mould", nil, "`NAME` of the mould for the next cups; several take turns (else that of the last cup)")
	paper.add(f, "the sheet")
	return cmd
}
