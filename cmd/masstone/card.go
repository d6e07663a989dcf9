package main

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/papers"
)

func newRecipeCardCommand(env *Env) *cobra.Command {
	var paper paperFlags
	cmd := &cobra.Command{
		Use:   "card RECIPE",
		Short: "Print the card of a recipe",
		Long: `Prints the card of a recipe: its loadings, the colour predicted under each light
with the 95 % bars, how far it is expected to land from its target, its opacity,
the lots in use, its approval and the batches weighed from it.

` + paperHelp + `

JSON keys: made, shop, recipe, name, resin, calibration, target, client, loadings (a
list of pigment, name, phr, lot), thickness_mm, over, colors (a list of lab and
target (L, a, b, under), half95, expected_dE00, upper95_dE00), differences (beside
colors), formula, tolerance, chance, opacity, hides_mm, cost_per_kg, resin_lots,
approved_by, approved_on, approved_as, batches (batch, grams, on), notes, total_phr,
find.`,
		Args: needs("RECIPE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runRecipeCard(cmd.Context(), env, paper, args[0])
		},
	}
	paper.add(cmd.Flags(), "the card")
	return cmd
}

func runRecipeCard(ctx context.Context, env *Env, paper paperFlags, id string) error {
	if err := paper.check(env); err != nil {
		return err
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		r, err := b.Recipe(ctx, id)
		if err != nil {
			return err
		}
		card, err := recipeCard(ctx, b, r, paper.heading(env))
		if err != nil {
			return err
		}
		return paper.show(env, "card of "+r.ID(), card)
	})
}

// recipeCard is a recipe as it is printed, with what the bench knows of it.
func recipeCard(ctx context.Context, b *archive.Bench, r archive.Recipe, h papers.Heading) (papers.RecipeCard, error) {
	card := papers.RecipeCard{Heading: h, Recipe: r.ID(), Name: r.Name, Resin: r.Resin, Target: r.Target, Client: r.Client,
		ThicknessMM: r.ThicknessMM, Backing: r.Backing, Chance: r.Chance}
	names, err := pigmentNames(ctx, b)
	if err != nil {
		return card, err
	}
	lots, err := lotNames(ctx, b, r)
	if err != nil {
		return card, err
	}
	if lot := lots["A"]; lot != "" {
		card.ResinLots = []string{lot}
	}
	for _, code := range byLoading(r.Loadings) {
		if phr := r.Loadings[code]; phr > 0 {
			card.Loadings = append(card.Loadings, papers.Loading{Pigment: code, Name: names[code], PHR: calibrate.PHR(phr), Lot: lots[code]})
		}
	}
	if card.Calibration, err = calibrationName(ctx, b, r); err != nil {
		return card, err
	}
	if len(r.Document) > 0 {
		var kept keptWithRecipe
		if err := json.Unmarshal(r.Document, &kept); err != nil {
			return card, fmt.Errorf("recipe %s: what it was found with cannot be read (%w); run masstone verify", r.ID(), err)
		}
		card.CostPerKg = kept.CostPerKg
	}
	t, err := targetOf(ctx, b, r)
	if err != nil {
		return card, err
	}
	if t != nil {
		card.Formula, card.Tolerance = color.Formula(t.Formula), t.Tolerance
	}
	if err := cardColors(ctx, b, r, t, &card); err != nil {
		return card, err
	}
	if r.Note != "" {
		card.Notes = []string{r.Note}
	}
	return card, cardHistory(ctx, b, r, &card)
}

// cardColors predicts the recipe's colours as its calibration has them.
func cardColors(ctx context.Context, b *archive.Bench, r archive.Recipe, t *archive.Target, card *papers.RecipeCard) error {
	cal, target, err := believed(ctx, b, r)
	if err != nil {
		return err
	}
	if cal == nil && r.Calibration != "" {
		stored, err := b.CalibrationRef(ctx, r.Calibration)
		if err != nil {
			return err
		}
		if cal, err = openCalibration(stored); err != nil {
			return err
		}
		if target.Setting, err = settingOf(ctx, b, r.ThicknessMM, r.Backing, color.SpecularIncluded); err != nil {
			return err
		}
	}
	if cal == nil {
		for _, l := range r.Predicted {
			card.Colors = append(card.Colors, papers.CardColor{Lab: l.Color()})
		}
		return nil
	}
	var under []color.Condition
	for _, l := range target.Labs {
		under = append(under, l.Under)
	}
	for _, c := range lightsOf(cal, nil) {
		if !slices.Contains(under, c) {
			under = append(under, c)
		}
	}
	p, err := cal.Predict(calibrate.Sample{Loadings: phrs(r.Loadings), Setting: target.Setting}, under...)
	if err != nil {
		return err
	}
	var wanted []color.Lab
	for i := range p.Colors {
		c := &p.Colors[i]
		want, err := targetLab(t, c.Lab.Under)
		if err != nil {
			return err
		}
		if want != nil { // how far from the target, not from the prediction
			c.Landing = calibrate.Land(want.Values(), c.Lab.Values(), c.Cov, target.Within())
			wanted = append(wanted, *want)
		}
	}
	card.Colors = papers.CardColors(p.Colors, wanted)
	if len(target.Labs) > 0 { // as it was judged, the weighing counted
		card.Colors[0].Expected, card.Colors[0].Upper95 = r.ExpectedDE00, r.Upper95DE00
	}
	opacity, hides, err := recipes.Opacity(cal, phrs(r.Loadings), target.Setting.Thickness)
	card.Opacity, card.HidesMM = opacity, float64(hides)
	return err
}

// cardHistory adds the approval of a recipe and the batches weighed from it.
func cardHistory(ctx context.Context, b *archive.Bench, r archive.Recipe, card *papers.RecipeCard) error {
	if r.Target != "" {
		approvals, err := b.Approvals(ctx, r.Client, r.Target)
		if err != nil {
			return err
		}
		if i := slices.IndexFunc(approvals, func(a archive.Approval) bool { return a.Recipe == r.Ref }); i >= 0 {
			a := approvals[i]
			card.ApprovedBy, card.ApprovedOn, card.ApprovedAs = a.By, day(a.At)[:10], a.Name()
		}
	}
	batches, err := b.Batches(ctx, r.Ref)
	for _, k := range batches {
		card.Batches = append(card.Batches, papers.CardBatch{Batch: k.ID(), Grams: short(k.TotalGrams), On: day(k.At)[:10]})
	}
	return err
}
