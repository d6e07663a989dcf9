package workbench

import (
	"context"

	"masstone/calibrate"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
	"masstone/recipes/papers"
)

// paper is a batch as it is printed, with what the bench knows of it and the
// lots that were meant for it.
func (v *Batch) paper(ctx context.Context, a *archive.Bench, r archive.Recipe, k archive.Batch, h papers.Heading) (papers.BatchSheet, error) {
	p := papers.BatchSheet{Heading: h, Batch: v.Batch, Recipe: v.Recipe, Resin: v.Resin, Target: v.Target, Client: v.Client,
		Sheet: v.Sheet, Smallest: v.Smallest, Rescue: v.Rescue, Lots: lotsOnPaper(k.Lots)}
	var err error
	if p.Names, err = pigmentNames(ctx, a); err != nil {
		return p, err
	}
	if p.Calibration, err = calibrationName(ctx, a, r); err != nil {
		return p, err
	}
	if len(r.Predicted) > 0 {
		lab := r.Predicted[0].Color()
		p.Predicted = &lab
		t, err := targetOf(ctx, a, r)
		if err != nil {
			return p, err
		}
		if p.TargetLab, err = targetLab(t, lab.Under); err != nil {
			return p, err
		}
	}
	return p, nil
}

// lotsOnPaper are lots by pigment code, and by side of the resin.
func lotsOnPaper(lots []archive.LotName) map[string]string {
	names := map[string]string{}
	for _, l := range lots {
		if l.Item == archive.OfResin {
			names["A"], names["B"] = l.Name, l.Name
			continue
		}
		names[l.Code] = l.Name
	}
	return names
}

// A StoredBatch is a batch found again. One that was drawn from a stock or
// added to a pot has lines, but no sheet.
type StoredBatch struct {
	Batch
	At  string `json:"at"`
	Who string `json:"who"`
}

// A BatchLines is a batch without a sheet: drawn from a stock, or added to a
// pot.
type BatchLines struct {
	Batch  string        `json:"batch"`
	Recipe string        `json:"recipe"`
	Resin  string        `json:"resin"`
	Lines  []Amount      `json:"lines"`
	Grams  figure.Number `json:"total_grams"`
	Stock  string        `json:"stock,omitempty"`
	At     string        `json:"at"`
	Who    string        `json:"who"`

	ScaleGrams calibrate.Grams `json:"-"` // step of the scale, 0 if it is not known
}

// ShowBatch finds a batch again, with the sheet as it was made up: its lots are
// those that were meant then. Of one without a sheet it gives the lines.
func ShowBatch(ctx context.Context, b *Bench, id string, shop []string) (*StoredBatch, *BatchLines, error) {
	k, err := b.archive.Batch(ctx, id)
	if err != nil {
		return nil, nil, err
	}
	r, err := b.archive.RecipeRef(ctx, k.Recipe)
	if err != nil {
		return nil, nil, err
	}
	sheet, err := sheetOf(k)
	if err != nil {
		return nil, nil, err
	}
	at := figure.At(k.At)
	if len(sheet.Lines) == 0 {
		return nil, &BatchLines{k.ID(), r.ID(), r.Resin, amounts(k.Lines), figure.Number(k.TotalGrams), k.Stock, at, k.Who, calibrate.Grams(k.ScaleGrams)}, nil
	}
	v := &StoredBatch{Batch{Batch: k.ID(), Recipe: r.ID(), Resin: r.Resin, Target: r.Target, Client: r.Client, Sheet: sheet}, at, k.Who}
	h := b.heading(shop)
	h.Made = k.At // the day it was made up
	v.Paper, err = v.paper(ctx, b.archive, r, k, h)
	return v, nil, err
}
