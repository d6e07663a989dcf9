package archive

import (
	"context"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
)

// A Line is an amount of something: a pigment by code, a side of the resin (A
// or B), a pre-dilution or a stock by name.
type Line struct {
	Item  string  `json:"item"`
	Grams float64 `json:"grams"`
}

// A Batch is a recipe made up for an amount: the sheet that was printed.
type Batch struct {
	Fact
	Recipe     string    `json:"recipe"`            // Ref of the recipe
	AddsTo     string    `json:"adds_to,omitempty"` // Ref of the pour whose pot this is added to
	Stock      string    `json:"stock,omitempty"`   // name of the tinted stock it draws on
	TotalGrams float64   `json:"total_grams"`       // of mixed resin and pigment
	ScaleGrams float64   `json:"scale_grams,omitempty"`
	Lines      []Line    `json:"lines"`          // in the order of weighing
	Lots       []LotName `json:"lots,omitempty"` // meant to be used
	Note       string    `json:"note,omitempty"`
	// Document is the rest of the sheet, which the archive stores without
	// reading it.
	Document json.RawMessage `json:"document,omitempty"`
}

// ID is how people refer to it: B7.
func (k Batch) ID() string { return fmt.Sprintf("B%d", k.Number) }

// total is the mass of the batch in the digits that its scale shows.
func (k Batch) total() string {
	decimals := -1
	if k.ScaleGrams > 0 {
		_, digits, _ := strings.Cut(strconv.FormatFloat(k.ScaleGrams, 'f', -1, 64), ".")
		decimals = len(digits)
	}
	return strconv.FormatFloat(k.TotalGrams, 'f', decimals, 64) + " g"
}

// AddBatch stores a batch and returns it with its number.
func (b *Bench) AddBatch(ctx context.Context, k Batch) (Batch, error) {
	lines, err := weighed(k.Lines)
	if err != nil {
		return Batch{}, fmt.Errorf("batch: %w", err)
	}
	k.Lines = lines
	k.TotalGrams = milligrams(k.TotalGrams)
	return write(ctx, b, func(c *change) (Batch, error) {
		var err error
		if k.Number, err = c.number(ctx, kindBatch); err != nil {
			return k, err
		}
		if err := c.insert(ctx, kindBatch, "", &k); err != nil {
			return k, err
		}
		return k, c.log(ctx, "batch added", k.ID(), k.total())
	})
}

// Batch returns a batch by its ID, such as B7 or 7.
func (b *Bench) Batch(ctx context.Context, id string) (Batch, error) {
	return read(ctx, b, func(tx *snapshot) (Batch, error) { return byNumber[Batch](ctx, tx, kindBatch, "B", id) })
}

// BatchRef returns the batch with a Ref.
func (b *Bench) BatchRef(ctx context.Context, ref string) (Batch, error) {
	return read(ctx, b, func(tx *snapshot) (Batch, error) { return byRef[Batch](ctx, tx, kindBatch, ref) })
}

// Batches lists the batches of a recipe, newest first; of all recipes if the
// Ref is empty.
func (b *Bench) Batches(ctx context.Context, recipeRef string) ([]Batch, error) {
	return read(ctx, b, func(tx *snapshot) ([]Batch, error) {
		return records[Batch](ctx, tx, kindBatch, "WHERE recipe = ?1 OR ?1 = '' ORDER BY id DESC", recipeRef)
	})
}

// weighed returns the lines to the milligram, or an error naming a bad one.
func weighed(lines []Line) ([]Line, error) {
	kept := make([]Line, len(lines))
	for i, l := range lines {
		if strings.TrimSpace(l.Item) == "" || !(l.Grams >= 0 && l.Grams <= mostGrams) {
			return nil, fmt.Errorf("%w: line %d, %g g of %q; give an item and its grams", ErrInvalid, i+1, l.Grams, l.Item)
		}
		kept[i] = Line{l.Item, milligrams(l.Grams)}
	}
	return kept, nil
}
