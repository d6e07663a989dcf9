package main

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
)

// A cast is a pour with what it was made from and what was read on it.
type cast struct {
	pour     archive.Pour
	batch    archive.Batch
	recipe   archive.Recipe
	resin    archive.Resin
	held     batch.Contents
	readings []archive.PourReading // oldest first; the newest counts
	verdict  *verdictView          // stored with the newest reading
}

func castOf(ctx context.Context, b *archive.Bench, p archive.Pour) (cast, error) {
	c := cast{pour: p}
	var err error
	if c.batch, err = b.BatchRef(ctx, p.Batch); err != nil {
		return c, err
	}
	if c.recipe, err = b.RecipeRef(ctx, c.batch.Recipe); err != nil {
		return c, err
	}
	if c.resin, err = b.Resin(ctx, c.recipe.Resin); err != nil {
		return c, err
	}
	if c.readings, err = b.PourReadings(ctx, p.Ref); err != nil {
		return c, err
	}
	if n := len(c.readings); n > 0 && len(c.readings[n-1].Verdict) > 0 {
		c.verdict = new(verdictView)
		if err := json.Unmarshal(c.readings[n-1].Verdict, c.verdict); err != nil {
			return c, fmt.Errorf("%s: its verdict cannot be read (%w); run masstone verify", p.ID(), err)
		}
	}
	c.held, err = heldIn(c.batch, p.Lines, c.resin)
	return c, err
}

func castNamed(ctx context.Context, b *archive.Bench, id string) (cast, error) {
	p, err := b.Pour(ctx, id)
	if err != nil {
		return cast{}, err
	}
	return castOf(ctx, b, p)
}

// heldIn is what lines weighed for a batch come to.
func heldIn(k archive.Batch, lines []archive.Line, resin archive.Resin) (batch.Contents, error) {
	side := batch.Side(resin.PigmentSide)
	if k.AddsTo != "" {
		var kept keptPot
		if err := json.Unmarshal(k.Document, &kept); err != nil {
			return batch.Contents{}, fmt.Errorf("batch %s: what is in its pot cannot be read (%w); run masstone verify", k.ID(), err)
		}
		return batch.Refilled(kept.pot(), amountsOf(lines), side, mixOf(resin)), nil
	}
	sheet, err := sheetOf(k)
	if err != nil {
		return batch.Contents{}, err
	}
	return batch.ContentsOf(amountsOf(lines), side, sheet.Predilutions), nil
}

// sheetOf is the sheet stored with a batch; a batch drawn from a stock has
// none.
func sheetOf(k archive.Batch) (batch.Sheet, error) {
	var s batch.Sheet
	if len(k.Document) == 0 || k.AddsTo != "" {
		return s, nil
	}
	if err := json.Unmarshal(k.Document, &s); err != nil {
		return s, fmt.Errorf("batch %s: its sheet cannot be read (%w); run masstone verify", k.ID(), err)
	}
	return s, nil
}

func amountsOf(lines []archive.Line) []batch.Amount {
	out := make([]batch.Amount, len(lines))
	for i, l := range lines {
		out[i] = batch.Amount{Item: l.Item, Grams: batch.Grams(l.Grams)}
	}
	return out
}

func linesOf(amounts []batch.Amount) []archive.Line {
	out := make([]archive.Line, len(amounts))
	for i, a := range amounts {
		out[i] = archive.Line{Item: a.Item, Grams: a.Grams.Grams()}
	}
	return out
}

// keptPot is what the bench keeps of a pot that is added to.
type keptPot struct {
	Resin    float64            `json:"resin_grams"`
	Share    float64            `json:"share"`
	Pigments map[string]float64 `json:"pigment_grams"`
}

func keepPot(p recipes.Pot) keptPot {
	k := keptPot{float64(p.Resin), p.Share, map[string]float64{}}
	for code, g := range p.Pigments {
		k.Pigments[code] = float64(g)
	}
	return k
}

func (k keptPot) pot() recipes.Pot {
	p := recipes.Pot{Resin: calibrate.Grams(k.Resin), Share: k.Share, Pigments: map[string]calibrate.Grams{}}
	for code, g := range k.Pigments {
		p.Pigments[code] = calibrate.Grams(g)
	}
	return p
}

// piece is the mean of the newest reading of a cast part.
func (c cast) piece() (readings.Piece, error) {
	if len(c.readings) == 0 {
		return readings.Piece{}, fmt.Errorf("%s has no reading; masstone pour read %s --lab L,a,b", c.pour.ID(), c.pour.ID())
	}
	return pieceOf(c.pour.ID(), c.readings[len(c.readings)-1].Readings)
}

// asPour is the cast part for the recipes package.
func (c cast) asPour(ctx context.Context, b *archive.Bench) (recipes.Pour, error) {
	loadings, err := c.held.Loadings()
	if err != nil {
		return recipes.Pour{}, fmt.Errorf("%s: %w", c.pour.ID(), err)
	}
	piece, err := c.piece()
	if err != nil {
		return recipes.Pour{}, err
	}
	p, err := pieceAsPour(ctx, b, c.recipe, piece)
	if err != nil {
		return p, err
	}
	p.Name, p.Loadings = c.pour.ID(), loadings
	p.BatchGrams, p.ScaleGrams, p.PasteStrength = calibrate.Grams(c.held.Resin()), calibrate.Grams(c.batch.ScaleGrams), c.held.Strength
	p.FromPot = c.batch.Stock != "" || c.batch.AddsTo != ""
	return p, nil
}

// pieceAsPour is a part read in the setting of a recipe, with nothing said of
// what is in it.
func pieceAsPour(ctx context.Context, b *archive.Bench, r archive.Recipe, piece readings.Piece) (recipes.Pour, error) {
	piece, _, err := asTarget(ctx, b, r, piece)
	if err != nil {
		return recipes.Pour{}, err
	}
	bands, err := bandsOf(piece)
	if err != nil {
		return recipes.Pour{}, err
	}
	setting, err := settingOf(ctx, b, r.ThicknessMM, r.Backing, piece.Measurement.Specular)
	if err != nil {
		return recipes.Pour{}, err
	}
	p := recipes.Pour{Name: piece.Name, Setting: setting, Labs: piece.Labs, Spectrum: bands, Readings: len(piece.Readings)}
	if len(piece.Labs) > 0 {
		p.Readings = readingsUnder(piece, piece.Labs[0].Under)
	}
	return p, nil
}

// colors are what a cast part read as: under the lights it was read under, and
// from a spectrum under the ones asked for.
func colors(piece readings.Piece, under []color.Condition) ([]color.Lab, error) {
	out := slices.Clone(piece.Labs)
	bands, err := bandsOf(piece)
	if err != nil || bands == nil {
		return out, err
	}
	if len(under) == 0 {
		under = []color.Condition{color.D65Ten()}
	}
	for _, c := range under {
		if slices.ContainsFunc(out, func(l color.Lab) bool { return l.Under == c }) {
			continue
		}
		w, err := color.WeightsFor(c)
		if err != nil {
			return nil, err
		}
		out = append(out, w.Lab(bands))
	}
	return out, nil
}

// conditionsOf are the lights of stored colours.
func conditionsOf(labs []archive.Lab) []color.Condition {
	var out []color.Condition
	for _, l := range labs {
		out = append(out, l.Color().Under)
	}
	return out
}

// targetOf is the target of a recipe as it was when the recipe was found, nil
// if the recipe is for none.
func targetOf(ctx context.Context, b *archive.Bench, r archive.Recipe) (*archive.Target, error) {
	if r.Target == "" {
		return nil, nil
	}
	t, err := b.TargetRef(ctx, r.TargetCard)
	return &t, err
}

// codesOf lists the pigments of a recipe.
func codesOf(r archive.Recipe) []string {
	return slices.DeleteFunc(slices.Sorted(maps.Keys(r.Loadings)), func(code string) bool { return r.Loadings[code] <= 0 })
}
