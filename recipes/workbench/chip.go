package workbench

import (
	"context"
	"errors"
	"fmt"

	"masstone/color/readings"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// A Chip is a casting of known loading and what was read on it.
type Chip struct {
	Name        string                   `json:"chip"`
	Loadings    map[string]figure.Number `json:"loadings_phr"`
	Over        string                   `json:"over" doc:"the backing it lay on"`
	ThicknessMM figure.Number            `json:"thickness_mm"`
	Casting     string                   `json:"casting,omitempty" doc:"it shares with other chips, such as one cup over two backings"`
	ThicknessSD figure.Number            `json:"thickness_sd_mm" doc:"by which it may miss, a standard deviation"`
	ChipGrams   *figure.Number           `json:"chip_grams,omitempty" doc:"mixed resin in its cup"`
	ScaleGrams  *figure.Number           `json:"scale_g,omitempty"`
	Readings    []archive.Reading        `json:"readings"`
	Note        string                   `json:"note,omitempty"`
	Withdrawn   string                   `json:"withdrawn,omitempty" doc:"why it no longer counts"`
	Planned     string                   `json:"planned,omitempty" doc:"plan it is of, while it has no reading"`

	Mean readings.Piece `json:"-"` // of its readings
	Ref  string         `json:"-"` // of the card
}

// A ChipList is the chips of a resin that are fitted, in the order they first
// came.
type ChipList struct {
	Resin string `json:"resin"`
	Chips []Chip `json:"chips"`
}

func chipOf(c archive.Chip) (Chip, error) {
	v := Chip{Name: c.Name, Loadings: figure.Map(c.Loadings), Over: c.Backing, ThicknessMM: figure.Number(c.ThicknessMM), Casting: c.Casting, ThicknessSD: figure.Number(thicknessSD(c.ThicknessSD, c.ThicknessMM)), ChipGrams: figure.Known(c.ChipGrams), ScaleGrams: figure.Known(c.ScaleGrams),
		Readings: c.Readings, Note: c.Note, Withdrawn: c.Withdrawn, Ref: c.Ref}
	var err error
	v.Mean, err = pieceOf(c.Name, c.Readings)
	return v, err
}

// Chips lists the chips of a resin; of the only one if the code is empty.
func Chips(ctx context.Context, b *Bench, resin string) (ChipList, error) {
	v := ChipList{Chips: []Chip{}}
	card, err := resinAt(ctx, b.archive, resin)
	if err != nil {
		return v, err
	}
	v.Resin = card.Code
	all, err := b.archive.Chips(ctx, card.Code)
	if err != nil {
		return v, err
	}
	for _, c := range all {
		chip, err := chipOf(c)
		if err != nil {
			return v, err
		}
		v.Chips = append(v.Chips, chip)
	}
	return v, nil
}

// ShowChip shows a chip of a resin, withdrawn or not, or one of a plan that is not
// read yet; of the only resin if the code is empty.
func ShowChip(ctx context.Context, b *Bench, resin, name string) (Chip, error) {
	card, err := resinAt(ctx, b.archive, resin)
	if err != nil {
		return Chip{}, err
	}
	c, err := b.archive.Chip(ctx, card.Code, name)
	if errors.Is(err, archive.ErrNotFound) {
		p, k, found, err2 := b.archive.PlannedChip(ctx, card.Code, name)
		if err2 != nil {
			return Chip{}, err2
		}
		if found {
			return plannedChip(p, k), nil
		}
		return Chip{}, fmt.Errorf("%w; if it was cast and not read yet: %s, or %s", err, remedy.Verb("reading add chip"), remedy.Verb("chip import"))
	}
	if err != nil {
		return Chip{}, err
	}
	return chipOf(c)
}

// plannedChip is a chip of a plan without a reading.
func plannedChip(p archive.Plan, k archive.PlannedChip) Chip {
	c := p.Chip(k)
	return Chip{Name: c.Name, Casting: castingIn(p, c.Name), Loadings: figure.Map(c.Loadings), Over: c.Backing, ThicknessMM: figure.Number(c.ThicknessMM), ChipGrams: figure.Known(c.ChipGrams), ScaleGrams: figure.Known(c.ScaleGrams),
		Readings: []archive.Reading{}, Planned: p.ID()}
}

// A WithdrawChipRequest takes a bad chip out of what is fitted.
type WithdrawChipRequest struct {
	Resin string // code; the only one on the bench if empty
	Chip  string
	Why   string
	Seen  string // Ref of the card this was made from; "" does not check
}

// A WithdrawnChip is a chip that was taken out of what is fitted.
type WithdrawnChip struct {
	Outcome string `json:"outcome" doc:"changed, unchanged"`
	Resin   string `json:"resin"`
	Chip    string `json:"withdrawn" doc:"the chip"`
	Why     string `json:"why"`
}

// WithdrawChip takes a chip out of what is fitted and keeps it, its readings and
// the reason. Importing it again with Replace brings it back.
func WithdrawChip(ctx context.Context, b *Bench, r WithdrawChipRequest) (WithdrawnChip, error) {
	v := WithdrawnChip{Chip: r.Chip, Why: r.Why}
	if r.Why == "" {
		return v, missing("chip "+r.Chip, "why", "say why it is withdrawn", "poured from the wrong cup")
	}
	err := together(ctx, b, &v, func(a *archive.Bench) error {
		resin, err := resinAt(ctx, a, r.Resin)
		if err != nil {
			return err
		}
		v.Resin = resin.Code
		now, err := a.Chip(ctx, resin.Code, r.Chip)
		if err != nil {
			return err
		}
		if err := checkSeen("chip "+r.Chip, r.Seen, now.Stamp); err != nil {
			return err
		}
		outcome, err := a.WithdrawChip(ctx, resin.Code, r.Chip, r.Why)
		v.Outcome = string(outcome)
		return err
	})
	return v, err
}
