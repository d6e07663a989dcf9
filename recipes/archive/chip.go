package archive

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"masstone/color/remedy"
	"slices"
	"strings"
)

// A Chip is a casting of known loadings and what was read on it.
type Chip struct {
	Resin       string             `json:"resin"`
	Name        string             `json:"name"`               // unique among the chips of a resin
	Loadings    map[string]float64 `json:"loadings,omitempty"` // phr by pigment code; none for the bare resin
	Backing     string             `json:"backing"`
	ThicknessMM float64            `json:"thickness_mm"`
	Casting     string             `json:"casting,omitempty"` // which it shares with others, as of one cup over two backings; empty if it is one by itself
	// Weighing: mass of mixed resin in the cup and step of the scale. 0 if the
	// loadings are taken as exact.
	ChipGrams  float64 `json:"chip_grams,omitempty"`
	ScaleGrams float64 `json:"scale_grams,omitempty"`
	// PasteStrength is the fraction of paste in what was weighed, for pigments
	// weighed as a pre-dilution.
	PasteStrength map[string]float64 `json:"paste_strength,omitempty"`
	ThicknessSD   *float64           `json:"thickness_sd,omitempty"` // mm; nil for the usual
	Lots          []LotName          `json:"lots,omitempty"`
	Readings      []Reading          `json:"readings"`
	Note          string             `json:"note,omitempty"`
	// Withdrawn is why the chip no longer counts; empty for chips that do.
	Withdrawn string `json:"withdrawn,omitempty"`
	Stamp     `json:"-"`
}

// ChipRef returns the chip with a Ref, as it was on that card.
func (b *Bench) ChipRef(ctx context.Context, ref string) (Chip, error) {
	return read(ctx, b, func(tx *snapshot) (Chip, error) { return byRef[Chip](ctx, tx, kindChip, ref) })
}

// ImportChips takes the chips of a whole file for one resin, or nothing of
// them. A chip that the bench holds with the same content is left as it is.
// One of the same name with other content is refused, or with Replace
// supersedes the old card, which is kept. The error has a line per bad chip, and one for
// all that differ in the same fields.
func (b *Bench) ImportChips(ctx context.Context, resin string, chips []Chip, on OnChange) (Report, error) {
	return write(ctx, b, func(c *change) (Report, error) { return c.importChips(ctx, resin, chips, on) })
}

func (c *change) importChips(ctx context.Context, resin string, chips []Chip, on OnChange) (Report, error) {
	if err := c.require(ctx, "resin", "code", resin); err != nil {
		return Report{}, err
	}
	var report Report
	var bad []error
	var differ alike
	seen := map[string]bool{}
	for _, k := range chips {
		k.Resin = resin
		if k.Readings == nil {
			k.Readings = []Reading{}
		}
		var err error
		if seen[k.Name] {
			err = fmt.Errorf("chip %q: %w: listed twice; keep one or rename one", k.Name, ErrInvalid)
		}
		seen[k.Name] = true
		if err == nil {
			var outcome Outcome
			outcome, err = c.putChip(ctx, k, on)
			report.add(k.Name, outcome)
		}
		var conflicting *conflict
		switch {
		case err == nil:
		case errors.As(err, &conflicting):
			differ.add(conflicting)
		case errors.Is(err, ErrInvalid), errors.Is(err, ErrNotFound):
			bad = append(bad, err)
		default: // it is not the chip's fault
			return Report{}, err
		}
		if len(bad) == 20 {
			bad = append(bad, errors.New("and perhaps more; these are the first 20"))
			break
		}
	}
	if bad = append(bad, differ.errors()...); len(bad) > 0 {
		return Report{}, errors.Join(bad...)
	}
	return report, c.logImport(ctx, "chips imported", resin, report)
}

// putChip is put for a chip from a file, which does not know that the bench
// withdrew it: the same chip stays withdrawn.
func (c *change) putChip(ctx context.Context, k Chip, on OnChange) (Outcome, error) {
	old, found, err := c.latest(ctx, kindChip, []any{k.Resin, k.Name})
	if err != nil {
		return "", err
	}
	if found {
		var was Chip
		if err := old.open(kindChip, &was); err != nil {
			return "", err
		}
		same := k
		same.Withdrawn = was.Withdrawn
		if doc, err := document(&same); err == nil && doc == old.doc {
			return Unchanged, nil
		}
	}
	return c.put(ctx, kindChip, &k, on, k.Resin, k.Name)
}

// WithdrawChip takes a chip out of what is fitted, and says why. The chip and
// its readings are kept. An empty reason brings it back.
func (b *Bench) WithdrawChip(ctx context.Context, resin, name, why string) (Outcome, error) {
	return write(ctx, b, func(c *change) (Outcome, error) {
		k, err := chip(ctx, c, resin, name)
		if err != nil {
			return "", err
		}
		k.Withdrawn = strings.TrimSpace(why)
		outcome, err := c.put(ctx, kindChip, &k, Replace, resin, name)
		if err != nil || outcome == Unchanged {
			return outcome, err
		}
		if k.Withdrawn == "" {
			return outcome, c.log(ctx, "chip brought back", subject(resin, name), "")
		}
		return outcome, c.log(ctx, "chip withdrawn", subject(resin, name), k.Withdrawn)
	})
}

// Chips lists the chips of a resin that count, in the order they first came.
func (b *Bench) Chips(ctx context.Context, resin string) ([]Chip, error) {
	return read(ctx, b, func(tx *snapshot) ([]Chip, error) {
		if _, err := find[Resin](ctx, tx, kindResin, "resin", "code", resin); err != nil {
			return nil, err
		}
		all, err := records[Chip](ctx, tx, kindChip, `JOIN (
			SELECT max(id) AS newest, min(id) AS oldest FROM chip_card WHERE resin = ? GROUP BY name
		) AS each ON id = newest ORDER BY oldest`, resin)
		return slices.DeleteFunc(all, func(k Chip) bool { return k.Withdrawn != "" }), err
	})
}

// Chip returns a chip of a resin, withdrawn or not.
func (b *Bench) Chip(ctx context.Context, resin, name string) (Chip, error) {
	return read(ctx, b, func(tx *snapshot) (Chip, error) { return chip(ctx, tx, resin, name) })
}

func chip(ctx context.Context, q reader, resin, name string) (Chip, error) {
	k, err := one[Chip](ctx, q, kindChip, named(kindChip), resin, name)
	if errors.Is(err, sql.ErrNoRows) {
		err = notFound(name, "chip %q of resin %q; %s shows them", name, resin, remedy.Verb("chip list"))
	}
	return k, err
}
