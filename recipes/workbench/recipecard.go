package workbench

import (
	"cmp"
	"context"
	"math"
	"slices"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
	"masstone/recipes/kept"
	"masstone/recipes/papers"
)

// RecipeCard is a recipe as it is printed, with what is known of it now. Shop is
// who made it: name, then lines of the address.
func RecipeCard(ctx context.Context, b *Bench, id string, shop []string) (papers.RecipeCard, error) {
	a := b.archive
	r, err := a.Recipe(ctx, id)
	if err != nil {
		return papers.RecipeCard{}, err
	}
	card := papers.RecipeCard{Heading: b.heading(shop), Recipe: r.ID(), Name: r.Name, Resin: r.Resin, Target: r.Target, Client: r.Client,
		ThicknessMM: r.ThicknessMM, Backing: r.Backing}
	names, err := pigmentNames(ctx, a)
	if err != nil {
		return card, err
	}
	lots, err := lotNames(ctx, a, r)
	if err != nil {
		return card, err
	}
	if lot := lots["A"]; lot != "" {
		card.ResinLots = []string{lot}
	}
	for _, code := range figure.ByLoading(r.Loadings) {
		if phr := r.Loadings[code]; phr > 0 {
			card.Loadings = append(card.Loadings, papers.Loading{Pigment: code, Name: names[code], PHR: calibrate.PHR(phr), Lot: lots[code]})
		}
	}
	was, err := kept.ReadRecipe(r.ID(), r.Document)
	if err != nil {
		return card, err
	}
	card.CostPerKg = was.CostPerKg
	if err := usualAmount(ctx, a, r, was, &card); err != nil {
		return card, err
	}
	if r.Note != "" {
		card.Notes = []string{r.Note}
	}
	if err := fillCard(ctx, a, r, was, &card); err != nil {
		return card, err
	}
	return card, cardHistory(ctx, a, r, &card)
}

// usualAmount adds what to weigh for the amount that was weighed last, or else the
// one it was matched for, to the step of that scale. A batch sheet does better: it
// counts what the steps cost in colour.
func usualAmount(ctx context.Context, a *archive.Bench, r archive.Recipe, was kept.Recipe, card *papers.RecipeCard) error {
	resin, err := a.Resin(ctx, r.Resin)
	if err != nil {
		return err
	}
	batches, err := a.Batches(ctx, r.Ref)
	if err != nil {
		return err
	}
	grams, step := cmp.Or(was.BatchGrams, float64(usualGrams)), was.ScaleGrams
	// Shots drawn from a pail and additions to a pot have no scale.
	if i := slices.IndexFunc(batches, func(k archive.Batch) bool { return k.ScaleGrams > 0 }); i >= 0 {
		grams, step = batches[i].TotalGrams, batches[i].ScaleGrams
	}
	step = cmp.Or(step, 0.01)
	sum := 0.0
	for _, phr := range r.Loadings {
		sum += phr / 100
	}
	mixed := grams / (1 + sum)
	stepped := func(g float64) float64 { return step * math.Round(g/step) }
	card.UsualGrams, card.StepGrams = grams, step
	for i := range card.Loadings {
		card.Loadings[i].Grams = stepped(float64(card.Loadings[i].PHR) * mixed / 100)
	}
	side := batch.Side(resin.PigmentSide)
	for _, s := range []batch.Side{side, batch.Side(otherOf(resin))} {
		card.Sides = append(card.Sides, papers.CardSide{Side: string(s), Grams: stepped(mixed * mixOf(resin).Share(s))})
	}
	return nil
}

// otherOf is the side of a resin that takes no pigment.
func otherOf(r archive.Resin) string {
	if r.PigmentSide == string(batch.SideA) {
		return string(batch.SideB)
	}
	return string(batch.SideA)
}

// fillCard adds what is known now of the recipe's colours.
func fillCard(ctx context.Context, a *archive.Bench, r archive.Recipe, was kept.Recipe, card *papers.RecipeCard) error {
	t, err := targetOf(ctx, a, r)
	if err != nil {
		return err
	}
	if t != nil {
		card.Formula, card.Tolerance = color.Formula(t.Formula), t.Tolerance
	}
	k, err := knowRecipe(ctx, a, r)
	if err != nil {
		return err
	}
	if k == nil {
		for _, l := range r.Predicted {
			card.Colors = append(card.Colors, papers.CardColor{Lab: l.Color()})
		}
		card.Calibration, err = calibrationName(ctx, a, r)
		return err
	}
	card.Calibration = k.stored.Name()
	for _, n := range k.notes {
		card.Notes = append(card.Notes, sentence(n))
	}
	setting, err := settingOf(ctx, a, r.ThicknessMM, r.Backing, color.SpecularIncluded)
	if err != nil {
		return err
	}
	setting.ThicknessSD = thicknessSD(nil, r.ThicknessMM)
	if k.target != nil {
		setting = k.target.Setting
	}
	if err := k.cardColors(r, t, setting, card); err != nil {
		return err
	}
	if k.target != nil {
		e, err := k.weighed(r, calibrate.Grams(was.BatchGrams), calibrate.Grams(was.ScaleGrams))
		if err != nil {
			return err
		}
		card.Colors[0].Expected, card.Colors[0].Upper95, card.Chance = e.Expected, e.Upper95, e.Chance
	}
	opacity, hides, err := recipes.Opacity(k.now, phrs(r.Loadings), setting.Thickness)
	card.Opacity, card.HidesMM = opacity, float64(hides)
	return err
}

// cardColors predicts the recipe's colours: under the lights of its target, then
// those its calibration knows.
func (k *knowledge) cardColors(r archive.Recipe, t *archive.Target, setting calibrate.Setting, card *papers.RecipeCard) error {
	var under []color.Condition
	if k.target != nil {
		for _, l := range k.target.Labs {
			under = append(under, l.Under)
		}
	}
	for _, c := range lightsOf(k.fitted, nil) {
		if !slices.Contains(under, c) {
			under = append(under, c)
		}
	}
	p, err := k.now.Predict(calibrate.Sample{Loadings: phrs(r.Loadings), Setting: setting, OneCasting: true}, under...)
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
			c.Landing = calibrate.Land(want.Values(), c.Lab.Values(), c.Cov, k.target.Within())
			wanted = append(wanted, *want)
		}
	}
	card.Colors = papers.CardColors(p.Colors, wanted)
	return nil
}

// cardHistory adds the approval of a recipe and the batches weighed from it.
func cardHistory(ctx context.Context, a *archive.Bench, r archive.Recipe, card *papers.RecipeCard) error {
	if r.Target != "" {
		approvals, err := a.Approvals(ctx, r.Client, r.Target)
		if err != nil {
			return err
		}
		if i := slices.IndexFunc(approvals, func(x archive.Approval) bool { return x.Recipe == r.Ref }); i >= 0 {
			x := approvals[i]
			head, err := a.HeadOfApproval(ctx, x.Ref)
			if err != nil {
				return err
			}
			card.ApprovedBy, card.ApprovedOn, card.ApprovedAs, card.Head = x.By, figure.Day(x.At), x.Name(), string(head)
		}
	}
	batches, err := a.Batches(ctx, r.Ref)
	for _, k := range batches {
		card.Batches = append(card.Batches, papers.CardBatch{Batch: k.ID(), Grams: figure.Grams(k.TotalGrams, k.ScaleGrams), On: figure.Day(k.At)})
	}
	return err
}
