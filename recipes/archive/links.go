package archive

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// A link is a record that another names: by its sum, or a card by its name.
type link struct {
	kind kind
	sum  string
	name []any
}

// sums are the links to records by sum; an empty sum is none.
func sums(k kind, refs ...string) (all []link) {
	for _, ref := range refs {
		if ref != "" {
			all = append(all, link{kind: k, sum: ref})
		}
	}
	return all
}

// cards are the links to cards of one name; an empty name is none.
func cards(k kind, names ...string) (all []link) {
	for _, name := range names {
		if name != "" {
			all = append(all, link{kind: k, name: []any{name}})
		}
	}
	return all
}

func lots(names ...LotName) (all []link) {
	for _, l := range names {
		all = append(all, link{kind: kindLot, name: []any{l.Item, l.Code, l.Name}})
	}
	return all
}

func pigments(loadings map[string]float64) []link {
	return cards(kindPigment, slices.Sorted(maps.Keys(loadings))...)
}

func (r *Resin) links() []link     { return nil }
func (p *Pigment) links() []link   { return nil }
func (k *Backing) links() []link   { return nil }
func (e *Equipment) links() []link { return nil }
func (k *Client) links() []link    { return nil }
func (p *Part) links() []link      { return cards(kindClient, p.Client) }
func (l *Lot) links() []link {
	if l.Item == OfResin {
		return cards(kindResin, l.Code)
	}
	return cards(kindPigment, l.Code)
}
func (l *OpenedLot) links() []link { return lots(LotName{l.Item, l.Code, l.Lot}) }

// What a strength was learnt from, and the calibration it is relative to, may be
// on another bench.
func (s *LotStrength) links() []link { return lots(LotName{s.Item, s.Code, s.Lot}) }
func (k *Chip) links() []link {
	return slices.Concat(cards(kindResin, k.Resin), cards(kindBacking, k.Backing), pigments(k.Loadings), lots(k.Lots...))
}
func (k *Calibration) links() []link {
	return append(cards(kindResin, k.Resin), sums(kindChip, k.Chips...)...)
}
func (t *Target) links() []link {
	all := append(cards(kindBacking, t.Backing), cards(kindClient, t.Client)...)
	if t.Part != "" {
		all = append(all, link{kind: kindPart, name: []any{t.Client, t.Part}})
	}
	return all
}
func (r *Recipe) links() []link {
	all := slices.Concat(cards(kindResin, r.Resin), pigments(r.Loadings), sums(kindCalibration, r.Calibration), sums(kindTarget, r.TargetCard), sums(kindRecipe, r.Corrects))
	if r.Target != "" {
		all = append(all, link{kind: kindTarget, name: []any{r.Client, r.Target}})
	}
	return all
}
func (s *Stock) links() []link {
	return slices.Concat(cards(kindResin, s.Resin), sums(kindRecipe, s.Recipe), cards(kindPigment, s.Pigment), lots(s.Lots...))
}
func (k *Batch) links() []link {
	return slices.Concat(sums(kindRecipe, k.Recipe), sums(kindPour, k.AddsTo), cards(kindStock, k.Stock), lots(k.Lots...))
}
func (p *Pour) links() []link { return append(sums(kindBatch, p.Batch), lots(p.Lots...)...) }
func (r *PourReading) links() []link {
	return append(sums(kindPour, r.Pour), sums(kindPourReading, r.Withdraws)...)
}
func (a *Approval) links() []link {
	return slices.Concat([]link{{kind: kindTarget, name: []any{a.Client, a.Target}}}, sums(kindTarget, a.TargetCard), sums(kindRecipe, a.Recipe),
		sums(kindPour, a.Pours...), lots(a.Lots...))
}
func (p *Plan) links() []link {
	all := append(cards(kindResin, p.Resin), sums(kindCalibration, p.Calibration)...)
	for _, t := range p.For {
		all = append(all, link{kind: kindTarget, name: []any{t.Client, t.Name}})
	}
	for _, k := range p.Chips {
		all = slices.Concat(all, cards(kindBacking, k.Backing), pigments(k.Loadings))
	}
	return all
}
func (m *Mould) links() []link {
	all := cards(kindClient, m.Client)
	if m.Part != "" {
		all = append(all, link{kind: kindPart, name: []any{m.Client, m.Part}})
	}
	return all
}
func (r *Run) links() []link {
	return append(sums(kindApproval, r.Approval), link{kind: kindTarget, name: []any{r.Client, r.Target}})
}
func (k *RunCup) links() []link {
	return slices.Concat(sums(kindRun, k.Run), sums(kindPour, k.Pour), cards(kindMould, k.Mould))
}
func (m *StockMove) links() []link {
	all := append(cards(kindStock, m.Stock), sums(kindPour, m.Pour)...)
	for _, d := range m.LetDown {
		all = append(all, cards(kindPigment, d.Pigment)...)
	}
	return all
}

// linked returns an error unless the bench holds all that a record names.
func (c *change) linked(ctx context.Context, v placed) error {
	for _, l := range v.links() {
		var err error
		switch {
		case l.sum != "":
			err = c.requireRefs(ctx, l.kind, l.sum)
		case l.kind.name == kindLot.name:
			err = c.requireLot(ctx, LotName{l.name[0].(string), l.name[1].(string), l.name[2].(string)})
		case len(l.name) == 1:
			err = c.require(ctx, strings.TrimSuffix(l.kind.table, "_card"), l.kind.key[0], l.name[0].(string))
		default:
			err = c.requireCard(ctx, l.kind, l.name)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func (c *change) requireCard(ctx context.Context, k kind, name []any) error {
	found, err := c.holds(ctx, "SELECT EXISTS (SELECT 1 FROM "+k.table+" "+named(k)+")", name...)
	if err != nil {
		return err
	}
	if !found {
		return notFound(fmt.Sprint(name[len(name)-1]), "%s; the bench has none of that name", title(k, name))
	}
	return nil
}
