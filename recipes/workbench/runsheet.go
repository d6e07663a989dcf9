package workbench

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"masstone/calibrate"
	"masstone/color/remedy"
	"masstone/recipes/ageing"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
	"masstone/recipes/papers"
)

// A RunSheetRequest asks for the sheet of a run, to be filled in beside the moulds.
type RunSheetRequest struct {
	Run      string
	Batch    string   // whose cups the next ones are; "" if none is weighed yet
	CupParts int      // parts of a cup; those of the batch's cups, of the mould or of the last cup if 0
	Moulds   []string // for the cups to come, in turn; that of the last cup if empty
	Shop     []string // who made it: name, then lines of the address
}

// RunSheet is the sheet of a run: its cups so far, and those that are still to be
// cast laid out on the clock of a batch.
func RunSheet(ctx context.Context, b *Bench, r RunSheetRequest) (papers.RunSheet, error) {
	var p papers.RunSheet
	if r.CupParts < 0 {
		return p, outOfRange("cup-parts", r.CupParts, "1 or more")
	}
	a := b.archive
	v, err := ShowRun(ctx, b, r.Run)
	if err != nil {
		return p, err
	}
	t, err := targetOf(ctx, a, v.recipe)
	if err != nil {
		return p, err
	}
	k, recipe, err := r.weighed(ctx, a, v)
	if err != nil {
		return p, err
	}
	resin, err := a.Resin(ctx, recipe.Resin)
	if err != nil {
		return p, err
	}
	lots, err := lotNames(ctx, a, recipe)
	if err != nil {
		return p, err
	}
	p = papers.RunSheet{Heading: b.heading(r.Shop), Run: v.Run, Client: v.Client, Target: v.Target, Approval: v.Approval, Recipe: recipe.ID(), Resin: resin.Code, PigmentSide: batch.Side(resin.PigmentSide),
		Agreed: acceptance(*t), Parts: v.Parts, Cast: v.Cast, PotLife: resin.PotLife.Minutes(), SettledDays: ageing.SettledHours / 24}
	for _, code := range figure.ByLoading(recipe.Loadings) {
		if phr := recipe.Loadings[code]; phr > 0 {
			p.Loadings = append(p.Loadings, papers.Loading{Pigment: code, PHR: calibrate.PHR(phr)})
		}
	}
	for _, code := range slices.Sorted(maps.Keys(lots)) {
		p.Lots = append(p.Lots, papers.Lot{Of: code, Lot: lots[code]})
	}
	if recipe.Ref != v.recipe.Ref {
		p.Notes = append(p.Notes, fmt.Sprintf("%s is weighed to %s; what was approved, and the run began with, is %s.", k.ID(), recipe.ID(), v.Recipe))
	}
	if len(recipe.Predicted) > 0 {
		if p.TargetLab, err = targetLab(t, recipe.Predicted[0].Color().Under); err != nil {
			return p, err
		}
	}
	for _, c := range v.Cups {
		cup := papers.RunSheetCup{Number: c.Cup, Pour: c.Pour, Parts: c.Parts, Mould: c.Mould, On: c.On, By: c.By, RoomC: (*float64)(c.RoomC), MouldC: (*float64)(c.MouldC)}
		if len(c.Read) > 0 {
			last := c.Read[len(c.Read)-1]
			cup.Read = &papers.Sight{Part: last.Part, Lab: last.verdict.Part.Color(last.verdict.Under)}
		}
		p.Cups = append(p.Cups, cup)
	}
	sheet, err := r.sheet(ctx, a, k, &p)
	if err != nil {
		return p, err
	}
	return p, r.layOut(ctx, a, v, sheet, &p)
}

// weighed is the batch asked for, which is for the run's target, and its recipe; without
// one the run's recipe.
func (r RunSheetRequest) weighed(ctx context.Context, a *archive.Bench, v Run) (archive.Batch, archive.Recipe, error) {
	if strings.TrimSpace(r.Batch) == "" {
		return archive.Batch{}, v.recipe, nil
	}
	k, err := a.Batch(ctx, r.Batch)
	if err != nil {
		return k, v.recipe, err
	}
	of, err := a.RecipeRef(ctx, k.Recipe)
	if err == nil && (of.Target != v.Target || of.Client != v.Client) {
		err = invalid("batch", "%s is not for %q; weigh one for it: %s", remedy.InputAs("batch", k.ID()), v.Target, remedy.Verb("batch", v.Recipe))
	}
	return k, of, err
}

// layOut adds the cups that are still to be cast.
func (r RunSheetRequest) layOut(ctx context.Context, a *archive.Bench, v Run, sheet batch.Sheet, p *papers.RunSheet) error {
	moulds, parts := r.Moulds, r.CupParts
	if n := len(v.Cups); n > 0 {
		if last := v.Cups[n-1]; len(moulds) == 0 && last.Mould != "" {
			moulds = []string{last.Mould}
		} else if len(moulds) == 0 {
			parts = cmp.Or(parts, last.Parts)
		}
	}
	each := make([]int, len(moulds)) // parts that a shot of the mould gives
	for i, name := range moulds {
		m, err := a.Mould(ctx, name)
		if err != nil {
			return fmt.Errorf("%w; %s makes one known", err, remedy.Verb("mould add", "NAME"))
		}
		each[i] = m.Cavities
	}
	left := v.Parts - v.Cast
	for n := 0; left > 0; n++ {
		cup := papers.RunSheetCup{Number: len(p.Cups) + 1, Parts: parts}
		if len(moulds) > 0 {
			cup.Mould = moulds[n%len(moulds)]
			cup.Parts = cmp.Or(parts, each[n%len(moulds)])
		}
		if n < len(sheet.Cups) {
			cup.Parts = cmp.Or(r.CupParts, int(sheet.Cups[n].Shots), cup.Parts)
			starts := sheet.Cups[n].Starts
			cup.Starts = &starts
		} else if len(sheet.Cups) > 0 {
			break // they are of another batch
		}
		if cup.Parts == 0 {
			return missing("run", "cup-parts", "say how many parts a cup gives", "3")
		}
		cup.Parts = min(cup.Parts, left)
		left -= cup.Parts
		if p.Cups = append(p.Cups, cup); len(p.Cups) > mostCups {
			return invalid("cup-parts", "%s: a run of more than %d cups is no sheet; give more parts to a cup", v.Run, mostCups)
		}
	}
	if left > 0 {
		p.Notes = append(p.Notes, fmt.Sprintf("%s are left for further batches.", figure.Count(left, "part")))
	}
	return nil
}

// mostCups is how many cups a sheet holds.
const mostCups = 500

// sheet is the sheet of the batch with the cups that are still to come out of its pot,
// none without one.
func (r RunSheetRequest) sheet(ctx context.Context, a *archive.Bench, k archive.Batch, p *papers.RunSheet) (batch.Sheet, error) {
	if k.Ref == "" {
		return batch.Sheet{}, nil
	}
	s, err := sheetOf(k)
	if err != nil {
		return s, err
	}
	if len(s.Cups) == 0 {
		return s, invalid("batch", "%s has no sheet of its own: it was drawn from a stock or added to a pot; leave it out", remedy.InputAs("batch", k.ID()))
	}
	p.Batch = k.ID()
	if s.Clock.PotLife > 0 {
		p.PotLife, p.Celsius = s.Clock.PotLife, s.Clock.Celsius
	}
	for _, c := range s.Cups {
		p.CupMinutes = max(p.CupMinutes, c.Minutes)
	}
	run, err := a.Run(ctx, r.Run)
	if err != nil {
		return s, err
	}
	pot, err := potOf(ctx, a, k, s, &run)
	if pot != nil {
		s.Cups = s.Cups[pot.cups:]
	}
	return s, err
}
