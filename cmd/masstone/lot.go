package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"masstone/calibrate"
	"masstone/recipes/archive"
)

func newLotCommand(env *Env) *cobra.Command {
	return newFamily("lot", "Lots of pigments and resins: add, open, list, learn", newLotAddCommand(env), newLotOpenCommand(env), newLotListCommand(env), newLotLearnCommand(env))
}

type lotAddOptions struct {
	code, lot, received, note string
	grams                     float64
	open, replace             bool
}

// lotView is a lot in JSON.
type lotView struct {
	Item     string        `json:"item"`
	Code     string        `json:"code"`
	Lot      string        `json:"lot"`
	Received string        `json:"received,omitempty"`
	Grams    *fig          `json:"grams,omitempty"`
	InUse    bool          `json:"in_use"`
	Strength *strengthView `json:"strength,omitempty"`
	Note     string        `json:"note,omitempty"`
}

const lotKeys = `item (pigment or resin), code, lot,
received, grams, in_use, strength (` + strengthKeys + `), note`

func newLotAddCommand(env *Env) *cobra.Command {
	var o lotAddOptions
	cmd := &cobra.Command{
		Use:   "add CODE LOT",
		Short: "Add a lot of a pigment or resin",
		Long: `Adds a lot: one delivery, as its label names it. --open says that it is the one
in use from now on, which batches and pours then name by themselves.

  masstone lot add RD L123 --received 2026-03-31 --open

JSON keys: outcome (added, unchanged, changed), ` + lotKeys + `.`,
		Args: needs("CODE", "LOT"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.code, o.lot = args[0], args[1]
			return runLotAdd(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	dayVar(f, &o.received, "received", "day it came, 2026-03-31")
	numberVar(f, &o.grams, "grams", inGrams, 0, "how much came, such as 1kg")
	f.StringVar(&o.note, "note", "", "remark kept with it")
	f.BoolVar(&o.open, "open", false, "it is in use from now on")
	f.BoolVar(&o.replace, "replace", false, "replace the lot's card")
	return cmd
}

func runLotAdd(ctx context.Context, env *Env, o lotAddOptions) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		item, err := itemOf(ctx, b, o.code)
		if err != nil {
			return err
		}
		l := archive.Lot{Item: item, Code: o.code, Name: o.lot, Received: o.received, Grams: o.grams, Note: o.note}
		var outcome archive.Outcome
		err = b.Together(ctx, func(b *archive.Bench) error {
			if outcome, err = b.PutLot(ctx, l, onChange(o.replace)); err != nil || !o.open {
				return advise(err, "add --replace to replace the card")
			}
			_, err := b.OpenLot(ctx, archive.LotName{Item: item, Code: o.code, Name: o.lot})
			return err
		})
		if err != nil {
			return err
		}
		return tellLot(ctx, env, b, l, string(outcome))
	})
}

// tellLot prints or emits a lot after something was done to it.
func tellLot(ctx context.Context, env *Env, b *archive.Bench, l archive.Lot, outcome string) error {
	v, err := viewLot(ctx, b, l)
	if err != nil {
		return err
	}
	if env.JSON {
		return env.emit(struct {
			Outcome string `json:"outcome"`
			lotView
		}{outcome, v})
	}
	text := fmt.Sprintf("lot %s of %s %s", tidy(l.Name), l.Code, outcome)
	if v.InUse {
		text += ", in use"
	}
	env.print("%s", text)
	return nil
}

func viewLot(ctx context.Context, b *archive.Bench, l archive.Lot) (lotView, error) {
	v := lotView{Item: l.Item, Code: l.Code, Lot: l.Name, Received: l.Received, Grams: optional(l.Grams), Note: l.Note}
	opened, err := b.OpenedLots(ctx)
	if err != nil {
		return v, err
	}
	for _, o := range opened {
		v.InUse = v.InUse || o.Item == l.Item && o.Code == l.Code && o.Lot == l.Name
	}
	strengths, err := b.LotStrengths(ctx)
	if err != nil {
		return v, err
	}
	for _, s := range strengths {
		if s.Item == l.Item && s.Code == l.Code && s.Lot == l.Name {
			view := viewStrength(l.Code, l.Name, calibrate.Strength{Ln: s.LnStrength, SD: s.SD})
			v.Strength = &view
		}
	}
	return v, nil
}

func newLotOpenCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "open CODE LOT",
		Short: "Say which lot of a pigment or resin is in use",
		Long: `Says that a lot is the one in use from now on. Batches and pours then name it by
themselves, a match counts its strength if it is known, and a reorder warns when it
is not the lot that was approved.

JSON keys: outcome (added, unchanged, changed), ` + lotKeys + `.`,
		Args: needs("CODE", "LOT"),
		RunE: func(cmd *cobra.Command, args []string) error { return runLotOpen(cmd.Context(), env, args[0], args[1]) },
	}
}

func runLotOpen(ctx context.Context, env *Env, code, lot string) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		l, err := lotNamed(ctx, b, code, lot)
		if err != nil {
			return err
		}
		outcome, err := b.OpenLot(ctx, archive.LotName{Item: l.Item, Code: l.Code, Name: l.Name})
		if err != nil {
			return err
		}
		return tellLot(ctx, env, b, l, string(outcome))
	})
}

// lotNamed finds a lot of a pigment or resin.
func lotNamed(ctx context.Context, b *archive.Bench, code, lot string) (archive.Lot, error) {
	item, err := itemOf(ctx, b, code)
	if err != nil {
		return archive.Lot{}, err
	}
	lots, err := b.Lots(ctx, item, code)
	if err != nil {
		return archive.Lot{}, err
	}
	var names []string
	for _, l := range lots {
		if l.Name == lot {
			return l, nil
		}
		names = append(names, l.Name)
	}
	if len(names) == 0 {
		return archive.Lot{}, fmt.Errorf("%s has no lot %q; masstone lot add %s %s", code, lot, code, quoted(lot))
	}
	return archive.Lot{}, fmt.Errorf("%s has no lot %q; it has %s", code, lot, listed(names))
}

func newLotListCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "list [CODE]",
		Short: "List lots, which are in use, and what was learnt of them",
		Long: `Lists the lots of all pigments and resins, or of one, the newest first.

JSON keys: lots, a list of ` + lotKeys + `.`,
		Args: atMost("CODE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			code := ""
			if len(args) > 0 {
				code = args[0]
			}
			return runLotList(cmd.Context(), env, code)
		},
	}
}

func runLotList(ctx context.Context, env *Env, code string) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		var of []archive.LotName // without a name
		if code != "" {
			item, err := itemOf(ctx, b, code)
			if err != nil {
				return err
			}
			of = append(of, archive.LotName{Item: item, Code: code})
		} else {
			resins, err := b.Resins(ctx)
			if err != nil {
				return err
			}
			for _, r := range resins {
				of = append(of, archive.LotName{Item: archive.OfResin, Code: r.Code})
			}
			pigments, err := pigmentCodes(ctx, b)
			if err != nil {
				return err
			}
			for _, p := range pigments {
				of = append(of, archive.LotName{Item: archive.OfPigment, Code: p})
			}
		}
		views := []lotView{}
		t := newTable("code", "lot", "in use", "received", "against the calibrated lot", "note")
		for _, what := range of {
			lots, err := b.Lots(ctx, what.Item, what.Code)
			if err != nil {
				return err
			}
			for _, l := range lots {
				v, err := viewLot(ctx, b, l)
				if err != nil {
					return err
				}
				views = append(views, v)
				strength, used := "not known", ""
				if v.Strength != nil {
					strength = strengthText(calibrate.Strength{Ln: float64(v.Strength.Ln), SD: float64(v.Strength.SD)})
				}
				if v.InUse {
					used = "in use"
				}
				t.add(l.Code, l.Name, used, l.Received, strength, l.Note)
			}
		}
		switch {
		case env.JSON:
			return env.emit(struct {
				Lots []lotView `json:"lots"`
			}{views})
		case len(views) == 0:
			env.say("no lot yet; masstone lot add CODE LOT --open")
			return nil
		}
		t.print(env.Stdout)
		return nil
	})
}
