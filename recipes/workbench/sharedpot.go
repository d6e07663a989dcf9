package workbench

import (
	"context"
	"errors"
	"math"
	"slices"

	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
	"masstone/recipes/kept"
)

// A sharedPot is a pot that was weighed for an earlier pour and that more is cast
// of: by the cups of a sheet with several, and by the shots of a pot that was added
// to. What went into it went in once.
type sharedPot struct {
	pour  archive.Pour       // out of it; its lines are what went in
	cups  int                // of its sheet that are on record as cups of a run
	whole bool               // it was recorded as the whole batch, not as a cup
	took  map[string]float64 // g of its items that are on record
}

// newPot is a pot as its first pour says.
func newPot(p archive.Pour) *sharedPot {
	pot := &sharedPot{took: map[string]float64{}}
	pot.tell(p)
	return pot
}

// tell takes down what a pour says of the pot.
func (p *sharedPot) tell(of archive.Pour) {
	p.pour = of
	for _, l := range of.Lines {
		p.took[l.Item] = max(p.took[l.Item], l.Grams)
	}
}

// told says with which pour it is on record what went into the pot.
func (p *sharedPot) told(k archive.Batch, say *Remarks) {
	if k.AddsTo != "" {
		say.say("what was added to the pot is on record with %s: this is another shot of it", p.pour.ID())
		return
	}
	say.say("what went into the pot is on record with %s: this is another cup of it; a pot that was weighed anew is recorded first, with %s", p.pour.ID(), remedy.Verb("pour add", k.ID()))
}

// sayDrawn says that a batch drawn from a stock is one shot, which was taken from it
// with the first pour: as a cup of a run it may be told once more.
func sayDrawn(ctx context.Context, a *archive.Bench, k archive.Batch, run *archive.Run, say *Remarks) error {
	pours, err := a.PoursOfBatch(ctx, k.Ref)
	if err != nil || len(pours) == 0 || len(pours) == 1 && run != nil {
		return err
	}
	say.warn("%s is one shot, drawn from stock %s with %s: nothing more is taken from the stock; draw each shot with %s", k.ID(), k.Stock, pours[0].ID(), remedy.Verb("stock draw", k.Stock, remedy.Input("pour")))
	return nil
}

// linesToWeigh is a batch as its sheet has it, each pre-dilution with its pigment. A batch
// that was drawn from a stock or is added to a pot has no sheet of its own.
func linesToWeigh(k archive.Batch, side batch.Side) (batch.Sheet, error) {
	sheet, err := sheetOf(k)
	if err != nil || len(sheet.Lines) > 0 {
		return sheet, err
	}
	if k.AddsTo != "" {
		pot, err := kept.ReadPot(k.ID(), k.Document)
		if err != nil {
			return sheet, err
		}
		sheet.Predilutions = batch.FromJars(pot, side)
	}
	for _, l := range k.Lines {
		sheet.Lines = append(sheet.Lines, lineOf(sheet, l))
	}
	return sheet, nil
}

// lineOf is what was weighed as a line of a sheet.
func lineOf(s batch.Sheet, l archive.Line) batch.Line {
	line := batch.Line{Item: l.Item, Kind: batch.PigmentLine, Pigment: l.Item, Grams: batch.Grams(l.Grams)}
	if at := slices.IndexFunc(s.Predilutions, func(p batch.Predilution) bool { return p.Item == l.Item }); at >= 0 {
		line.Kind, line.Pigment = batch.DilutionLine, s.Predilutions[at].Pigment
	}
	if l.Item == string(batch.SideA) || l.Item == string(batch.SideB) {
		line.Kind, line.Pigment = batch.ResinLine, ""
	}
	return line
}

// asWeighed is a sheet with what went into a pot in place of what it says.
func asWeighed(s batch.Sheet, lines []archive.Line) batch.Sheet {
	s.Lines = slices.Clone(s.Lines)
	for _, l := range lines {
		at := slices.IndexFunc(s.Lines, func(x batch.Line) bool { return x.Item == l.Item })
		if at < 0 {
			s.Lines = append(s.Lines, lineOf(s, l))
			continue
		}
		s.Lines[at].Grams = batch.Grams(l.Grams)
	}
	return s
}

// inPot are the lines that went into the pot: all but the side that is weighed into
// each cup by itself.
func inPot(s batch.Sheet, lines []archive.Line) []archive.Line {
	return slices.DeleteFunc(slices.Clone(lines), func(l archive.Line) bool { return l.Item == clockSide(s) })
}

// clockSide is the item of a sheet whose side starts the pot life.
func clockSide(s batch.Sheet) string {
	for _, l := range s.Lines {
		if l.Clock {
			return l.Item
		}
	}
	return ""
}

// potOf is the pot that a batch's next pour may come out of, nil where it is weighed
// by itself. The shots of a pot that was added to are all of the one; of a sheet
// with several cups a run takes cup after cup, and a pot that is used up is weighed
// anew. One that was recorded as a whole while the run went on is shared out too.
func potOf(ctx context.Context, a *archive.Bench, k archive.Batch, sheet batch.Sheet, run *archive.Run) (*sharedPot, error) {
	if k.AddsTo == "" && (len(sheet.Cups) < 2 || run == nil) {
		return nil, nil
	}
	pours, err := a.PoursOfBatch(ctx, k.Ref)
	if err != nil || len(pours) == 0 {
		return nil, err
	}
	of, err := potsOf(ctx, a, k, sheet, pours)
	if err != nil {
		return nil, err
	}
	if pot := of[pours[len(pours)-1].Ref]; k.AddsTo != "" || pot.gives(sheet, *run) {
		return pot, nil
	}
	return nil, nil
}

// potsOf are the pots that pours of a batch, oldest first, came out of, by the Ref of the
// pour: of a batch that shares pots out.
func potsOf(ctx context.Context, a *archive.Bench, k archive.Batch, sheet batch.Sheet, pours []archive.Pour) (map[string]*sharedPot, error) {
	of := map[string]*sharedPot{}
	var pot *sharedPot
	for _, p := range pours {
		if k.AddsTo != "" {
			if pot == nil {
				pot = newPot(p)
			}
			pot.tell(p)
			of[p.Ref] = pot
			continue
		}
		cup, err := a.CupOfPour(ctx, p.Ref)
		switch {
		case errors.Is(err, archive.ErrNotFound):
			pot = newPot(p)
			pot.whole, of[p.Ref] = true, pot
			continue
		case err != nil:
			return nil, err
		}
		run, err := a.RunRef(ctx, cup.Run)
		if err != nil {
			return nil, err
		}
		if !pot.gives(sheet, run) || !pot.holds(sheet, p.Lines) {
			pot = newPot(p)
		}
		pot.cups++
		of[p.Ref] = pot
	}
	return of, nil
}

// casting names the pot that a part shares with others, empty where it was weighed by
// itself: what was weighed into it, and how strong its portions of paste were, is the
// same for all.
func (c cast) casting(ctx context.Context, a *archive.Bench) (string, error) {
	if c.batch.Stock != "" {
		return "stock " + c.batch.Stock, nil
	}
	sheet, err := sheetOf(c.batch)
	if err != nil || c.batch.AddsTo == "" && len(sheet.Cups) < 2 {
		return "", err
	}
	pours, err := a.PoursOfBatch(ctx, c.batch.Ref)
	if err != nil {
		return "", err
	}
	of, err := potsOf(ctx, a, c.batch, sheet, pours)
	if err != nil {
		return "", err
	}
	for _, p := range pours { // the first out of it
		if of[p.Ref] == of[c.pour.Ref] {
			return "pot of " + p.ID(), nil
		}
	}
	return "", nil
}

// gives tells whether a cup of a run may be of the pot.
func (p *sharedPot) gives(s batch.Sheet, run archive.Run) bool {
	return p != nil && p.cups < len(s.Cups) && !(p.whole && p.pour.At.Before(run.At))
}

// holds tells whether lines say of the pot what is on record of it.
func (p *sharedPot) holds(s batch.Sheet, lines []archive.Line) bool {
	return slices.EqualFunc(inPot(s, p.pour.Lines), inPot(s, lines), sameLine)
}

// ofOneCup counts the side that starts the pot life as a share of the pot where the
// scale showed what one cup takes of it, as the sheet has it cup by cup, and not the
// sum that stands among the lines: it is nearer to that.
func ofOneCup(s batch.Sheet, weighed []batch.Amount, cup int, say *Remarks) {
	if len(s.Cups) < 2 {
		return
	}
	side, of := clockSide(s), s.Cups[min(cup, len(s.Cups)-1)]
	at := slices.IndexFunc(weighed, func(x batch.Amount) bool { return x.Item == side })
	sum := batch.Mass{}
	for _, x := range inPotAmounts(weighed, side) {
		sum = sum.Plus(x.Grams)
	}
	if at < 0 || !of.Pigmented.Positive() || !of.Other.Positive() || !weighed[at].Grams.Positive() {
		return
	}
	shown, whole := weighed[at].Grams.Grams(), s.Lines[slices.IndexFunc(s.Lines, func(l batch.Line) bool { return l.Item == side })].Grams.Grams()
	if math.Abs(math.Log(shown/of.Other.Grams())) > math.Abs(math.Log(shown/whole)) {
		return
	}
	weighed[at].Grams = batch.Grams(shown * sum.Grams() / of.Pigmented.Grams())
	say.say("%s g of side %s is what one cup takes: it is counted with the %s g from the pot", figure.Short(shown), side, of.Pigmented.At(s.Step))
}

func inPotAmounts(all []batch.Amount, side string) []batch.Amount {
	return slices.DeleteFunc(slices.Clone(all), func(x batch.Amount) bool { return x.Item == side })
}
