package workbench

import (
	"bytes"
	"context"
	"slices"

	"gonum.org/v1/gonum/floats/scalar"

	"masstone/recipes/archive"
)

// findOrAddBatch stores a batch and returns it as stored. One that the bench
// holds already, from asking the same before, keeps its name. It runs inside
// Together, so that two that ask at once store one.
func findOrAddBatch(ctx context.Context, a *archive.Bench, k archive.Batch) (archive.Batch, error) {
	before, err := a.Batches(ctx, k.Recipe)
	if err != nil {
		return k, err
	}
	for _, old := range before {
		if sameBatch(old, k) {
			return old, nil
		}
	}
	return a.AddBatch(ctx, k)
}

// sameBatch tells whether two batches say to weigh the same, of the same lots,
// into the same cup.
func sameBatch(a, b archive.Batch) bool {
	return a.Recipe == b.Recipe && a.AddsTo == b.AddsTo && a.Stock == b.Stock && a.ScaleGrams == b.ScaleGrams &&
		bytes.Equal(a.Document, b.Document) && slices.Equal(a.Lots, b.Lots) && slices.EqualFunc(a.Lines, b.Lines, sameLine)
}

// sameLine compares to the milligram, in which the bench keeps lines.
func sameLine(a, b archive.Line) bool {
	return a.Item == b.Item && scalar.EqualWithinAbs(a.Grams, b.Grams, 0.00051)
}
