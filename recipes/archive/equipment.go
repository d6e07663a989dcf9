package archive

import (
	"context"
	"slices"
)

// What equipment is.
const (
	Scale      = "scale"
	Instrument = "instrument"
)

// Equipment is a scale or an instrument of the shop. A number that is 0, and a word
// that is empty, is not known.
type Equipment struct {
	Item  string `json:"item"` // Scale or Instrument
	Name  string `json:"name"`
	InUse bool   `json:"in_use,omitempty"` // taken where nothing else is said

	StepGrams float64 `json:"step_grams,omitempty"` // of a scale
	MaxGrams  float64 `json:"max_grams,omitempty"`  // it carries
	SDGrams   float64 `json:"sd_grams,omitempty"`   // of one weighing

	Geometry   string  `json:"geometry,omitempty"` // of an instrument: d/8 or 45/0
	Specular   string  `json:"specular,omitempty"` // included or excluded
	ApertureMM float64 `json:"aperture_mm,omitempty"`
	MCondition string  `json:"m_condition,omitempty"` // M0 to M3 of ISO 13655: its UV
	Illuminant string  `json:"illuminant,omitempty"`
	Observer   int     `json:"observer,omitempty"`  // degrees
	RepeatSD   float64 `json:"repeat_sd,omitempty"` // of one reading, in each of L*, a*, b*
	Note       string  `json:"note,omitempty"`
	Stamp      `json:"-"`
}

// PutEquipment adds a scale or an instrument, or with Replace supersedes its card.
// One that is in use takes the place of the one that was.
func (b *Bench) PutEquipment(ctx context.Context, e Equipment, on OnChange) (Outcome, error) {
	return write(ctx, b, func(c *change) (Outcome, error) {
		outcome, err := c.putLogged(ctx, kindEquipment, &e, on, e.Item, e.Name)
		if err != nil || !e.InUse {
			return outcome, err
		}
		all, err := equipment(ctx, c, e.Item)
		if err != nil {
			return outcome, err
		}
		for _, other := range all {
			if other.Name == e.Name || !other.InUse {
				continue
			}
			other.InUse = false
			if _, err := c.putLogged(ctx, kindEquipment, &other, Replace, other.Item, other.Name); err != nil {
				return outcome, err
			}
		}
		return outcome, nil
	})
}

// Equipment lists the scales or the instruments, the one in use first.
func (b *Bench) Equipment(ctx context.Context, item string) ([]Equipment, error) {
	return read(ctx, b, func(tx *snapshot) ([]Equipment, error) { return equipment(ctx, tx, item) })
}

func equipment(ctx context.Context, q reader, item string) ([]Equipment, error) {
	all, err := records[Equipment](ctx, q, kindEquipment, newest(kindEquipment)+" AND item = ? ORDER BY name", item)
	slices.SortStableFunc(all, func(a, b Equipment) int {
		switch {
		case a.InUse && !b.InUse:
			return -1
		case b.InUse && !a.InUse:
			return 1
		}
		return 0
	})
	return all, err
}

// EquipmentNamed returns the scale or instrument of a name.
func (b *Bench) EquipmentNamed(ctx context.Context, item, name string) (Equipment, error) {
	all, err := b.Equipment(ctx, item)
	if err != nil {
		return Equipment{}, err
	}
	names := map[string]bool{}
	for _, e := range all {
		if e.Name == name {
			return e, nil
		}
		names[e.Name] = true
	}
	return Equipment{}, unknown(item, name, names)
}
