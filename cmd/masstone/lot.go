package main

import (
	"context"

	"github.com/spf13/cobra"

	"masstone/recipes/workbench"
)

func newLotCommand(env *Env) *cobra.Command {
	return newFamily("lot", "Lots of pigments and resins: add, open, list, learn", newLotAddCommand(env), newLotOpenCommand(env), newLotListCommand(env), newLotLearnCommand(env))
}

func newLotAddCommand(env *Env) *cobra.Command {
	var r workbench.AddLotRequest
	cmd := &cobra.Command{
		Use:   "add CODE LOT",
		Short: "Add a lot of a pigment or resin",
		Long: `Adds a lot: one delivery, as its label names it. --open says that it is the one
in use from now on, which batches and pours then name by themselves.

  masstone lot add RD L123 --received 2026-03-31 --open

` + jsonKeys(workbench.LotOutcome{}),
		Args: needs("CODE", "LOT"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Code, r.Lot = args[0], args[1]
			return tellLot(cmd.Context(), env, func(b *workbench.Bench) (workbench.LotOutcome, error) { return workbench.AddLot(cmd.Context(), b, r) })
		},
	}
	f := cmd.Flags()
	dayVar(f, &r.Received, "received", "day it came, 2026-03-31")
	numberVar(f, &r.Grams, "grams", inGrams, 0, "how much came, such as 1kg")
	f.StringVar(&r.Note, "note", "", "remark kept with it")
	f.BoolVar(&r.Open, "open", false, "it is in use from now on")
	f.BoolVar(&r.Replace, "replace", false, "replace the lot's card")
	return cmd
}

func newLotOpenCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "open CODE LOT",
		Short: "Say which lot of a pigment or resin is in use",
		Long: `Says that a lot is the one in use from now on. Batches and pours then name it by
themselves, a match counts its strength if it is known, and a reorder warns when it
is not the lot that was approved.

` + jsonKeys(workbench.LotOutcome{}),
		Args: needs("CODE", "LOT"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return tellLot(cmd.Context(), env, func(b *workbench.Bench) (workbench.LotOutcome, error) {
				return workbench.OpenLot(cmd.Context(), b, workbench.OpenLotRequest{Code: args[0], Lot: args[1]})
			})
		},
	}
}

// tellLot does something to a lot and says so.
func tellLot(ctx context.Context, env *Env, do func(*workbench.Bench) (workbench.LotOutcome, error)) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := do(b)
		if err != nil {
			return err
		}
		if env.JSON {
			return env.emit(v)
		}
		used := ""
		if v.InUse {
			used = ", in use"
		}
		env.print("lot %s of %s %s%s", tidy(v.Lot.Lot), v.Code, v.Outcome, used)
		return nil
	})
}

func newLotListCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "list [CODE]",
		Short: "List lots, which are in use, and what was learnt of them",
		Long: `Lists the lots of all pigments and resins, or of one, the newest first.

` + jsonKeys(workbench.LotList{}),
		Args: atMost("CODE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runLotList(cmd.Context(), env, append(args, "")[0])
		},
	}
}

func runLotList(ctx context.Context, env *Env, code string) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.LotList, error) { return workbench.Lots(ctx, b, code) }, func(v workbench.LotList) {
		if len(v.Lots) == 0 {
			env.say("no lot yet; masstone lot add CODE LOT --open")
			return
		}
		t := newTable("code", "lot", "in use", "received", "against the calibrated lot", "note")
		for _, l := range v.Lots {
			strength, used := "not known", ""
			if l.Strength != nil {
				strength = l.Strength.String()
			}
			if l.InUse {
				used = "in use"
			}
			t.add(l.Code, l.Lot, used, l.Received, strength, l.Note)
		}
		t.print(env.Stdout)
	})
}
