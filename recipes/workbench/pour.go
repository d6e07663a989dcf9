package workbench

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"masstone/calibrate"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
	"masstone/recipes/kept"
)

// An AddPourRequest records what was really weighed and poured of a batch.
type AddPourRequest struct {
	Batch   string
	AsSheet bool         // every line was weighed as the sheet says
	Weighed batch.Poured // what the scale showed, where it was not what the sheet says
	// Lots used, by code of pigment or resin; of others those meant for the
	// batch count, then those in use if the pour is of today.
	Lots  map[string]string
	On    string   // day, 2026-03-31; today if empty
	RoomC *float64 // room temperature, °C; nil if nobody looked
	Note  string
	Again bool // meant, though the same was recorded a moment ago
}

// A Pour is what was weighed and poured of a batch.
type Pour struct {
	Pour     string                   `json:"pour"`
	Batch    string                   `json:"batch"`
	Recipe   string                   `json:"recipe"`
	Target   string                   `json:"target,omitempty"`
	Client   string                   `json:"client,omitempty"`
	Resin    string                   `json:"resin"`
	On       string                   `json:"poured_on"`
	AsSheet  bool                     `json:"as_sheet"`
	Stock    string                   `json:"stock,omitempty"`
	Lines    []Amount                 `json:"lines" doc:"as weighed"`
	Loadings map[string]figure.Number `json:"loadings_phr" doc:"as weighed"`
	Lots     map[string]string        `json:"lots" doc:"by code"`
	RoomC    *figure.Number           `json:"room_c,omitempty"`
	Note     string                   `json:"note,omitempty"`
	Readings int                      `json:"readings" doc:"times it was read"`
	Verdict  *kept.Verdict            `json:"verdict,omitempty" as:"pour read"`
	Jars     []Jar                    `json:"jars,omitempty" doc:"pre-dilutions taken from, when it is recorded"`

	ScaleGrams calibrate.Grams `json:"-"` // step of the scale, 0 if it is not known

	Remarks Remarks `json:"-"`
}

// view is a cast as results show it.
func (c cast) view() Pour {
	loadings, _ := c.contents.Loadings() // none where no resin was weighed
	v := Pour{Pour: c.pour.ID(), Batch: c.batch.ID(), Recipe: c.recipe.ID(), Target: c.recipe.Target, Client: c.recipe.Client, Resin: c.recipe.Resin,
		On: c.pour.PouredOn, AsSheet: c.pour.AsSheet, Stock: c.batch.Stock, Lines: amounts(c.pour.Lines), Loadings: figure.Map(loadings),
		Lots: lotsByCode(c.pour.Lots), Note: c.pour.Note, Readings: len(c.readings), Verdict: c.verdict, ScaleGrams: calibrate.Grams(c.batch.ScaleGrams)}
	if c.pour.RoomC != nil {
		v.RoomC = figure.Of(*c.pour.RoomC)
	}
	return v
}

// AddPour records a pour of a batch.
func AddPour(ctx context.Context, b *Bench, r AddPourRequest) (Pour, error) {
	if r.AsSheet && len(r.Weighed) > 0 {
		return Pour{}, invalid("weighed", "pour of %s: give either %s or %s", r.Batch, remedy.Input("as-sheet"), remedy.Input("weighed"))
	}
	var v Pour
	err := together(ctx, b, &v, func(a *archive.Bench) error {
		c, jars, err := r.store(ctx, b, a, nil, &v.Remarks)
		if err != nil {
			return err
		}
		say := v.Remarks
		v = c.view()
		v.Jars, v.Remarks = jars, say
		return nil
	})
	b.warnAhead(r.On, &v.Remarks)
	return v, err
}

// store stores the pour, of a run or of none, and takes from the jars what it took of
// pre-dilutions. What it shares with an earlier one was taken with that.
func (r AddPourRequest) store(ctx context.Context, b *Bench, a *archive.Bench, run *archive.Run, say *Remarks) (cast, []Jar, error) {
	k, err := a.Batch(ctx, r.Batch)
	if err != nil {
		return cast{}, nil, err
	}
	p := archive.Pour{Batch: k.Ref, PouredOn: r.On, RoomC: r.RoomC, Note: r.Note}
	pot, err := r.weigh(ctx, a, k, run, &p, say)
	if err != nil {
		return cast{}, nil, err
	}
	if k.Stock != "" {
		if err := sayDrawn(ctx, a, k, run, say); err != nil {
			return cast{}, nil, err
		}
	}
	if pot != nil {
		k.Lots = pot.pour.Lots
		pot.told(k, say)
	}
	if p.Lots, err = pouredLots(ctx, a, k, r.Lots, r.On == "" && pot == nil); err != nil {
		return cast{}, nil, err
	}
	if p, err = a.AddPour(ctx, p); err != nil {
		return cast{}, nil, adviseLot(err)
	}
	if err := r.repeats(ctx, a, p); err != nil {
		return cast{}, nil, err
	}
	c, err := castOf(ctx, a, p)
	if err != nil {
		return cast{}, nil, err
	}
	jars, err := c.drawJars(ctx, b, a, pot, say)
	return c, jars, err
}

// repeats refuses a pour that was recorded a moment ago.
func (r AddPourRequest) repeats(ctx context.Context, a *archive.Bench, p archive.Pour) error {
	all, err := a.PoursOfBatch(ctx, p.Batch)
	if err != nil || r.Again || len(all) < 2 {
		return err
	}
	before := all[len(all)-2]
	first, again := before.Stamp, p.Stamp
	what := before.ID() + " is such a pour"
	if before.Fact, p.Fact = (archive.Fact{}), (archive.Fact{}); same(before, p) {
		return twice(what, first, again)
	}
	return nil
}

// warnAhead says so if a day that should be past is not; one day off may be a
// matter of time zones.
func (b *Bench) warnAhead(day string, say *Remarks) {
	if t, err := time.Parse(time.DateOnly, day); err == nil && t.After(b.now().Add(24*time.Hour)) {
		say.warn("%s lies ahead of today, %s", day, b.now().Format(time.DateOnly))
	}
}

// adviseLot adds how to make a lot known.
func adviseLot(err error) error {
	if errors.Is(err, archive.ErrNotFound) && strings.Contains(err.Error(), "lot") {
		return fmt.Errorf("%w; %s makes it known", err, remedy.Verb("lot add", "CODE", "LOT"))
	}
	return err
}

// weigh fills in the lines of a pour: those of its batch with what the scale showed
// instead, nil if all are as the sheet says. It returns the pot that the pour comes
// out of, nil if that was weighed for it.
func (r AddPourRequest) weigh(ctx context.Context, a *archive.Bench, k archive.Batch, run *archive.Run, p *archive.Pour, say *Remarks) (*sharedPot, error) {
	recipe, err := a.RecipeRef(ctx, k.Recipe)
	if err != nil {
		return nil, err
	}
	resin, err := a.Resin(ctx, recipe.Resin)
	if err != nil {
		return nil, err
	}
	sheet, err := linesToWeigh(k, batch.Side(resin.PigmentSide))
	if err != nil {
		return nil, err
	}
	pot, err := potOf(ctx, a, k, sheet, run)
	if err != nil {
		return nil, err
	}
	cup := 0
	if pot != nil && !r.AsSheet && !pot.pour.AsSheet {
		sheet = asWeighed(sheet, pot.pour.Lines)
	}
	if pot != nil {
		cup = pot.cups
	}
	if len(r.Weighed) == 0 && (r.AsSheet || pot == nil || pot.pour.AsSheet) {
		if pot != nil && k.AddsTo == "" && !pot.holds(sheet, k.Lines) {
			return nil, nil // weighed anew
		}
		return pot, nil
	}
	if p.Lines, err = weighedLines(ctx, a, k, sheet, r.Weighed, cup, say); err != nil {
		return nil, err
	}
	if pot != nil && k.AddsTo == "" && !pot.holds(sheet, p.Lines) {
		return nil, nil
	}
	return pot, nil
}

// weighedLines are the lines of a sheet with what the scale showed instead, of a cup
// of it counted from 0.
func weighedLines(ctx context.Context, a *archive.Bench, k archive.Batch, sheet batch.Sheet, shown batch.Poured, cup int, say *Remarks) ([]archive.Line, error) {
	shelf, err := pigmentCodes(ctx, a)
	if err != nil {
		return nil, err
	}
	weighed, err := sheet.Amounts(shown)
	if err != nil {
		return nil, err
	}
	for _, w := range weighed[len(sheet.Lines):] { // what is no line of the sheet
		if !slices.Contains(shelf, w.Item) {
			return nil, &Error{NotFound, "weighed", &archive.UnknownName{Name: w.Item, Err: fmt.Errorf("%s is no line of batch %s and no pigment on the shelf; its lines are %s", w.Item, k.ID(), itemsOf(weighed[:len(sheet.Lines)]))}}
		}
	}
	if _, said := shown[clockSide(sheet)]; said {
		ofOneCup(sheet, weighed, cup, say)
	}
	return linesOf(weighed), nil
}

// itemsOf lists what amounts are of.
func itemsOf(amounts []batch.Amount) string {
	items := make([]string, len(amounts))
	for i, a := range amounts {
		items[i] = a.Item
	}
	return figure.List(items)
}

// pouredLots are the lots named, for the rest those meant for the batch, and for
// the rest of a pour of today those in use.
func pouredLots(ctx context.Context, a *archive.Bench, k archive.Batch, named map[string]string, today bool) ([]archive.LotName, error) {
	lots := []archive.LotName{}
	for _, code := range slices.Sorted(maps.Keys(named)) {
		item, err := itemOf(ctx, a, code)
		if err != nil {
			return nil, err
		}
		lots = append(lots, archive.LotName{Item: item, Code: code, Name: named[code]})
	}
	others := k.Lots
	if today {
		r, err := a.RecipeRef(ctx, k.Recipe)
		if err != nil {
			return nil, err
		}
		inUse, err := lotsInUse(ctx, a, r.Resin, codesOf(r))
		if err != nil {
			return nil, err
		}
		others = append(slices.Clone(others), inUse...)
	}
	for _, l := range others {
		if lotOf(lots, l.Item, l.Code) == "" {
			lots = append(lots, l)
		}
	}
	return lots, nil
}
