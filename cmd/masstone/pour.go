package main

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"masstone/cmd/masstone/typed"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func newPourCommand(env *Env) *cobra.Command {
	return newFamily("pour", "Pours: add, read, list, show, withdraw", newPourAddCommand(env), newPourReadCommand(env), newPourListCommand(env), newPourShowCommand(env), newPourWithdrawCommand(env))
}

func newPourAddCommand(env *Env) *cobra.Command {
	var r workbench.AddPourRequest
	var room float64
	cmd := &cobra.Command{
		Use:   "add BATCH [--as-sheet | --weighed ITEM=GRAMS ...]",
		Short: "Record what was really weighed and poured of a batch",
		Long: `Records a pour: what was really weighed of a batch, of which lots, when. Lines
that --weighed does not name are as the sheet says; so are all with --as-sheet, or
without either. Of lots that --lot does not name, those meant for the batch count,
else, without --date, those in use.

  masstone pour add B1 --as-sheet
  masstone pour add B1 --weighed RD=1.32 --lot RD=L123 --room 21C

The pour is called P1, P2, ...; "masstone pour read P1" takes the reading of the
cured part.

` + jsonKeys(workbench.Pour{}),
		Args: needs("BATCH"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Batch = args[0]
			if cmd.Flags().Changed("room") {
				r.RoomC = &room
			}
			return runPourAdd(cmd.Context(), env, r)
		},
	}
	f := cmd.Flags()
	f.BoolVar(&r.AsSheet, "as-sheet", false, "every line was weighed as the sheet says")
	f.Var(&weighedFlag{value: &r.Weighed}, "weighed", "what the scale showed for a line, `ITEM=GRAMS` (may be repeated)")
	f.Var(lotsFlag{&r.Lots}, "lot", "lot used of a pigment or the resin, `CODE=LOT` (may be repeated; else the batch's)")
	dayVar(f, &r.On, "date", "day it was poured, 2026-03-31 (else today)")
	numberVar(f, &room, "room", inCelsius, 0, "room temperature in `°C`, such as 21C")
	f.StringVar(&r.Note, "note", "", "remark kept with the pour")
	againVar(f, &r.Again)
	return cmd
}

func runPourAdd(ctx context.Context, env *Env, r workbench.AddPourRequest) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := onceMore(ctx, env, &r.Again, func() (workbench.Pour, error) { return workbench.AddPour(ctx, b, r) })
		if err != nil {
			return err
		}
		env.remark(v.Remarks)
		if env.JSON {
			return env.emit(v)
		}
		printPour(env, v)
		printJars(env, v.Jars, v.ScaleGrams)
		printCaution(env)
		env.say("when it has cured: masstone pour read %s --lab L,a,b --illuminant D65", v.Pour)
		return nil
	})
}

// weighedFlag is a flag of what the scale showed: RD=1.32, repeated.
type weighedFlag struct {
	value *batch.Poured
	texts []string
}

func (w *weighedFlag) Type() string   { return "ITEM=GRAMS" }
func (w *weighedFlag) String() string { return strings.Join(w.texts, " ") }

func (w *weighedFlag) Set(text string) error {
	w.texts = append(w.texts, text)
	shown, err := itemsWeighed(w.texts)
	*w.value = shown
	return err
}

// itemsWeighed reads what the scale showed for items, ITEM=GRAMS each.
func itemsWeighed(texts []string) (batch.Poured, error) {
	shown := make(batch.Poured, len(texts))
	for _, text := range texts {
		item, grams, found := cutLast(text, "=")
		item = strings.TrimSpace(item)
		if !found || item == "" {
			return nil, fmt.Errorf("%q: give ITEM=GRAMS, such as RD=1.32", text)
		}
		g, err := onScale.Parse(grams)
		if err != nil {
			return nil, fmt.Errorf("%q: %w", text, err)
		}
		if _, twice := shown[item]; twice {
			return nil, fmt.Errorf("%s is given twice; give the sum once", item)
		}
		shown[item] = batch.Grams(g)
	}
	return shown, nil
}

// lotsFlag is a flag of lots by code: RD=L123,WH=7.
type lotsFlag struct{ value *map[string]string }

func (l lotsFlag) Type() string { return "CODE=LOT" }

func (l lotsFlag) String() string {
	if l.value == nil {
		return ""
	}
	return lotsOf(*l.value)
}

func (l lotsFlag) Set(text string) error {
	if *l.value == nil {
		*l.value = map[string]string{}
	}
	return typed.Lots(*l.value, text)
}

// lotsOf lists lots by code: FG K-1, WH 7.
func lotsOf(lots map[string]string) string {
	var parts []string
	for _, code := range slices.Sorted(maps.Keys(lots)) {
		parts = append(parts, code+" "+lots[code])
	}
	return tidy(figure.List(parts))
}

// printCaution reminds whoever handles resin and pastes.
func printCaution(env *Env) {
	for i, line := range wrapped(batch.Caution, 66) {
		env.print("%-9s%s", [2]string{"Caution:"}[min(i, 1)], line)
	}
}

func printPour(env *Env, v workbench.Pour) {
	head := fmt.Sprintf("pour %s of batch %s, recipe %s", v.Pour, v.Batch, v.Recipe)
	if v.Target != "" {
		head += fmt.Sprintf(" for %s%s", named(v.Target), forClient(v.Client))
	}
	env.print("%s, on %s", head, v.On)
	t := newTable("item", ">grams")
	for _, l := range v.Lines {
		t.add(l.Item, figure.Grams(l.Grams, v.ScaleGrams))
	}
	t.print(env.Stdout)
	if how := "as weighed"; len(v.Loadings) > 0 {
		switch {
		case v.Stock != "":
			how = "from stock " + tidy(v.Stock)
		case v.AsSheet:
			how = "as the sheet says"
		}
		env.print("%s: %s phr", how, figure.Loadings(v.Loadings))
	}
	if len(v.Lots) > 0 {
		env.print("lots: %s", lotsOf(v.Lots))
	}
	if v.RoomC != nil {
		env.print("room at %s °C", figure.Short(float64(*v.RoomC)))
	}
	if v.Note != "" {
		env.print("note: %s", tidy(v.Note))
	}
}
