package archive

import (
	"context"
	"fmt"
	"time"
)

// What a lot is a lot of.
const (
	OfPigment = "pigment"
	OfResin   = "resin"
)

// A Lot is one delivery of a pigment or of a resin.
type Lot struct {
	Item     string  `json:"item"`               // OfPigment or OfResin
	Code     string  `json:"code"`               // of the pigment or resin
	Name     string  `json:"name"`               // as on the label
	Received string  `json:"received,omitempty"` // date, 2026-03-31
	Grams    float64 `json:"grams,omitempty"`    // as delivered; 0 if not known
	Note     string  `json:"note,omitempty"`
	Stamp    `json:"-"`
}

// A LotName names a lot.
type LotName struct {
	Item string `json:"item"`
	Code string `json:"code"`
	Name string `json:"name"`
}

func (l LotName) String() string { return fmt.Sprintf("%s %s lot %s", l.Item, l.Code, l.Name) }

// An OpenedLot says which lot of an item is in use from a moment on.
type OpenedLot struct {
	Item  string `json:"item"`
	Code  string `json:"code"`
	Lot   string `json:"lot"`
	Stamp `json:"-"`
}

// A LotStrength is what is believed of a lot against the lot that was
// calibrated: the mean and standard deviation of the natural logarithm of its
// strength.
type LotStrength struct {
	Item        string   `json:"item"`
	Code        string   `json:"code"`
	Lot         string   `json:"lot"`
	LnStrength  float64  `json:"ln_strength"`
	SD          float64  `json:"sd"`
	Calibration string   `json:"calibration,omitempty"` // Ref of the calibration it is relative to
	Evidence    []string `json:"evidence,omitempty"`    // Refs of the chips and pours it was learnt from
	Stamp       `json:"-"`
}

// PutLot adds a lot, or with Replace supersedes its card.
func (b *Bench) PutLot(ctx context.Context, l Lot, on OnChange) (Outcome, error) {
	return write(ctx, b, func(c *change) (Outcome, error) {
		return c.putLogged(ctx, kindLot, &l, on, l.Item, l.Code, l.Name)
	})
}

// OpenLot says that a lot is the one in use from now on.
func (b *Bench) OpenLot(ctx context.Context, l LotName) (Outcome, error) {
	return write(ctx, b, func(c *change) (Outcome, error) {
		return c.putLogged(ctx, kindLotOpened, &OpenedLot{Item: l.Item, Code: l.Code, Lot: l.Name}, Replace, l.Item, l.Code)
	})
}

// SetLotStrength records what is now known of a lot's strength.
func (b *Bench) SetLotStrength(ctx context.Context, s LotStrength) (Outcome, error) {
	return write(ctx, b, func(c *change) (Outcome, error) {
		return c.putLogged(ctx, kindLotStrength, &s, Replace, s.Item, s.Code, s.Lot)
	})
}

// Lots lists the lots of a pigment or resin, newest first.
func (b *Bench) Lots(ctx context.Context, item, code string) ([]Lot, error) {
	return read(ctx, b, func(tx *snapshot) ([]Lot, error) {
		return records[Lot](ctx, tx, kindLot, newest(kindLot)+" AND item = ? AND code = ? ORDER BY id DESC", item, code)
	})
}

// OpenedLots lists the lot in use of every item that has one.
func (b *Bench) OpenedLots(ctx context.Context) ([]OpenedLot, error) {
	return read(ctx, b, func(tx *snapshot) ([]OpenedLot, error) {
		return records[OpenedLot](ctx, tx, kindLotOpened, newest(kindLotOpened)+" ORDER BY item, code")
	})
}

// LotStrengths lists what is known at present of every lot that has one.
func (b *Bench) LotStrengths(ctx context.Context) ([]LotStrength, error) {
	return read(ctx, b, func(tx *snapshot) ([]LotStrength, error) {
		return records[LotStrength](ctx, tx, kindLotStrength, newest(kindLotStrength)+" ORDER BY item, code, name")
	})
}

// requireLot returns an error that lists the known lots if l is not one.
func (c *change) requireLot(ctx context.Context, l LotName) error {
	if err := checkItem(l.Item); err != nil {
		return err
	}
	known, err := c.holds(ctx, `SELECT EXISTS (SELECT 1 FROM lot WHERE item = ? AND code = ? AND name = ?)`, l.Item, l.Code, l.Name)
	if err != nil || known {
		return err
	}
	lots, err := records[Lot](ctx, c, kindLot, newest(kindLot)+" AND item = ? AND code = ?", l.Item, l.Code)
	if err != nil {
		return err
	}
	all := map[string]bool{}
	for _, lot := range lots {
		all[lot.Name] = true
	}
	return fmt.Errorf("%s %s: %w", l.Item, l.Code, unknown("lot", l.Name, all))
}

func checkItem(item string) error {
	if item != OfPigment && item != OfResin {
		return fmt.Errorf("%w: a lot of %q; give pigment or resin", ErrInvalid, item)
	}
	return nil
}

// checkDate accepts a day as 2026-03-31, or nothing.
func checkDate(day string) error {
	if day == "" {
		return nil
	}
	if _, err := time.Parse(time.DateOnly, day); err != nil {
		return fmt.Errorf("%w: date %q; write it as 2026-03-31", ErrInvalid, day)
	}
	return nil
}
