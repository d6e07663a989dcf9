package archive

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"

	"masstone/color/remedy"
	"masstone/recipes/archive/engine"
)

// A Calibration is a fit of a resin's pigments. It is written once.
type Calibration struct {
	Fact
	Resin string   `json:"resin"`
	Layer string   `json:"layer"` // name of the layer model
	Chips []string `json:"chips"` // Refs of the chips it was fitted from
	// Pours are the Refs of the pours that it was fitted from beside them. They may
	// be on another bench: who has a calibration need not have what others ordered.
	Pours []string `json:"pours,omitempty"`
	// From is the Ref of the calibration of another resin that its curves were carried
	// over from, empty for none. It may be on another bench.
	From string `json:"from,omitempty"`
	// Document is the fit itself, which the archive stores without reading it.
	Document json.RawMessage `json:"document"`

	// Version counts the calibrations of a resin on this bench from 1. The
	// bench fills it in.
	Version int `json:"-"`
}

// Name is how people refer to it: CLR v3.
func (k Calibration) Name() string { return fmt.Sprintf("%s v%d", k.Resin, k.Version) }

// FittedFrom tells whether a pour is among those it was fitted from.
func (k Calibration) FittedFrom(p Pour) bool { return slices.Contains(k.Pours, p.Ref) }

// AddCalibration stores a fit as the resin's next version.
func (b *Bench) AddCalibration(ctx context.Context, k Calibration) (Calibration, error) {
	if k.Chips == nil {
		k.Chips = []string{}
	}
	return write(ctx, b, func(c *change) (Calibration, error) {
		var err error
		if k.Number, err = c.number(ctx, kindCalibration); err != nil {
			return k, err
		}
		if err := c.insert(ctx, kindCalibration, "", &k); err != nil {
			return k, err
		}
		if err := k.count(ctx, c); err != nil {
			return k, err
		}
		from := fmt.Sprintf("%d chips", len(k.Chips))
		if n := len(k.Pours); n > 0 {
			from += fmt.Sprintf(", %d pours", n)
		}
		return k, c.log(ctx, "calibration added", k.Name(), from+", layer "+k.Layer)
	})
}

// Calibrations lists the calibrations of a resin, oldest first, without their
// documents.
func (b *Bench) Calibrations(ctx context.Context, resin string) ([]Calibration, error) {
	return read(ctx, b, func(tx *snapshot) ([]Calibration, error) {
		all, err := records[Calibration](ctx, tx, kindCalibration, "WHERE resin = ? ORDER BY id", resin)
		for i := range all {
			all[i].Version = i + 1
			all[i].Document = nil
		}
		return all, err
	})
}

// Calibration returns a version of a resin's calibration; 0 is the newest.
func (b *Bench) Calibration(ctx context.Context, resin string, version int) (Calibration, error) {
	return read(ctx, b, func(tx *snapshot) (Calibration, error) {
		if _, err := find[Resin](ctx, tx, kindResin, "resin", "code", resin); err != nil {
			return Calibration{}, err
		}
		rest, skip := "WHERE resin = ? ORDER BY id LIMIT 1 OFFSET ?", version-1
		if version == 0 {
			rest, skip = "WHERE resin = ? ORDER BY id DESC LIMIT 1 OFFSET ?", 0
		}
		var ref string
		err := tx.QueryRowContext(ctx, "SELECT sum FROM calibration "+rest, resin, max(skip, 0)).Scan(&ref)
		var k Calibration
		if err == nil {
			k, err = b.calibration(ctx, tx, ref)
		}
		switch {
		case errors.Is(err, sql.ErrNoRows) && version == 0:
			return k, fmt.Errorf("%w calibration of resin %s: it has none yet; run %s", ErrNotFound, resin, remedy.Verb("fit", resin))
		case errors.Is(err, sql.ErrNoRows) || err == nil && version < 0:
			return k, notFound(strconv.Itoa(version), "calibration %s v%d; leave the version out for the newest", resin, version)
		case err != nil:
			return k, err
		}
		return k, k.count(ctx, tx)
	})
}

// CalibrationRef returns the calibration with a Ref.
func (b *Bench) CalibrationRef(ctx context.Context, ref string) (Calibration, error) {
	return read(ctx, b, func(tx *snapshot) (Calibration, error) {
		k, err := Made(b, ref, func() (Calibration, error) { return byRef[Calibration](ctx, tx, kindCalibration, ref) })
		if err != nil {
			return k, err
		}
		return k, k.count(ctx, tx)
	})
}

// calibration returns the one with a Ref, read and checked once for all who ask,
// as its document is long. One that breaks the rules is left out, and the error
// sql.ErrNoRows.
func (b *Bench) calibration(ctx context.Context, tx *snapshot, ref string) (Calibration, error) {
	return Made(b, ref, func() (Calibration, error) {
		all, err := records[Calibration](ctx, tx, kindCalibration, "WHERE sum = ?", ref)
		if err == nil && len(all) == 0 {
			err = sql.ErrNoRows
		}
		if err != nil {
			return Calibration{}, err
		}
		return all[0], nil
	})
}

// ChipsOf lists the chips a calibration was fitted from, as they were then.
func (b *Bench) ChipsOf(ctx context.Context, k Calibration) ([]Chip, error) {
	return read(ctx, b, func(tx *snapshot) ([]Chip, error) { return chipsOf(ctx, tx, k) })
}

func chipsOf(ctx context.Context, q reader, k Calibration) ([]Chip, error) {
	chips := make([]Chip, 0, len(k.Chips))
	for _, ref := range k.Chips {
		c, err := byRef[Chip](ctx, q, kindChip, ref)
		if err != nil {
			return nil, err
		}
		chips = append(chips, c)
	}
	return chips, nil
}

// count fills in the version.
func (k *Calibration) count(ctx context.Context, q engine.Queryer) error {
	return q.QueryRowContext(ctx, "SELECT count(*) FROM calibration WHERE resin = ? AND id <= ?", k.Resin, k.Number).Scan(&k.Version)
}

// byRef returns the record of k with a Ref.
func byRef[T any, P interface {
	*T
	placed
}](ctx context.Context, q engine.Queryer, k kind, ref string) (T, error) {
	v, err := one[T, P](ctx, q, k, "WHERE sum = ?", ref)
	if errors.Is(err, sql.ErrNoRows) {
		err = fmt.Errorf("%w %s %.12s; was it made on another bench? import it first", ErrNotFound, k.name, ref)
	}
	return v, err
}

// requireRefs returns an error if a Ref is of no record of k.
func (c *change) requireRefs(ctx context.Context, k kind, refs ...string) error {
	for _, ref := range refs {
		found, err := c.holds(ctx, "SELECT EXISTS (SELECT 1 FROM "+k.table+" WHERE sum = ?)", ref)
		if err != nil {
			return err
		}
		if !found {
			return fmt.Errorf("%w %s %.12s; was it made on another bench? import it first", ErrNotFound, k.name, ref)
		}
	}
	return nil
}

// mostFound is how many things that are there are remembered.
const mostFound = 4096

// holds tells whether something is there. What is stays, so that it is asked for once.
func (c *change) holds(ctx context.Context, query string, args ...any) (found bool, err error) {
	asked := fmt.Sprintf("%s %q", query, args)
	if c.found[asked] {
		return true, nil
	}
	q, err := c.prepared(ctx, query)
	if err != nil {
		return false, err
	}
	if err = q.QueryRowContext(ctx, args...).Scan(&found); found {
		if len(c.found) >= mostFound {
			clear(c.found)
		}
		c.found[asked] = true
	}
	return found, err
}
