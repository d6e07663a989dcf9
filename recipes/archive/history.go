package archive

import (
	"context"
	"fmt"
	"slices"
)

// History returns every card a name ever had, oldest first: the last one
// counts. T is a card type, and name what names it: History[Pigment](ctx, b,
// "RD"), History[Chip](ctx, b, "CLR", "RD-01"), History[Target](ctx, b, client,
// name).
func History[T any, P interface {
	*T
	placed
}](ctx context.Context, b *Bench, name ...any) ([]T, error) {
	var k kind
	for _, each := range kinds() {
		if _, ok := each.fresh().(P); ok {
			k = each
		}
	}
	if len(k.key) == 0 || len(k.key) != len(name) {
		return nil, fmt.Errorf("history: %w: a %s is not named by %d words", ErrInvalid, k.name, len(name))
	}
	return read(ctx, b, func(tx *snapshot) ([]T, error) {
		cards, err := records[T, P](ctx, tx, k, named(k), name...)
		if err != nil {
			return nil, err
		}
		if len(cards) == 0 {
			return nil, fmt.Errorf("%w %s", ErrNotFound, title(k, name))
		}
		slices.Reverse(cards)
		return cards, nil
	})
}

// A Provenance is everything an approval came from.
type Provenance struct {
	Approval    Approval
	Target      Target // as it was approved against
	Recipe      Recipe
	Corrected   []Recipe     // the recipes it grew from by correction, latest first
	Calibration *Calibration // nil if the recipe was typed in
	Chips       []Chip       // the calibration's
	Pours       []Pour       // that proved it
	Readings    []PourReading
	Head        Head // of the line of the log that stored it
}

// Provenance gathers everything an approval came from.
func (b *Bench) Provenance(ctx context.Context, a Approval) (Provenance, error) {
	return read(ctx, b, func(tx *snapshot) (Provenance, error) {
		p := Provenance{Approval: a}
		var err error
		if p.Head, err = headOfApproval(ctx, tx, a.Ref); err != nil {
			return p, err
		}
		if p.Target, err = byRef[Target](ctx, tx, kindTarget, a.TargetCard); err != nil {
			return p, err
		}
		if p.Recipe, err = byRef[Recipe](ctx, tx, kindRecipe, a.Recipe); err != nil {
			return p, err
		}
		for ref := p.Recipe.Corrects; ref != ""; ref = p.Corrected[len(p.Corrected)-1].Corrects {
			r, err := byRef[Recipe](ctx, tx, kindRecipe, ref)
			if err != nil {
				return p, err
			}
			p.Corrected = append(p.Corrected, r)
		}
		if p.Recipe.Calibration != "" {
			k, err := byRef[Calibration](ctx, tx, kindCalibration, p.Recipe.Calibration)
			if err == nil {
				err = k.count(ctx, tx)
			}
			if err != nil {
				return p, err
			}
			p.Calibration = &k
			if p.Chips, err = chipsOf(ctx, tx, k); err != nil {
				return p, err
			}
		}
		for _, ref := range a.Pours {
			pour, err := byRef[Pour](ctx, tx, kindPour, ref)
			if err != nil {
				return p, err
			}
			readings, err := standing(ctx, tx, "WHERE pour = ? ORDER BY id", ref)
			if err != nil {
				return p, err
			}
			p.Pours = append(p.Pours, pour)
			p.Readings = append(p.Readings, readings...)
		}
		return p, nil
	})
}
