package archive

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
)

// A Pour is what was really weighed and poured of a batch.
type Pour struct {
	Fact
	Batch    string    `json:"batch"`              // Ref of the batch
	PouredOn string    `json:"poured_on"`          // day, 2026-03-31; today if empty
	AsSheet  bool      `json:"as_sheet,omitempty"` // the lines are the sheet's, nobody wrote others down
	Lines    []Line    `json:"lines"`              // the batch's if empty
	Lots     []LotName `json:"lots,omitempty"`     // used
	RoomC    *float64  `json:"room_c,omitempty"`   // room temperature in °C
	Note     string    `json:"note,omitempty"`
}

// ID is how people refer to it: P3.
func (p Pour) ID() string { return fmt.Sprintf("P%d", p.Number) }

// A PourReading is what a cured part of a pour read as, and the verdict on it.
type PourReading struct {
	Fact
	Pour     string    `json:"pour"`    // Ref of the pour
	ReadOn   string    `json:"read_on"` // day; today if empty
	Readings []Reading `json:"readings"`
	// Part is which of the parts of the pour was read, from 1; 0 where it is the
	// only one, or nobody said.
	Part     int      `json:"part,omitempty"`
	AgeHours float64  `json:"age_h,omitempty"`  // from the pour to the reading; 0 if not known
	PartC    *float64 `json:"part_c,omitempty"` // temperature of the part in °C
	// Companion is set where a flat chip from the same cup was read in the part's place.
	Companion bool `json:"companion,omitempty"`
	// FlatMM is how wide the flat spot was that was read; 0 if it is the target's, or
	// not known.
	FlatMM float64 `json:"flat_mm,omitempty"`
	// ThicknessSD is to how much the thickness of the part is known, mm; nil if it is its
	// mould's or target's.
	ThicknessSD *float64 `json:"thickness_sd,omitempty"`
	// Withdraws is the Ref of an earlier reading of the pour that was wrong, as its note
	// says; this then has no readings, and neither is listed.
	Withdraws string `json:"withdraws,omitempty"`
	// Verdict is the judgement against the target, which the archive stores
	// without reading it.
	Verdict json.RawMessage `json:"verdict,omitempty"`
	Note    string          `json:"note,omitempty"`
}

// AddPour stores a pour and returns it with its number. Without lines the pour
// took what its batch's sheet said.
func (b *Bench) AddPour(ctx context.Context, p Pour) (Pour, error) {
	lines, err := weighed(p.Lines)
	if err != nil {
		return Pour{}, fmt.Errorf("pour: %w", err)
	}
	p.Lines = lines
	return write(ctx, b, func(c *change) (Pour, error) {
		batch, err := byRef[Batch](ctx, c, kindBatch, p.Batch)
		if err != nil {
			return p, fmt.Errorf("pour: %w", err)
		}
		if len(p.Lines) == 0 {
			p.AsSheet, p.Lines = true, batch.Lines
		}
		if p.Lots == nil {
			p.Lots = batch.Lots
		}
		if p.PouredOn == "" {
			p.PouredOn = c.today()
		}
		if p.Number, err = c.number(ctx, kindPour); err != nil {
			return p, err
		}
		if err := c.insert(ctx, kindPour, "", &p); err != nil {
			return p, err
		}
		return p, c.log(ctx, "pour added", p.ID(), batch.ID())
	})
}

// AddPourReading stores the reading of a cured part.
func (b *Bench) AddPourReading(ctx context.Context, r PourReading) (PourReading, error) {
	return write(ctx, b, func(c *change) (PourReading, error) {
		p, err := byRef[Pour](ctx, c, kindPour, r.Pour)
		if err != nil {
			return r, fmt.Errorf("pour reading: %w", err)
		}
		if r.ReadOn == "" {
			r.ReadOn = c.today()
		}
		if r.Number, err = c.number(ctx, kindPourReading); err != nil {
			return r, err
		}
		if err := c.insert(ctx, kindPourReading, "", &r); err != nil {
			return r, err
		}
		if r.Withdraws != "" {
			return r, c.log(ctx, "pour reading withdrawn", p.ID(), r.Note)
		}
		return r, c.log(ctx, "pour read", p.ID(), fmt.Sprintf("%d readings", len(r.Readings)))
	})
}

// Pour returns a pour by its ID, such as P3 or 3.
func (b *Bench) Pour(ctx context.Context, id string) (Pour, error) {
	return read(ctx, b, func(tx *snapshot) (Pour, error) { return byNumber[Pour](ctx, tx, kindPour, "P", id) })
}

// PourRef returns the pour with a Ref.
func (b *Bench) PourRef(ctx context.Context, ref string) (Pour, error) {
	return read(ctx, b, func(tx *snapshot) (Pour, error) { return byRef[Pour](ctx, tx, kindPour, ref) })
}

// Pours lists the pours of a target, oldest first, from all its recipes: the
// evidence about its lots.
func (b *Bench) Pours(ctx context.Context, client, name string) ([]Pour, error) {
	return read(ctx, b, func(tx *snapshot) ([]Pour, error) {
		t, err := target(ctx, tx, client, name)
		if err != nil {
			return nil, err
		}
		return records[Pour](ctx, tx, kindPour, `WHERE batch IN (
			SELECT batch.sum FROM batch JOIN recipe ON recipe.sum = batch.recipe WHERE recipe.target = ? AND recipe.client = ?
		) ORDER BY id`, t.Name, t.Client)
	})
}

// PoursOfResin lists the pours of a resin, oldest first, of all its recipes.
func (b *Bench) PoursOfResin(ctx context.Context, resin string) ([]Pour, error) {
	return read(ctx, b, func(tx *snapshot) ([]Pour, error) {
		return records[Pour](ctx, tx, kindPour, `WHERE batch IN (
			SELECT batch.sum FROM batch JOIN recipe ON recipe.sum = batch.recipe WHERE recipe.resin = ?
		) ORDER BY id`, resin)
	})
}

// PoursOfBatch lists the pours of a batch, oldest first.
func (b *Bench) PoursOfBatch(ctx context.Context, batchRef string) ([]Pour, error) {
	return read(ctx, b, func(tx *snapshot) ([]Pour, error) {
		return records[Pour](ctx, tx, kindPour, "WHERE batch = ? ORDER BY id", batchRef)
	})
}

// PoursWithLot lists the pours that used a lot, oldest first.
func (b *Bench) PoursWithLot(ctx context.Context, l LotName) ([]Pour, error) {
	return read(ctx, b, func(tx *snapshot) ([]Pour, error) {
		return records[Pour](ctx, tx, kindPour,
			"WHERE id IN (SELECT pour FROM pour_lot WHERE item = ? AND code = ? AND name = ?) ORDER BY id", l.Item, l.Code, l.Name)
	})
}

// PourReadings lists the readings of a pour that were not withdrawn, oldest first.
func (b *Bench) PourReadings(ctx context.Context, pourRef string) ([]PourReading, error) {
	return read(ctx, b, func(tx *snapshot) ([]PourReading, error) {
		return standing(ctx, tx, "WHERE pour = ? ORDER BY id", pourRef)
	})
}

// standing are the readings of pours that were not withdrawn.
func standing(ctx context.Context, q reader, where string, args ...any) ([]PourReading, error) {
	all, err := records[PourReading](ctx, q, kindPourReading, where, args...)
	gone := map[string]bool{}
	for _, r := range all {
		if r.Withdraws != "" {
			gone[r.Ref], gone[r.Withdraws] = true, true
		}
	}
	return slices.DeleteFunc(all, func(r PourReading) bool { return gone[r.Ref] }), err
}

// ReadingsOfResin lists the readings of all pours of a resin that were not withdrawn,
// oldest first.
func (b *Bench) ReadingsOfResin(ctx context.Context, resin string) ([]PourReading, error) {
	return read(ctx, b, func(tx *snapshot) ([]PourReading, error) {
		return standing(ctx, tx, `WHERE pour IN (
			SELECT pour.sum FROM pour JOIN batch ON batch.sum = pour.batch JOIN recipe ON recipe.sum = batch.recipe WHERE recipe.resin = ?
		) ORDER BY id`, resin)
	})
}

// today is the day of the transaction, in UTC.
func (c *change) today() string { return c.stamp.At.Format("2006-01-02") }
