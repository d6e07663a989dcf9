package workbench

import (
	"context"
	"slices"

	"masstone/calibrate"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// UnderWay is what is under way at the bench, the newest first.
type UnderWay struct {
	ToMatch   []TargetRef  `json:"to_match" doc:"targets without a recipe"`
	ToWeigh   []OpenBatch  `json:"to_weigh" doc:"batches without a pour"`
	ToRead    []Pour       `json:"to_read" doc:"pours that nobody read" as:"pour show"`
	Missed    []Pour       `json:"missed" doc:"newest pours of a target, out of tolerance" as:"pour show"`
	ToApprove []Pour       `json:"to_approve" doc:"newest pours of a target, within tolerance, of a recipe not approved" as:"pour show"`
	Drifting  []RunLine    `json:"drifting" doc:"runs that drift" as:"run list"`
	ToCast    []ListedPlan `json:"to_cast" doc:"plans with chips that nobody read" as:"plan list"`
}

// An OpenBatch is a batch that nothing was poured of.
type OpenBatch struct {
	Batch  string        `json:"batch"`
	Recipe string        `json:"recipe"`
	Target string        `json:"target,omitempty"`
	Client string        `json:"client,omitempty"`
	Grams  figure.Number `json:"total_grams"`
	At     string        `json:"at"`
	Who    string        `json:"who"`

	ScaleGrams calibrate.Grams `json:"-"` // step of the scale, 0 if it is not known
}

// Today says what is under way: what waits for a match, the scale, the
// instrument, a correction or an approval, which runs drift and which chips are
// to be cast. most is how many of each to give.
func Today(ctx context.Context, b *Bench, most int) (UnderWay, error) {
	v := UnderWay{ToMatch: []TargetRef{}, ToWeigh: []OpenBatch{}, ToRead: []Pour{}, Missed: []Pour{}, ToApprove: []Pour{}, Drifting: []RunLine{}, ToCast: []ListedPlan{}}
	if most < 1 {
		return v, outOfRange("limit", most, "1 or more")
	}
	targets, err := b.archive.Targets(ctx, "")
	if err != nil {
		return v, err
	}
	for _, t := range slices.Backward(targets) {
		found, err := b.archive.Recipes(ctx, t.Client, t.Name)
		if err != nil {
			return v, err
		}
		if len(found) == 0 && len(v.ToMatch) < most {
			v.ToMatch = append(v.ToMatch, TargetRef{t.Client, t.Name})
		}
	}
	approvals, err := Approvals(ctx, b, ApprovalsRequest{})
	if err != nil {
		return v, err
	}
	approved := map[string]bool{}
	for _, a := range approvals.Approvals {
		approved[a.Recipe.ID] = true
	}
	if err := v.pours(ctx, b.archive, approved, most); err != nil {
		return v, err
	}
	runs, err := Runs(ctx, b)
	if err != nil {
		return v, err
	}
	for _, r := range runs.Runs {
		if r.Drift != "" && len(v.Drifting) < most {
			v.Drifting = append(v.Drifting, r)
		}
	}
	plans, err := Plans(ctx, b, "")
	for _, p := range plans.Plans {
		if p.Read < p.Chips && len(v.ToCast) < most {
			v.ToCast = append(v.ToCast, p)
		}
	}
	return v, err
}

// pours sorts batches and pours by what they wait for.
func (v *UnderWay) pours(ctx context.Context, b *archive.Bench, approved map[string]bool, most int) error {
	batches, err := b.Batches(ctx, "")
	if err != nil {
		return err
	}
	var pours []archive.Pour
	for _, k := range batches {
		of, err := b.PoursOfBatch(ctx, k.Ref)
		if err != nil {
			return err
		}
		pours = append(pours, of...)
		if len(of) == 0 && len(v.ToWeigh) < most {
			r, err := b.RecipeRef(ctx, k.Recipe)
			if err != nil {
				return err
			}
			v.ToWeigh = append(v.ToWeigh, OpenBatch{k.ID(), r.ID(), r.Target, r.Client, figure.Number(k.TotalGrams), figure.At(k.At), k.Who, calibrate.Grams(k.ScaleGrams)})
		}
	}
	slices.SortFunc(pours, func(a, b archive.Pour) int { return int(b.Number - a.Number) })
	judged := map[TargetRef]bool{}
	for _, p := range pours[:min(len(pours), 10*most)] {
		c, err := castOf(ctx, b, p)
		if err != nil {
			return err
		}
		ref, verdict := TargetRef{c.recipe.Client, c.recipe.Target}, c.view().Verdict
		switch {
		case len(c.readings) == 0:
			v.ToRead = put(v.ToRead, c.view(), most)
		case verdict == nil || judged[ref]:
		case !verdict.Passes:
			v.Missed = put(v.Missed, c.view(), most)
		case !approved[c.recipe.ID()]:
			v.ToApprove = put(v.ToApprove, c.view(), most)
		}
		judged[ref] = judged[ref] || verdict != nil
	}
	return nil
}

// put adds to a list that has room.
func put(list []Pour, p Pour, most int) []Pour {
	if len(list) >= most {
		return list
	}
	return append(list, p)
}
