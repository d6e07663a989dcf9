package main

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"masstone/calibrate"
	"masstone/recipes"
	"masstone/recipes/archive"
)

// keptBelief is what a recipe was found with beside its calibration: what was
// known of the lots, the pours learnt from, and lots opened since. It gives the
// same belief again whenever the recipe is weighed.
type keptBelief struct {
	Lots  map[string]calibrate.Strength `json:"lots,omitempty"`
	Pours []string                      `json:"pours,omitempty"` // Refs, oldest first
	Since map[string]calibrate.Strength `json:"since,omitempty"` // against the lots of the pours
}

// keptOf is what was stored with a recipe beside its loadings.
func keptOf(r archive.Recipe) (keptWithRecipe, error) {
	var kept keptWithRecipe
	if len(r.Document) == 0 {
		return kept, nil
	}
	if err := json.Unmarshal(r.Document, &kept); err != nil {
		return kept, fmt.Errorf("recipe %s: what it was found with cannot be read (%w); run masstone verify", r.ID(), err)
	}
	return kept, nil
}

// form gives the calibration as the belief has it.
func (k keptBelief) form(ctx context.Context, b *archive.Bench, cal *calibrate.Calibration, target recipes.Target) (*calibrate.Calibration, error) {
	var err error
	if len(k.Pours) == 0 {
		cal, err = cal.WithLots(k.Lots)
	} else {
		var pours []recipes.Pour
		for _, ref := range k.Pours {
			p, err := b.PourRef(ctx, ref)
			if err != nil {
				return nil, err
			}
			c, err := castOf(ctx, b, p)
			if err != nil {
				return nil, err
			}
			pour, err := c.asPour(ctx, b)
			if err != nil {
				return nil, err
			}
			pours = append(pours, pour)
		}
		cal, _, err = recipes.Learn(cal, target, pours, recipes.CorrectOptions{Lots: k.Lots})
	}
	if err != nil || len(k.Since) == 0 {
		return cal, err
	}
	return cal.WithLots(k.Since)
}

// evidence is the pours of a target that a correction learns from.
type evidence struct {
	casts []cast
	pours []recipes.Pour
	refs  []string
	notes []string
}

func (e *evidence) add(ctx context.Context, b *archive.Bench, c cast) error {
	p, err := c.asPour(ctx, b)
	if err != nil {
		return err
	}
	e.casts, e.pours, e.refs = append(e.casts, c), append(e.pours, p), append(e.refs, c.pour.Ref)
	return nil
}

// believed is the calibration a recipe was found with, as it was believed then,
// and its target; nil for a recipe without both.
func believed(ctx context.Context, b *archive.Bench, r archive.Recipe) (*calibrate.Calibration, recipes.Target, error) {
	if r.Target == "" || r.Calibration == "" {
		return nil, recipes.Target{}, nil
	}
	stored, err := b.CalibrationRef(ctx, r.Calibration)
	if err != nil {
		return nil, recipes.Target{}, err
	}
	cal, err := openCalibration(stored)
	if err != nil {
		return nil, recipes.Target{}, err
	}
	if slices.ContainsFunc(codesOf(r), func(code string) bool { return cal.Index(code) == 0 }) {
		return nil, recipes.Target{}, nil
	}
	t, err := b.TargetRef(ctx, r.TargetCard)
	if err != nil {
		return nil, recipes.Target{}, err
	}
	target, err := recipesTarget(ctx, b, t, cal, r.ThicknessMM, r.Backing)
	if err != nil {
		return nil, target, err
	}
	kept, err := keptOf(r)
	if err != nil || kept.Belief == nil {
		return cal, target, err
	}
	cal, err = kept.Belief.form(ctx, b, cal, target)
	return cal, target, err
}
