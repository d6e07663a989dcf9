package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"masstone/recipes/archive"
	"masstone/recipes/batch"
)

func newPourCommand(env *Env) *cobra.Command {
	return newFamily("pour", "Pours: add, read, list, show", newPourAddCommand(env), newPourReadCommand(env), newPourListCommand(env), newPourShowCommand(env))
}

var inCelsius = measure{units: []unit{{"c", 1}, {"°c", 1}}, above: -40, upTo: 60, reach: true, examples: "21 or 21C"}

type pourAddOptions struct {
	batch         string
	asSheet       bool
	weighed, lots []string
	date, note    string
	room          float64
	roomGiven     bool
}

func newPourAddCommand(env *Env) *cobra.Command {
	var o pourAddOptions
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

JSON keys: ` + pourKeys + `.`,
		Args: needs("BATCH"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.batch = args[0]
			o.roomGiven = cmd.Flags().Changed("room")
			return runPourAdd(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	f.BoolVar(&o.asSheet, "as-sheet", false, "every line was weighed as the sheet says")
	f.StringArrayVar(&o.weighed, "weighed", nil, "what the scale showed for a line, `ITEM=GRAMS` (may be repeated)")
	f.StringArrayVar(&o.lots, "lot", nil, "lot used of a pigment or the resin, `CODE=LOT` (may be repeated; else the batch's)")
	dayVar(f, &o.date, "date", "day it was poured, 2026-03-31 (else today)")
	numberVar(f, &o.room, "room", inCelsius, 0, "room temperature in `°C`, such as 21C")
	f.StringVar(&o.note, "note", "", "remark kept with the pour")
	return cmd
}

func runPourAdd(ctx context.Context, env *Env, o pourAddOptions) error {
	if o.asSheet && len(o.weighed) > 0 {
		return misusef("pour of %s: give either --as-sheet or --weighed", o.batch)
	}
	shown, err := batch.ParsePoured(o.weighed)
	if err != nil {
		return misuse{errors.New("--weighed: " + strings.TrimPrefix(strings.Replace(err.Error(), "poured ", "", 1), "batch: "))}
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		k, err := b.Batch(ctx, o.batch)
		if err != nil {
			return err
		}
		p := archive.Pour{Batch: k.Ref, PouredOn: o.date, Note: o.note}
		if o.roomGiven {
			p.RoomC = &o.room
		}
		if p.Lines, err = weighedLines(ctx, b, k, shown); err != nil {
			return err
		}
		named, err := namedLots(ctx, b, o.lots)
		if err != nil {
			return err
		}
		if p.Lots, err = pouredLots(ctx, b, k, named, o.date == ""); err != nil {
			return err
		}
		if p, err = b.AddPour(ctx, p); err != nil {
			return advisePour(err)
		}
		env.warnAhead(o.date)
		c, err := castOf(ctx, b, p)
		if err != nil {
			return err
		}
		if env.JSON {
			return env.emit(viewPour(c))
		}
		printPour(env, c)
		printCaution(env)
		env.say("when it has cured: masstone pour read %s --lab L,a,b --illuminant D65", p.ID())
		return nil
	})
}

// printCaution reminds whoever handles resin and pastes.
func printCaution(env *Env) {
	for i, line := range wrapped(batch.Caution, 66) {
		env.print("%-9s%s", [2]string{"Caution:"}[min(i, 1)], line)
	}
}

// advisePour adds how to make a lot known.
func advisePour(err error) error {
	if errors.Is(err, archive.ErrNotFound) && strings.Contains(err.Error(), "lot") {
		return fmt.Errorf("%w; masstone lot add CODE LOT makes it known", err)
	}
	return err
}

// weighedLines are the lines of a batch with what the scale showed instead; nil
// if all are as the sheet says.
func weighedLines(ctx context.Context, b *archive.Bench, k archive.Batch, shown batch.Poured) ([]archive.Line, error) {
	if len(shown) == 0 {
		return nil, nil
	}
	sheet, err := sheetOf(k)
	if err != nil {
		return nil, err
	}
	if len(sheet.Lines) == 0 { // no sheet, or one of additions
		for _, l := range k.Lines {
			sheet.Lines = append(sheet.Lines, batch.Line{Item: l.Item, Grams: batch.Grams(l.Grams), Pigment: l.Item})
		}
	}
	shelf, err := pigmentCodes(ctx, b)
	if err != nil {
		return nil, err
	}
	amounts, err := sheet.Amounts(shown)
	if err != nil {
		return nil, err
	}
	for _, a := range amounts[len(sheet.Lines):] { // what is no line of the sheet
		if !slices.Contains(shelf, a.Item) {
			var items []string
			for _, l := range sheet.Lines {
				items = append(items, l.Item)
			}
			return nil, fmt.Errorf("%s is no line of batch %s and no pigment on the shelf; its lines are %s", a.Item, k.ID(), listed(items))
		}
	}
	return linesOf(amounts), nil
}

// pouredLots are the lots named, for the rest those meant for the batch, and for
// the rest of a pour of today those in use.
func pouredLots(ctx context.Context, b *archive.Bench, k archive.Batch, named []archive.LotName, today bool) ([]archive.LotName, error) {
	more := k.Lots
	if today {
		r, err := b.RecipeRef(ctx, k.Recipe)
		if err != nil {
			return nil, err
		}
		inUse, err := lotsInUse(ctx, b, r.Resin, codesOf(r))
		if err != nil {
			return nil, err
		}
		more = append(slices.Clone(more), inUse...)
	}
	lots := append([]archive.LotName{}, named...)
	for _, l := range more {
		if lotOf(lots, l.Item, l.Code) == "" {
			lots = append(lots, l)
		}
	}
	return lots, nil
}

// pourView is a pour in JSON.
type pourView struct {
	Pour     string            `json:"pour"`
	Batch    string            `json:"batch"`
	Recipe   string            `json:"recipe"`
	Target   string            `json:"target,omitempty"`
	Client   string            `json:"client,omitempty"`
	Resin    string            `json:"resin"`
	On       string            `json:"poured_on"`
	AsSheet  bool              `json:"as_sheet"`
	Stock    string            `json:"stock,omitempty"`
	Lines    []amountView      `json:"lines"`
	Loadings map[string]fig    `json:"loadings_phr"`
	Lots     map[string]string `json:"lots"`
	RoomC    *fig              `json:"room_c,omitempty"`
	Note     string            `json:"note,omitempty"`
	Readings int               `json:"readings"`
	Verdict  *verdictView      `json:"verdict,omitempty"`
}

type amountView struct {
	Item  string `json:"item"`
	Grams fig    `json:"grams"`
}

const pourKeys = `pour, batch, recipe, target, client, resin, poured_on, as_sheet, stock,
lines (a list of item, grams, as weighed), loadings_phr (as weighed), lots (by
code), room_c, note, readings (times it was read), verdict`

func viewAmounts(lines []archive.Line) []amountView {
	out := make([]amountView, len(lines))
	for i, l := range lines {
		out[i] = amountView{l.Item, fig(l.Grams)}
	}
	return out
}

func viewPour(c cast) pourView {
	loadings, _ := c.held.Loadings() // none where no resin was weighed
	v := pourView{Pour: c.pour.ID(), Batch: c.batch.ID(), Recipe: c.recipe.ID(), Target: c.recipe.Target, Client: c.recipe.Client, Resin: c.recipe.Resin,
		On: c.pour.PouredOn, AsSheet: c.pour.AsSheet, Stock: c.batch.Stock, Lines: viewAmounts(c.pour.Lines), Loadings: figures(loadings),
		Lots: lotsView(c.pour.Lots), Note: c.pour.Note, Readings: len(c.readings), Verdict: c.verdict}
	if c.pour.RoomC != nil {
		room := fig(*c.pour.RoomC)
		v.RoomC = &room
	}
	return v
}

func printPour(env *Env, c cast) {
	head := fmt.Sprintf("pour %s of batch %s, recipe %s", c.pour.ID(), c.batch.ID(), c.recipe.ID())
	if c.recipe.Target != "" {
		head += fmt.Sprintf(" for %q%s", tidy(c.recipe.Target), forClient(c.recipe.Client))
	}
	env.print("%s, on %s", head, c.pour.PouredOn)
	how := "as weighed"
	if c.pour.AsSheet {
		how = "as the sheet says"
	}
	if c.batch.Stock != "" {
		how = "from stock " + tidy(c.batch.Stock)
	}
	t := newTable("item", ">grams")
	for _, l := range c.pour.Lines {
		t.add(l.Item, short(l.Grams))
	}
	t.print(env.Stdout)
	if loadings, err := c.held.Loadings(); err == nil {
		env.print("%s: %s phr", how, recipeText(loadings, " ", ", "))
	}
	if len(c.pour.Lots) > 0 {
		env.print("lots: %s", tidy(lotsText(c.pour.Lots)))
	}
	if c.pour.RoomC != nil {
		env.print("room at %s °C", short(*c.pour.RoomC))
	}
	if c.pour.Note != "" {
		env.print("note: %s", tidy(c.pour.Note))
	}
}
