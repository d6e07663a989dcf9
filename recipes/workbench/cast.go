package workbench

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"masstone/calibrate"
	"masstone/color/readings"
	"masstone/color/remedy"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
	"masstone/recipes/kept"
	"slices"
)

// A cast is a pour with what it was made from and what was read on it.
type cast struct {
	pour     archive.Pour
	batch    archive.Batch
	recipe   archive.Recipe
	resin    archive.Resin
	contents batch.Contents
	readings []archive.PourReading // oldest first; the newest counts
	verdict  *kept.Verdict         // stored with the newest reading
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
	if n := len(c.readings); n > 0 {
		if c.verdict, err = kept.ReadVerdict(p.ID(), c.readings[n-1].Verdict); err != nil {
			return c, err
		}
	}
	c.contents, err = contentsOf(c.batch, p.Lines, c.resin)
	return c, err
}

func castNamed(ctx context.Context, b *archive.Bench, id string) (cast, error) {
	p, err := b.Pour(ctx, id)
	if err != nil {
		return cast{}, err
	}
	return castOf(ctx, b, p)
}

// contentsOf is what lines weighed for a batch come to.
func contentsOf(k archive.Batch, lines []archive.Line, resin archive.Resin) (batch.Contents, error) {
	side := batch.Side(resin.PigmentSide)
	if k.AddsTo != "" {
		pot, err := kept.ReadPot(k.ID(), k.Document)
		if err != nil {
			return batch.Contents{}, err
		}
		return batch.Refilled(pot, amountsOf(lines), side, mixOf(resin)), nil
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
		return s, fmt.Errorf("batch %s: its sheet cannot be read (%w); run %s", k.ID(), err, remedy.Verb("verify"))
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

// An Amount is what was or is to be weighed of an item: a side of the resin, a
// paste by its pigment's code, or a pre-dilution.
type Amount struct {
	Item  string        `json:"item"`
	Grams figure.Number `json:"grams"`
}

func amounts(lines []archive.Line) []Amount {
	out := make([]Amount, len(lines))
	for i, l := range lines {
		out[i] = Amount{l.Item, figure.Number(l.Grams)}
	}
	return out
}

// counted are the readings of a pour that count: the newest of every part, or of
// the only one, as far as it was read the way the newest of all was.
func (c cast) counted() ([]archive.PourReading, error) {
	if len(c.readings) == 0 {
		return nil, fmt.Errorf("%s has no reading; %s", c.pour.ID(), remedy.Verb("pour read", c.pour.ID(), remedy.InputAs("lab", "L,a,b")))
	}
	var out []archive.PourReading
	var how *readings.Piece
	seen := map[int]bool{}
	for _, r := range slices.Backward(c.readings) {
		if seen[r.Part] {
			continue
		}
		seen[r.Part] = true
		piece, err := pieceOf(c.pour.ID(), r.Readings)
		if err != nil {
			return nil, err
		}
		if how == nil {
			how = &piece
		}
		if alikeRead(*how, piece) {
			out = append(out, r)
		}
	}
	slices.Reverse(out)
	return out, nil
}

// alikeRead tells whether two parts were read the same way under the same lights,
// so that their mean is one reading.
func alikeRead(a, b readings.Piece) bool {
	if a.Measurement != b.Measurement || a.Circumstances.Aperture != b.Circumstances.Aperture || len(a.Labs) != len(b.Labs) || (a.Spectrum == nil) != (b.Spectrum == nil) {
		return false
	}
	if a.Spectrum != nil && (a.Spectrum.FirstNM != b.Spectrum.FirstNM || a.Spectrum.StepNM != b.Spectrum.StepNM || len(a.Spectrum.R) != len(b.Spectrum.R)) {
		return false
	}
	for i := range a.Labs {
		if a.Labs[i].Under != b.Labs[i].Under {
			return false
		}
	}
	return true
}

// piece is the mean of a cast: of the newest reading of the part, or of its parts.
func (c cast) piece() (readings.Piece, error) {
	counted, err := c.counted()
	if err != nil {
		return readings.Piece{}, err
	}
	var all []archive.Reading
	for _, r := range counted {
		all = append(all, r.Readings...)
	}
	return pieceOf(c.pour.ID(), all)
}

// partsText says of which parts a cast is the mean, empty for one part.
func (c cast) partsText() string {
	counted, err := c.counted()
	if err != nil || len(counted) < 2 {
		return ""
	}
	var names []string
	for _, r := range counted {
		if r.Part > 0 {
			names = append(names, fmt.Sprint(r.Part))
		} else {
			names = append(names, "one not named")
		}
	}
	return fmt.Sprintf("%s counts by the mean of its parts %s", c.pour.ID(), figure.List(names))
}

// asPour is the cast part for the recipes package, as it will be once settled.
func (c cast) asPour(ctx context.Context, b *archive.Bench, drifts drifts) (recipes.Pour, error) {
	loadings, err := c.contents.Loadings()
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
	counted, err := c.counted()
	if err != nil {
		return p, err
	}
	still, err := drifts.change(ctx, b, c.recipe.Resin, counted...)
	if err != nil {
		return p, err
	}
	if p.Setting.ThicknessSD, err = c.thicknessSD(ctx, b); err != nil {
		return p, err
	}
	p.Change, p.ChangeCov, p.ChangeAlike = still.by, still.cov, still.alike
	p.Name, p.Loadings = c.pour.ID(), loadings
	p.BatchGrams, p.ScaleGrams, p.PasteStrength = calibrate.Grams(c.contents.Resin()), calibrate.Grams(c.batch.ScaleGrams), c.contents.Strength
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
	setting.Aperture = apertureOf(piece.Circumstances)
	p := recipes.Pour{Name: piece.Name, Setting: setting, Labs: piece.Labs, Spectrum: bands, Readings: len(piece.Readings)}
	if p.ReadingSD, err = repeatSD(ctx, b, readingsOf(piece.Readings)); err != nil {
		return p, err
	}
	if len(piece.Labs) > 0 {
		p.Readings = readingsUnder(piece, piece.Labs[0].Under)
	}
	return p, nil
}

// codesOf lists the pigments of a recipe.
func codesOf(r archive.Recipe) []string {
	return slices.DeleteFunc(slices.Sorted(maps.Keys(r.Loadings)), func(code string) bool { return r.Loadings[code] <= 0 })
}

// codes lists the pigments in the cup.
func (c cast) codes() []string {
	return slices.DeleteFunc(slices.Sorted(maps.Keys(c.contents.Paste)), func(code string) bool { return c.contents.Paste[code] <= 0 })
}
