package archive

import (
	"context"
	"encoding/json"
	"fmt"
)

// A Plan is chips to cast. It is written once.
type Plan struct {
	Fact
	Resin       string        `json:"resin"`
	Calibration string        `json:"calibration,omitempty"` // Ref of the calibration it follows
	For         []TargetName  `json:"for,omitempty"`         // targets it was made for
	ChipGrams   float64       `json:"chip_grams"`            // mixed resin in a chip's cup
	ScaleGrams  float64       `json:"scale_grams"`           // step of the scale
	Chips       []PlannedChip `json:"chips"`                 // in the order to cast them
	// Document is the rest of the plan, which the archive stores without reading it.
	Document json.RawMessage `json:"document,omitempty"`
}

// A TargetName names a target.
type TargetName struct {
	Client string `json:"client,omitempty"`
	Name   string `json:"name"`
}

// A PlannedChip is a chip as it is to be: the card it will have, without a
// reading.
type PlannedChip struct {
	Name        string             `json:"name"`
	Loadings    map[string]float64 `json:"loadings,omitempty"` // phr by pigment code; none for the bare resin
	Backing     string             `json:"backing"`
	ThicknessMM float64            `json:"thickness_mm"`
}

// Chip is the card a planned chip of the plan will have, but for its readings.
func (p Plan) Chip(k PlannedChip) Chip {
	return Chip{Resin: p.Resin, Name: k.Name, Loadings: k.Loadings, Backing: k.Backing, ThicknessMM: k.ThicknessMM, ChipGrams: p.ChipGrams, ScaleGrams: p.ScaleGrams}
}

// ID is how people refer to it: PL3.
func (p Plan) ID() string { return fmt.Sprintf("PL%d", p.Number) }

// AddPlan stores a plan and returns it with its number.
func (b *Bench) AddPlan(ctx context.Context, p Plan) (Plan, error) {
	return write(ctx, b, func(c *change) (Plan, error) {
		var err error
		if p.Number, err = c.number(ctx, kindPlan); err != nil {
			return p, err
		}
		if err := c.insert(ctx, kindPlan, "", &p); err != nil {
			return p, err
		}
		return p, c.log(ctx, "plan added", p.ID(), fmt.Sprintf("%d chips of %s", len(p.Chips), p.Resin))
	})
}

// Plan returns a plan by its ID, such as PL3 or 3.
func (b *Bench) Plan(ctx context.Context, id string) (Plan, error) {
	return read(ctx, b, func(tx *snapshot) (Plan, error) { return byNumber[Plan](ctx, tx, kindPlan, "PL", id) })
}

// Plans lists the plans of a resin, or all if it is empty, newest first.
func (b *Bench) Plans(ctx context.Context, resin string) ([]Plan, error) {
	return read(ctx, b, func(tx *snapshot) ([]Plan, error) {
		return records[Plan](ctx, tx, kindPlan, "WHERE resin = ?1 OR ?1 = '' ORDER BY id DESC", resin)
	})
}

// PlannedChip finds a chip by name in the newest plan of a resin that has one
// of that name; found is false where none has.
func (b *Bench) PlannedChip(ctx context.Context, resin, name string) (p Plan, chip PlannedChip, found bool, err error) {
	all, err := read(ctx, b, func(tx *snapshot) ([]Plan, error) {
		return records[Plan](ctx, tx, kindPlan, "WHERE resin = ? AND id IN (SELECT plan FROM plan_chip WHERE name = ?) ORDER BY id DESC LIMIT 1", resin, name)
	})
	if err != nil || len(all) == 0 {
		return p, chip, false, err
	}
	for _, k := range all[0].Chips {
		if k.Name == name {
			return all[0], k, true, nil
		}
	}
	return p, chip, false, nil
}
