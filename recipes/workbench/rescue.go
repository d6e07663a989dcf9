package workbench

import (
	"context"
	"encoding/json"
	"fmt"

	"masstone/calibrate"
	"masstone/recipes/batch"
)

// A RescueRequest asks how to go on with a batch of which lines came out other
// than its sheet says.
type RescueRequest struct {
	Batch  string
	Poured batch.Poured // what the scale showed of lines that are in the cup
}

// Rescue says how to go on with a batch on its sheet as it was made up, judged by
// what is known now. It stores nothing.
func Rescue(ctx context.Context, b *Bench, r RescueRequest) (batch.Rescue, error) {
	k, err := b.archive.Batch(ctx, r.Batch)
	if err != nil {
		return batch.Rescue{}, err
	}
	if len(k.Document) == 0 {
		return batch.Rescue{}, fmt.Errorf("batch %s has no sheet: it was drawn from a stock or added to a pot", k.ID())
	}
	var sheet batch.Sheet
	if err := json.Unmarshal(k.Document, &sheet); err != nil {
		return batch.Rescue{}, fmt.Errorf("the sheet of %s cannot be read (%w)", k.ID(), err)
	}
	recipe, err := b.archive.RecipeRef(ctx, k.Recipe)
	if err != nil {
		return batch.Rescue{}, err
	}
	made := Making{Grams: calibrate.Grams(sheet.Total.Grams()), ScaleGrams: calibrate.Grams(sheet.Step.Grams())}
	order, _, err := made.order(recipe.ID())
	if err != nil {
		return batch.Rescue{}, err
	}
	request, err := made.request(ctx, b.archive, recipe, order)
	if err != nil {
		return batch.Rescue{}, err
	}
	known, err := knowRecipe(ctx, b.archive, recipe)
	if err != nil {
		return batch.Rescue{}, err
	}
	if known != nil && known.target != nil {
		request.Tolerance = known.target.Within()
		if request.Outcome, err = known.outcome(ctx); err != nil {
			return batch.Rescue{}, err
		}
	}
	return batch.Overshoot(request, sheet, r.Poured)
}
