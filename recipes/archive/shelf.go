package archive

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"
)

// A Resin is a two-part casting system. A zero number is not known.
type Resin struct {
	Code         string        `json:"code"`
	Name         string        `json:"name,omitempty"`
	MixA         float64       `json:"mix_a"`                   // parts of A by mass
	MixB         float64       `json:"mix_b"`                   // parts of B by mass
	DensityA     float64       `json:"density_a,omitempty"`     // g/ml
	DensityB     float64       `json:"density_b,omitempty"`     // g/ml
	DensityCured float64       `json:"density_cured,omitempty"` // g/ml
	PotLife      time.Duration `json:"pot_life_ns,omitempty"`
	PigmentSide  string        `json:"pigment_side"`      // A or B: the side that carries the pigment
	MaxPHR       float64       `json:"max_phr,omitempty"` // most paste in all
	Note         string        `json:"note,omitempty"`
	Stamp        `json:"-"`
}

func (r *Resin) check() error {
	fail := func(format string, a ...any) error {
		return fmt.Errorf("resin %q: %w: %s", r.Code, ErrInvalid, fmt.Sprintf(format, a...))
	}
	switch {
	case strings.TrimSpace(r.Code) == "" || r.Code != strings.TrimSpace(r.Code):
		return fail("give it a code such as CLR")
	case !(r.MixA > 0) || !(r.MixB > 0):
		return fail("mix ratio %g:%g; give parts by mass of A and B, such as 100:90", r.MixA, r.MixB)
	case r.PigmentSide != "A" && r.PigmentSide != "B":
		return fail("pigment side %q; give A or B", r.PigmentSide)
	case r.PotLife < 0 || r.PotLife > 1000*time.Hour:
		return fail("pot life %v; give a time such as 7m", r.PotLife)
	}
	err := firstError(upTo("mix ratio", r.MixA, mostParts), upTo("mix ratio", r.MixB, mostParts),
		upTo("density of A", r.DensityA, mostDensity), upTo("density of B", r.DensityB, mostDensity),
		upTo("cured density", r.DensityCured, mostDensity), upTo("most phr", r.MaxPHR, mostPHR))
	if err != nil {
		return fmt.Errorf("resin %q: %w", r.Code, err)
	}
	return nil
}

// PutResin adds a resin, or with Replace supersedes its card.
func (b *Bench) PutResin(ctx context.Context, r Resin, on OnChange) (Outcome, error) {
	return write(ctx, b, func(c *change) (Outcome, error) {
		return c.putLogged(ctx, kindResin, &r, on, r.Code)
	})
}

// Resins lists the resins by code.
func (b *Bench) Resins(ctx context.Context) ([]Resin, error) {
	return read(ctx, b, func(tx *snapshot) ([]Resin, error) {
		return records[Resin](ctx, tx, kindResin, newest(kindResin)+" ORDER BY code")
	})
}

// Resin returns a resin by its code.
func (b *Bench) Resin(ctx context.Context, code string) (Resin, error) {
	return read(ctx, b, func(tx *snapshot) (Resin, error) {
		return find[Resin](ctx, tx, kindResin, "resin", "code", code)
	})
}

// A Pigment is a paste on the shelf. A zero number is not known.
type Pigment struct {
	Code       string   `json:"code"`
	CIName     string   `json:"ci_name,omitempty"` // Colour Index generic name, such as PW6
	Name       string   `json:"name,omitempty"`
	Density    float64  `json:"density,omitempty"` // g/ml
	MaxPHR     float64  `json:"max_phr,omitempty"`
	PricePerKG float64  `json:"price_per_kg,omitempty"`
	StockG     *float64 `json:"stock_g,omitempty"` // grams on the shelf; nil if nobody counted
	HeatClass  string   `json:"heat_class,omitempty"`
	LightClass string   `json:"light_class,omitempty"`
	Note       string   `json:"note,omitempty"`
	Stamp      `json:"-"`
}

func (p *Pigment) check() error {
	fail := func(err error) error { return fmt.Errorf("pigment %q: %w", p.Code, err) }
	if p.Code == "" || strings.ContainsAny(p.Code, " \t,=") {
		return fail(fmt.Errorf("%w: a code has no spaces, commas or equals signs; give one such as WH", ErrInvalid))
	}
	stock := 0.0
	if p.StockG != nil {
		stock = *p.StockG
	}
	if err := firstError(upTo("density", p.Density, mostDensity), upTo("most phr", p.MaxPHR, mostPHR),
		upTo("price per kg", p.PricePerKG, mostPrice), upTo("stock in g", stock, mostGrams)); err != nil {
		return fail(err)
	}
	return nil
}

// PutPigment stores a pigment exactly as given: a zero number erases what the
// old card said. With Refuse a code that is taken by other content is an error.
func (b *Bench) PutPigment(ctx context.Context, p Pigment, on OnChange) (Outcome, error) {
	return write(ctx, b, func(c *change) (Outcome, error) {
		return c.putLogged(ctx, kindPigment, &p, on, p.Code)
	})
}

// ImportPigments takes a whole list, or nothing of it. What a pigment leaves
// out keeps what the bench knew; what it says anew supersedes the old card.
func (b *Bench) ImportPigments(ctx context.Context, pigments []Pigment) (Report, error) {
	if err := checkPigments(pigments); err != nil {
		return Report{}, err
	}
	return write(ctx, b, func(c *change) (Report, error) { return c.importPigments(ctx, pigments) })
}

// checkPigments refuses a list with a line per bad pigment.
func checkPigments(pigments []Pigment) error {
	var bad []error
	seen := map[string]bool{}
	for i := range pigments {
		if err := pigments[i].check(); err != nil {
			bad = append(bad, err)
		} else if seen[pigments[i].Code] {
			bad = append(bad, fmt.Errorf("pigment %q: %w: listed twice; keep one", pigments[i].Code, ErrInvalid))
		}
		seen[pigments[i].Code] = true
	}
	return errors.Join(bad...)
}

func (c *change) importPigments(ctx context.Context, pigments []Pigment) (Report, error) {
	var report Report
	for _, p := range pigments {
		old, found, err := c.latest(ctx, kindPigment, []any{p.Code})
		if err != nil {
			return report, err
		}
		if found {
			var was Pigment
			if err := old.open(kindPigment, &was); err != nil {
				return report, err
			}
			p.fill(was)
		}
		outcome, err := c.put(ctx, kindPigment, &p, Replace, p.Code)
		if err != nil {
			return report, err
		}
		report.add(p.Code, outcome)
	}
	return report, c.logImport(ctx, "pigments imported", "", report)
}

// fill takes what p leaves out from the card it supersedes.
func (p *Pigment) fill(was Pigment) {
	text := func(new *string, old string) {
		if *new == "" {
			*new = old
		}
	}
	number := func(new *float64, old float64) {
		if *new == 0 {
			*new = old
		}
	}
	text(&p.CIName, was.CIName)
	text(&p.Name, was.Name)
	number(&p.Density, was.Density)
	number(&p.MaxPHR, was.MaxPHR)
	number(&p.PricePerKG, was.PricePerKG)
	if p.StockG == nil {
		p.StockG = was.StockG
	}
	text(&p.HeatClass, was.HeatClass)
	text(&p.LightClass, was.LightClass)
	text(&p.Note, was.Note)
}

// logImport logs an import that changed something.
func (c *change) logImport(ctx context.Context, verb, subject string, r Report) error {
	if len(r.Added)+len(r.Changed) == 0 {
		return nil
	}
	return c.log(ctx, verb, subject, r.String())
}

// Pigments lists the pigments by code.
func (b *Bench) Pigments(ctx context.Context) ([]Pigment, error) {
	return read(ctx, b, func(tx *snapshot) ([]Pigment, error) {
		return records[Pigment](ctx, tx, kindPigment, newest(kindPigment)+" ORDER BY code")
	})
}

// Pigment returns a pigment by its code.
func (b *Bench) Pigment(ctx context.Context, code string) (Pigment, error) {
	return read(ctx, b, func(tx *snapshot) (Pigment, error) {
		return find[Pigment](ctx, tx, kindPigment, "pigment", "code", code)
	})
}

// A Backing is what a chip or a part lies on while it is read: a constant
// reflectance factor or a spectrum.
type Backing struct {
	Name     string    `json:"name"`
	Constant *float64  `json:"constant,omitempty"`
	Spectrum *Spectrum `json:"spectrum,omitempty"`
	Source   string    `json:"source,omitempty"` // a reading, or "from memory"
	Stamp    `json:"-"`
}

func (k *Backing) check() error {
	fail := func(err error) error { return fmt.Errorf("backing %q: %w", k.Name, err) }
	switch {
	case strings.TrimSpace(k.Name) == "":
		return fail(fmt.Errorf("%w: give it a name", ErrInvalid))
	case (k.Constant == nil) == (k.Spectrum == nil):
		return fail(fmt.Errorf("%w: give either a constant reflectance factor or a spectrum", ErrInvalid))
	case k.Constant != nil && !(*k.Constant >= 0 && *k.Constant <= 1.2):
		return fail(fmt.Errorf("%w: reflectance factor %g; give a fraction, 0 to 1", ErrInvalid, *k.Constant))
	case k.Spectrum != nil:
		if err := k.Spectrum.check(); err != nil {
			return fail(err)
		}
	}
	return nil
}

// PutBacking adds a backing, or with Replace supersedes its card.
func (b *Bench) PutBacking(ctx context.Context, k Backing, on OnChange) (Outcome, error) {
	return write(ctx, b, func(c *change) (Outcome, error) {
		return c.putLogged(ctx, kindBacking, &k, on, k.Name)
	})
}

// Backings lists the backings by name.
func (b *Bench) Backings(ctx context.Context) ([]Backing, error) {
	return read(ctx, b, func(tx *snapshot) ([]Backing, error) {
		return records[Backing](ctx, tx, kindBacking, newest(kindBacking)+" ORDER BY name")
	})
}

// Backing returns a backing by its name.
func (b *Bench) Backing(ctx context.Context, name string) (Backing, error) {
	return read(ctx, b, func(tx *snapshot) (Backing, error) {
		return find[Backing](ctx, tx, kindBacking, "backing", "name", name)
	})
}

// find returns the newest card with a name of one column, or an error that
// lists the names in the identity table.
func find[T any, P interface {
	*T
	placed
}](ctx context.Context, q reader, k kind, table, column, name string) (T, error) {
	v, err := one[T, P](ctx, q, k, named(k), name)
	if errors.Is(err, sql.ErrNoRows) {
		names, e := names(ctx, q, table, column)
		if e != nil {
			return v, e
		}
		err = unknown(table, name, names)
	}
	return v, err
}
