package workbench

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/color"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
	"masstone/recipes/kept"
	"masstone/recipes/papers"
)

// A drawnUp is a plan before it is kept.
type drawnUp struct {
	plan archive.Plan
	kept kept.Plan
}

// drawUp is a plan of chips, cast as the bench does and read so.
func drawUp(resin archive.Resin, bench *castplan.Bench, chips []castplan.Chip, whites []string, read castplan.Reading) drawnUp {
	d := drawnUp{archive.Plan{Resin: resin.Code, ChipGrams: float64(bench.ChipGrams), ScaleGrams: float64(bench.ScaleGrams)},
		kept.Plan{Whites: whites, Spectrum: read.Spectrum}}
	for _, c := range read.Lights {
		d.kept.Lights = append(d.kept.Lights, c.String())
	}
	for _, c := range chips {
		d.plan.Chips = append(d.plan.Chips, archive.PlannedChip{Name: c.Name, Loadings: floats(c.Loadings), Backing: c.Backing.Name, ThicknessMM: float64(c.Bench.Thickness)})
	}
	return d
}

// note adds remarks to the plan.
func (d *drawnUp) note(notes ...string) { d.kept.Notes = append(d.kept.Notes, notes...) }

// keep stores a plan, unless one of its resin says the same.
func (d drawnUp) keep(ctx context.Context, b *Bench) (PlanResult, error) {
	var err error
	if d.plan.Document, err = json.Marshal(d.kept); err != nil {
		return PlanResult{}, err
	}
	var v PlanResult
	err = together(ctx, b, &v, func(a *archive.Bench) error {
		all, err := a.Plans(ctx, d.plan.Resin)
		if err != nil {
			return err
		}
		var p archive.Plan
		if i := slices.IndexFunc(all, d.is); i >= 0 {
			p = all[i]
		} else if p, err = a.AddPlan(ctx, d.plan); err != nil {
			return err
		}
		v, err = planOf(ctx, a, p)
		return err
	})
	return v, err
}

// is tells whether a kept plan says the same.
func (d drawnUp) is(p archive.Plan) bool {
	mine := d.plan
	mine.Number = p.Number
	return same(mine, p)
}

// planOf is a kept plan as it is shown and printed, with what became of its
// chips.
func planOf(ctx context.Context, a *archive.Bench, p archive.Plan) (PlanResult, error) {
	v := PlanResult{Plan: p.ID(), At: p.At.Format(time.RFC3339), Resin: p.Resin, ChipGrams: figure.Number(p.ChipGrams), ScaleGrams: figure.Number(p.ScaleGrams)}
	k, err := kept.ReadPlan(p.ID(), p.Document)
	if err != nil {
		return v, err
	}
	resin, err := a.Resin(ctx, p.Resin)
	if err != nil {
		return v, err
	}
	names, err := pigmentNames(ctx, a)
	if err != nil {
		return v, err
	}
	if p.Calibration != "" {
		c, err := a.CalibrationRef(ctx, p.Calibration)
		if err != nil {
			return v, err
		}
		v.Calibration = c.Name()
	}
	for _, t := range p.For {
		v.For = append(v.For, t.Name)
	}
	v.Chance, v.Castings, v.WholeCastings = figure.Known(k.Chance), figure.Known(k.Castings), figure.Known(k.WholeCastings)
	v.Title, v.Mixtures, v.Before, v.After = k.Title, k.Mixtures, figure.Known(k.Before), figure.Known(k.After)
	v.Whites, v.Lights, v.Spectrum, v.Notes = append([]string{}, k.Whites...), append([]string{}, k.Lights...), k.Spectrum, append([]string{}, k.Notes...)
	v.Paper = papers.ChipPlan{Number: p.ID(), Plan: k.Title, Resin: resin.Code, Mix: mixOf(resin), PigmentSide: batch.Side(resin.PigmentSide), ChipGrams: batch.Grams(p.ChipGrams),
		Step: batch.Grams(p.ScaleGrams), PotLife: resin.PotLife.Minutes(), Names: names, Spectrum: k.Spectrum, Before: k.Before, After: k.After, Notes: v.Notes}
	for _, text := range k.Lights {
		c, err := color.ParseCondition(text)
		if err != nil {
			return v, fmt.Errorf("plan %s: %w", p.ID(), err)
		}
		v.Paper.Lights = append(v.Paper.Lights, c)
	}
	cards, err := a.Chips(ctx, p.Resin)
	if err != nil {
		return v, err
	}
	read := map[string]bool{}
	for _, c := range cards {
		read[c.Name] = true
	}
	var readNames []string
	for i, c := range p.Chips {
		grams := map[string]calibrate.Grams{}
		paper := papers.PlannedChip{Name: c.Name, Backing: c.Backing, ThicknessMM: c.ThicknessMM, Loadings: phrs(c.Loadings), Grams: map[string]batch.Mass{}}
		for code, phr := range c.Loadings {
			g := math.Round(phr/100*p.ChipGrams*1e6) / 1e6
			grams[code], paper.Grams[code] = calibrate.Grams(g), batch.Grams(g)
		}
		shown := PlannedChip{Chip: c.Name, Read: read[c.Name], Over: c.Backing, ThicknessMM: figure.Number(c.ThicknessMM), Loadings: figure.Map(c.Loadings), Grams: figure.Map(grams), Weigh: v.Paper.Weigh(paper)}
		if read[c.Name] {
			v.Read++
			readNames = append(readNames, c.Name)
		}
		if i < len(k.Gains) {
			paper.Why = shown.gains(k.Gains[i])
		}
		if v.Paper.Chips = append(v.Paper.Chips, paper); i == 0 {
			v.ThicknessMM = shown.ThicknessMM
		}
		v.Chips = append(v.Chips, shown)
	}
	if v.Read > 0 {
		v.Notes = append(v.Notes, fmt.Sprintf("Read so far: %s.", figure.List(readNames)))
		v.Paper.Notes = v.Notes
	}
	var cups []int
	v.Cups, cups = v.Paper.Cups()
	for i := range v.Chips {
		v.Chips[i].Cup = cups[i]
	}
	return v, nil
}

// gains says what a chip of a plan buys, and returns it in words.
func (c *PlannedChip) gains(g kept.PlanGain) string {
	what := figure.Loadings(g.Loadings)
	if g.What != "" {
		what = g.What + " (" + what + ")"
	}
	c.After = figure.Of(g.After)
	c.Helps = &HelpedMixture{What: g.What, Loadings: figure.Map(g.Loadings), Before: figure.Number(g.BeforeOfThis), After: figure.Number(g.AfterOfThis)}
	why := fmt.Sprintf("brings the mean to %.3f, most for %s, from %.2f to %.2f", g.After, what, g.BeforeOfThis, g.AfterOfThis)
	if c.Chance = figure.Known(g.Chance); g.Chance > 0 {
		why += fmt.Sprintf("; chance of the next pour %.0f %%", 100*g.Chance)
	}
	return why
}

// A PlanList is the plans of the bench, newest first.
type PlanList struct {
	Plans []ListedPlan `json:"plans"`
}

// A ListedPlan is a plan in a line.
type ListedPlan struct {
	Plan  string   `json:"plan"`
	At    string   `json:"at"`
	Who   string   `json:"who"`
	Resin string   `json:"resin"`
	Title string   `json:"title"`
	For   []string `json:"for,omitempty" doc:"targets"`
	Chips int      `json:"chips"`
	Cups  int      `json:"cups" doc:"castings"`
	Read  int      `json:"chips_read" doc:"that have a reading by now"`
}

// Plans lists the plans of a resin; of all if the code is empty.
func Plans(ctx context.Context, b *Bench, resin string) (PlanList, error) {
	v := PlanList{Plans: []ListedPlan{}}
	if resin != "" {
		if _, err := b.archive.Resin(ctx, resin); err != nil {
			return v, err
		}
	}
	all, err := b.archive.Plans(ctx, resin)
	if err != nil {
		return v, err
	}
	for _, p := range all {
		shown, err := planOf(ctx, b.archive, p)
		if err != nil {
			return v, err
		}
		v.Plans = append(v.Plans, ListedPlan{shown.Plan, shown.At, p.Who, shown.Resin, shown.Title, shown.For, len(shown.Chips), shown.Cups, shown.Read})
	}
	return v, nil
}

// ShowPlan shows a plan by its number, such as PL3, with which of its chips were
// read.
func ShowPlan(ctx context.Context, b *Bench, id string) (PlanResult, error) {
	p, err := b.archive.Plan(ctx, id)
	if err != nil {
		return PlanResult{}, err
	}
	return planOf(ctx, b.archive, p)
}

// A plannedPiece is a chip of a plan that is not read yet.
type plannedPiece struct {
	plan archive.Plan
	chip archive.PlannedChip
}

// plannedOn finds the chip in the newest plan that has it, nil for none.
func plannedOn(ctx context.Context, a *archive.Bench, resin, name string) (*plannedPiece, error) {
	p, k, found, err := a.PlannedChip(ctx, resin, name)
	if err != nil || !found {
		return nil, err
	}
	return &plannedPiece{p, k}, nil
}

// piece is what the plan says of the chip.
func (k *plannedPiece) piece() NewPiece {
	return NewPiece{ThicknessMM: k.chip.ThicknessMM, Over: k.chip.Backing, Loadings: phrs(k.chip.Loadings), Bare: len(k.chip.Loadings) == 0,
		ChipGrams: calibrate.Grams(k.plan.ChipGrams), ScaleGrams: calibrate.Grams(k.plan.ScaleGrams)}
}

// light is the one light that the plan wants its chips read under, zero where
// there are several or spectra.
func (k *plannedPiece) light() (color.Condition, error) {
	doc, err := kept.ReadPlan(k.plan.ID(), k.plan.Document)
	if err != nil || len(doc.Lights) != 1 {
		return color.Condition{}, err
	}
	return color.ParseCondition(doc.Lights[0])
}

// instrument is how the shop reads: as most chips of the resin were read, else
// as most of any resin, else as most targets. found is false where nothing was
// read yet, and what says where it was seen.
func instrument(ctx context.Context, a *archive.Bench, chips []archive.Chip) (read castplan.Reading, what string, err error) {
	of := func(readings []archive.Reading) castplan.Reading {
		var r castplan.Reading
		for _, k := range readings {
			r.Spectrum = r.Spectrum || k.Spectrum != nil
			if k.Lab != nil && !slices.Contains(r.Lights, k.Lab.Color().Under) {
				r.Lights = append(r.Lights, k.Lab.Color().Under)
			}
		}
		if r.Spectrum {
			r.Lights = nil // a spectrum has them all
		}
		return r
	}
	most := func(all [][]archive.Reading) castplan.Reading {
		count := map[string]int{}
		var best castplan.Reading
		name := func(r castplan.Reading) string { return fmt.Sprint(r) }
		for _, readings := range all {
			r := of(readings)
			count[name(r)]++
			if count[name(r)] > count[name(best)] {
				best = r
			}
		}
		return best
	}
	var all [][]archive.Reading
	for _, c := range chips {
		all = append(all, c.Readings)
	}
	if len(all) > 0 {
		return most(all), "the chips of this resin", nil
	}
	resins, err := a.Resins(ctx)
	if err != nil {
		return read, "", err
	}
	for _, r := range resins {
		others, err := a.Chips(ctx, r.Code)
		if err != nil && !errors.Is(err, archive.ErrNotFound) {
			return read, "", err
		}
		for _, c := range others {
			all = append(all, c.Readings)
		}
	}
	if len(all) > 0 {
		return most(all), "the chips of other resins", nil
	}
	targets, err := a.Targets(ctx, "")
	if err != nil {
		return read, "", err
	}
	for _, t := range targets {
		all = append(all, t.Readings)
	}
	if len(all) > 0 {
		return most(all), "the targets", nil
	}
	return read, "", nil
}
