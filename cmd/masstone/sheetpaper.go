package main

import (
	"context"

	"masstone/color"
	"masstone/recipes/archive"
	"masstone/recipes/papers"
)

// sheetPaper is a batch as it is printed, with what the bench knows of it.
func sheetPaper(ctx context.Context, b *archive.Bench, v batchView, r archive.Recipe, order string, h papers.Heading) (papers.BatchSheet, error) {
	p := papers.BatchSheet{Heading: h, Batch: v.Batch, Recipe: v.Recipe, Resin: v.Resin, Target: v.Target, Client: v.Client, Order: order,
		Sheet: v.Sheet, Smallest: v.Smallest, Rescue: v.Rescue}
	var err error
	if p.Names, err = pigmentNames(ctx, b); err != nil {
		return p, err
	}
	if p.Lots, err = lotNames(ctx, b, r); err != nil {
		return p, err
	}
	if p.Calibration, err = calibrationName(ctx, b, r); err != nil {
		return p, err
	}
	if len(r.Predicted) > 0 {
		lab := r.Predicted[0].Color()
		p.Predicted = &lab
		t, err := targetOf(ctx, b, r)
		if err != nil {
			return p, err
		}
		if p.TargetLab, err = targetLab(t, lab.Under); err != nil {
			return p, err
		}
	}
	return p, nil
}

// pigmentNames are the plain names of the pigments by code.
func pigmentNames(ctx context.Context, b *archive.Bench) (map[string]string, error) {
	pigments, err := b.Pigments(ctx)
	names := map[string]string{}
	for _, p := range pigments {
		names[p.Code] = p.Name
	}
	return names, err
}

// lotNames are the lots in use by pigment code, and by side of the resin.
func lotNames(ctx context.Context, b *archive.Bench, r archive.Recipe) (map[string]string, error) {
	lots, err := lotsInUse(ctx, b, r.Resin, codesOf(r))
	names := map[string]string{}
	for _, l := range lots {
		if l.Item == archive.OfResin {
			names["A"], names["B"] = l.Name, l.Name
			continue
		}
		names[l.Code] = l.Name
	}
	return names, err
}

// calibrationName is the name of the calibration of a recipe, empty without one.
func calibrationName(ctx context.Context, b *archive.Bench, r archive.Recipe) (string, error) {
	if r.Calibration == "" {
		return "", nil
	}
	stored, err := b.CalibrationRef(ctx, r.Calibration)
	return stored.Name(), err
}

// targetLab is a target's colour under a light, nil where it was not read so.
func targetLab(t *archive.Target, under color.Condition) (*color.Lab, error) {
	if t == nil {
		return nil, nil
	}
	piece, err := pieceOf(t.Name, t.Readings)
	if err != nil {
		return nil, err
	}
	r, err := readingOf(piece)
	if err != nil {
		return nil, err
	}
	return r.Under(under)
}
