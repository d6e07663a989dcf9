package workbench

import (
	"context"

	"masstone/calibrate"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// A RecipesRequest asks for recipes, the newest first.
type RecipesRequest struct {
	// Words must all begin words of client, part, target, resin, pigments or
	// note.
	Words         string
	Client, Resin string
	Limit         int // most to list, 1 or more
}

// A RecipeList is recipes, the newest first.
type RecipeList struct {
	Recipes []Recipe `json:"recipes"`
}

// Recipes lists recipes.
func Recipes(ctx context.Context, b *Bench, r RecipesRequest) (RecipeList, error) {
	v := RecipeList{Recipes: []Recipe{}}
	if r.Limit < 1 {
		return v, outOfRange("limit", r.Limit, "1 or more")
	}
	found, err := b.archive.Find(ctx, archive.FindQuery{Words: r.Words, Client: r.Client, Resin: r.Resin, Limit: r.Limit})
	for _, f := range found {
		v.Recipes = append(v.Recipes, recipeOf(f.Recipe))
	}
	return v, err
}

// A RecipeHistory is a recipe with the batches weighed from it.
type RecipeHistory struct {
	Recipe
	Batches []RecipeBatch `json:"batches"`
}

// A RecipeBatch is a batch weighed from a recipe.
type RecipeBatch struct {
	Batch string        `json:"batch"`
	Grams figure.Number `json:"total_grams"`
	At    string        `json:"at"`

	ScaleGrams calibrate.Grams `json:"-"` // step of the scale, 0 if it is not known
}

// ShowRecipe shows a recipe as it was found, and the batches weighed from it.
func ShowRecipe(ctx context.Context, b *Bench, id string) (RecipeHistory, error) {
	r, err := b.archive.Recipe(ctx, id)
	if err != nil {
		return RecipeHistory{}, err
	}
	v := RecipeHistory{Recipe: recipeOf(r), Batches: []RecipeBatch{}}
	batches, err := b.archive.Batches(ctx, r.Ref)
	for _, k := range batches {
		v.Batches = append(v.Batches, RecipeBatch{k.ID(), figure.Number(k.TotalGrams), figure.At(k.At), calibrate.Grams(k.ScaleGrams)})
	}
	return v, err
}
