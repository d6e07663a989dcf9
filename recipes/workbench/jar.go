package workbench

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"gonum.org/v1/gonum/floats/scalar"

	"masstone/calibrate"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
	"masstone/recipes/kept"
)

// A DiluteRequest records a pre-dilution that was stirred.
type DiluteRequest struct {
	Pigment    string
	Resin      string          // the only one if empty
	PasteGrams calibrate.Grams // as the scale showed them
	SideGrams  calibrate.Grams // of the side that takes the pigments
	Lot        string          // of the paste; the one in use if empty
	On         string          // day, 2026-03-31; today if empty
	Name       string          // of the jar; D1, D2, ... if empty
	Note       string
	Again      bool // meant, though the same was recorded a moment ago
}

// A Jar is a pre-dilution of a paste that is kept.
type Jar struct {
	Jar      string        `json:"jar"`
	Pigment  string        `json:"pigment"`
	Side     string        `json:"side"`
	Strength figure.Number `json:"strength" doc:"share of paste in it"`
	Lot      string        `json:"lot,omitempty"`
	MadeOn   string        `json:"made_on,omitempty"`
	Drawn    figure.Number `json:"drawn" doc:"g, for this"`
	Left     figure.Number `json:"left" doc:"g"`
	Stirred  bool          `json:"stirred" doc:"whether it was recorded as stirred with this"`
}

// Dilute records that a paste was let down in the side of the resin that takes
// the pigments, so that sheets take it from its jar.
func Dilute(ctx context.Context, b *Bench, r DiluteRequest) (Stock, error) {
	var v Stock
	what := "pre-dilution of " + r.Pigment
	switch {
	case r.PasteGrams == 0:
		return v, missing(what, "paste-g", "give the paste that was weighed", "0.30g")
	case r.SideGrams == 0:
		return v, missing(what, "side-g", "give the resin it was stirred into", "15g")
	}
	if err := weighable(weight{"paste-g", r.PasteGrams}, weight{"side-g", r.SideGrams}); err != nil {
		return v, err
	}
	for name, g := range map[string]calibrate.Grams{"paste-g": r.PasteGrams, "side-g": r.SideGrams} {
		if g < 0.001 {
			return v, outOfRange(name, float64(g), "0.001 g or more, as the bench keeps milligrams")
		}
	}
	if t, err := time.Parse(time.DateOnly, r.On); err == nil && t.After(b.now().Add(24*time.Hour)) {
		return v, invalid("date", "%s: %s lies ahead of today, %s; give the day it was stirred", what, r.On, b.now().Format(time.DateOnly))
	}
	err := together(ctx, b, &v, func(a *archive.Bench) error {
		r := r
		resin, err := resinAt(ctx, a, r.Resin)
		if err != nil {
			return err
		}
		if _, err := a.Pigment(ctx, r.Pigment); err != nil {
			return err
		}
		if r.Lot == "" {
			inUse, err := lotsInUse(ctx, a, resin.Code, []string{r.Pigment})
			if err != nil {
				return err
			}
			r.Lot = lotOf(inUse, archive.OfPigment, r.Pigment)
		}
		p, err := stirred(ctx, b, a, resin, r)
		if err != nil {
			return adviseLot(err)
		}
		v, err = p.view(ctx, a)
		return err
	})
	return v, err
}

// stirred stores a jar.
func stirred(ctx context.Context, b *Bench, a *archive.Bench, resin archive.Resin, r DiluteRequest) (pail, error) {
	stocks, err := a.Stocks(ctx)
	if err != nil {
		return pail{}, err
	}
	taken := func(name string) bool {
		return slices.ContainsFunc(stocks, func(s archive.Stock) bool { return s.Name == name })
	}
	if taken(r.Name) {
		return pail{}, &Error{Conflict, "name", fmt.Errorf("stock %q is on the bench already; a jar that is stirred anew has another name", r.Name)}
	}
	for n := 1; r.Name == ""; n++ {
		if name := fmt.Sprintf("D%d", n); !taken(name) {
			r.Name = name
		}
	}
	card := archive.Stock{Name: r.Name, Resin: resin.Code, Pigment: r.Pigment, MadeOn: cmp.Or(r.On, figure.Day(b.now())), Note: r.Note}
	if r.Lot != "" {
		card.Lots = []archive.LotName{pigmentLot(r.Pigment, r.Lot)}
	}
	if !r.Again {
		if err := stirredBefore(ctx, b, a, stocks, card, r); err != nil {
			return pail{}, err
		}
	}
	if _, err := a.PutStock(ctx, card, archive.Refuse); err != nil {
		return pail{}, err
	}
	return moved(ctx, a, archive.StockMove{Stock: card.Name, Kind: archive.Tint,
		Lines: []archive.Line{{Item: resin.PigmentSide, Grams: float64(r.SideGrams)}, {Item: r.Pigment, Grams: float64(r.PasteGrams)}}}, true)
}

// stirredBefore refuses a jar that was recorded a moment ago.
func stirredBefore(ctx context.Context, b *Bench, a *archive.Bench, stocks []archive.Stock, card archive.Stock, r DiluteRequest) error {
	now := archive.Stamp{At: b.now()}
	for _, s := range stocks {
		if s.Pigment != card.Pigment || s.Resin != card.Resin || s.MadeOn != card.MadeOn || s.Note != card.Note || !slices.Equal(s.Lots, card.Lots) {
			continue
		}
		level, err := a.StockLevel(ctx, s.Name)
		if err != nil {
			return err
		}
		if k, ok := jarOf(level, card.Resin); ok && k.Paste == massOf(r.PasteGrams) && k.Resin == massOf(r.SideGrams) {
			now.Who = s.Who
			if err := twice("jar "+s.Name+" is such a pre-dilution", s.Stamp, now); err != nil {
				return err
			}
		}
	}
	return nil
}

// jarOf is a jar as sheets take from it; false for what is no pre-dilution, or
// holds something else by now. The side is named by what is in it.
func jarOf(level archive.StockLevel, resin string) (batch.Jar, bool) {
	code := level.Stock.Pigment
	if code == "" || level.Stock.Resin != resin || level.Grams <= 0 || len(level.Contents) != 2 || level.Contents[code] <= 0 {
		return batch.Jar{}, false
	}
	in := 0.0
	for _, m := range level.Moves {
		for _, l := range m.Lines {
			in += l.Grams
		}
	}
	share := level.Contents[code] / level.Grams
	k := batch.Jar{Name: level.Stock.Name, Pigment: code, On: level.Stock.MadeOn, Paste: batch.Grams(share * in), Resin: batch.Grams((1 - share) * in)}
	for item := range level.Contents {
		if item != code {
			k.Side = batch.Side(item)
		}
	}
	k.Left = batch.Grams(min(level.Grams, in))
	return k, k.Side == batch.SideA || k.Side == batch.SideB
}

// jarsFor are the jars of pigments in a resin that are of the lots in use; what
// is left out is said.
func jarsFor(ctx context.Context, a *archive.Bench, resin string, codes []string) (jars []batch.Jar, notes []string, err error) {
	stocks, err := a.Stocks(ctx)
	if err != nil {
		return nil, nil, err
	}
	inUse, err := lotsInUse(ctx, a, resin, codes)
	if err != nil {
		return nil, nil, err
	}
	for _, s := range stocks {
		if s.Resin != resin || !slices.Contains(codes, s.Pigment) {
			continue
		}
		level, err := a.StockLevel(ctx, s.Name)
		if err != nil {
			return nil, nil, err
		}
		k, ok := jarOf(level, resin)
		if !ok {
			continue
		}
		was, is := lotOf(s.Lots, archive.OfPigment, s.Pigment), lotOf(inUse, archive.OfPigment, s.Pigment)
		if was != is {
			notes = append(notes, fmt.Sprintf("jar %s of %s is left alone: it is of lot %s, in use is %s", s.Name, s.Pigment, cmp.Or(was, "not named"), cmp.Or(is, "not named")))
			continue
		}
		jars = append(jars, k)
	}
	return jars, notes, nil
}

// letDowns say what the lines of a tint are that come from jars.
func letDowns(used []batch.Predilution) []archive.LetDown {
	var out []archive.LetDown
	for _, p := range used {
		out = append(out, archive.LetDown{Item: p.Item, Pigment: p.Pigment, Side: string(p.Side), Share: p.Strength})
	}
	return out
}

// draw takes what was weighed from a jar. More than it held on record was in it
// all the same: it is counted first, and said.
func draw(ctx context.Context, a *archive.Bench, name string, grams float64, pour, note string, say *Remarks) (pail, error) {
	level, err := a.StockLevel(ctx, name)
	if err != nil {
		return pail{}, err
	}
	if grams > level.Grams {
		say.warn("jar %s held %s g on record, and %s g were weighed from it: it is counted as empty now", name, figure.Short(level.Grams), figure.Short(grams))
		if level.Grams == 0 { // emptied on record: what it was is not known to hold
			return pailOf(ctx, a, level)
		}
		if _, err := a.MoveStock(ctx, archive.StockMove{Stock: name, Kind: archive.Count, Grams: grams, Note: "as weighed from it"}); err != nil {
			return pail{}, err
		}
	}
	return moved(ctx, a, archive.StockMove{Stock: name, Kind: archive.Draw, Grams: grams, Pour: pour, Note: note}, true)
}

// drawn is the jar of a pre-dilution of a sheet once grams were taken from it.
func drawn(ctx context.Context, a *archive.Bench, p batch.Predilution, grams float64, pour, note string, say *Remarks) (Jar, error) {
	jar, err := draw(ctx, a, p.Jar, grams, pour, note, say)
	if err != nil {
		return Jar{}, err
	}
	k := jar.asJar()
	k.Drawn = figure.Number(grams)
	if k.Strength == 0 { // nothing is left to tell it by
		k.Strength = figure.Number(p.Share())
	}
	return k, nil
}

// drawJars takes the pre-dilutions of a pour from their jars. One that the sheet
// says to stir is stored as it says, unless an earlier pour of the batch stirred
// it and there is enough of it left. Of a pot that is on record already only what
// went in since is taken.
func (c cast) drawJars(ctx context.Context, b *Bench, a *archive.Bench, pot *sharedPot, say *Remarks) ([]Jar, error) {
	predilutions, err := c.predilutions()
	if err != nil {
		return nil, err
	}
	var jars []Jar
	for _, p := range predilutions {
		grams := 0.0
		for _, l := range c.pour.Lines {
			if l.Item == p.Item {
				grams += l.Grams
			}
		}
		if pot != nil {
			grams -= pot.took[p.Item]
		}
		if grams < 0.0005 { // the bench keeps milligrams
			continue
		}
		name, made := p.Jar, false
		if err := c.asOnSheet(ctx, a, p); err != nil {
			return nil, err
		}
		if name == "" {
			if name, err = c.stirredFor(ctx, a, p, grams); err != nil {
				return nil, err
			}
		}
		if name == "" {
			jar, err := stirred(ctx, b, a, c.resin, DiluteRequest{Pigment: p.Pigment, PasteGrams: calibrate.Grams(p.Paste.Grams()), SideGrams: calibrate.Grams(p.Resin.Grams()),
				Lot: lotOf(c.pour.Lots, archive.OfPigment, p.Pigment), On: c.pour.PouredOn, Again: true})
			if err != nil {
				return nil, err
			}
			name, made = jar.Stock.Name, true
		}
		p.Jar = name
		k, err := drawn(ctx, a, p, grams, c.pour.Ref, "", say)
		if err != nil {
			return nil, err
		}
		k.Stirred = made
		jars = append(jars, k)
	}
	return jars, nil
}

// asOnSheet refuses a dose from a jar that something was added to since the sheet was
// made, which counts the dose by what was in the jar then.
func (c cast) asOnSheet(ctx context.Context, a *archive.Bench, p batch.Predilution) error {
	if p.Jar == "" {
		return nil
	}
	level, err := a.StockLevel(ctx, p.Jar)
	if err != nil || level.Grams == 0 || alikeStrong(level, p) {
		return err
	}
	anew := "make the sheet anew with " + remedy.Verb("batch", c.recipe.ID())
	if c.batch.AddsTo != "" {
		anew = "correct the pot anew"
	}
	return &Error{Conflict, "", fmt.Errorf("jar %s holds 1:%.4g now, and batch %s counts it as 1:%.4g, as it was then; %s, and record the pour of that with what was weighed",
		p.Jar, level.Grams/level.Contents[p.Pigment]-1, c.batch.ID(), 1/p.Share()-1, anew)}
}

// alikeStrong tells whether a jar holds the share of paste that a pre-dilution counts.
func alikeStrong(level archive.StockLevel, p batch.Predilution) bool {
	return scalar.EqualWithinRel(level.Contents[p.Pigment]/level.Grams, p.Share(), 1e-4)
}

// predilutions are those of the batch: of its sheet, or of what is added to a pot.
func (c cast) predilutions() ([]batch.Predilution, error) {
	if c.batch.AddsTo != "" {
		pot, err := kept.ReadPot(c.batch.ID(), c.batch.Document)
		return batch.FromJars(pot, batch.Side(c.resin.PigmentSide)), err
	}
	sheet, err := sheetOf(c.batch)
	return sheet.Predilutions, err
}

// stirredFor is the jar that an earlier pour of the same batch stirred for a
// pre-dilution, if so much is left of it.
func (c cast) stirredFor(ctx context.Context, a *archive.Bench, p batch.Predilution, grams float64) (string, error) {
	stocks, err := a.Stocks(ctx)
	if err != nil {
		return "", err
	}
	pours, err := a.PoursOfBatch(ctx, c.batch.Ref)
	if err != nil {
		return "", err
	}
	for _, s := range stocks {
		if s.Pigment != p.Pigment || s.Resin != c.resin.Code {
			continue
		}
		level, err := a.StockLevel(ctx, s.Name)
		if err != nil {
			return "", err
		}
		for _, m := range level.Moves {
			if m.Pour != "" && level.Grams >= grams && alikeStrong(level, p) && slices.ContainsFunc(pours, func(x archive.Pour) bool { return x.Ref == m.Pour }) {
				return s.Name, nil
			}
		}
	}
	return "", nil
}

// asJar is a jar as results show it.
func (p pail) asJar() Jar {
	k := Jar{Jar: p.Stock.Name, Pigment: p.Stock.Pigment, Side: p.resin.PigmentSide, Lot: lotOf(p.Stock.Lots, archive.OfPigment, p.Stock.Pigment), MadeOn: p.Stock.MadeOn, Left: figure.Number(p.Grams)}
	if p.Grams > 0 {
		k.Strength = figure.Number(p.Contents[p.Stock.Pigment] / p.Grams)
	}
	return k
}

// noJar refuses what is only done with a tinted pail.
func (p pail) noJar(verb string) error {
	if p.Stock.Pigment == "" {
		return nil
	}
	return fmt.Errorf("stock %q is a pre-dilution of %s; %s, or take from it with %s", p.Stock.Name, p.Stock.Pigment, verb, remedy.Verb("batch"))
}
