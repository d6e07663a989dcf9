package batch

import (
	"errors"
	"fmt"
	"slices"
)

// Tint lists what makes so many grams of the tinted side of a recipe, the side
// first and the pastes from the smallest to the largest, in steps of the scale:
//
//	R = T / (w_P + sum c_i/100)
//
// with the symbols of (3) and (4) and T the pail instead of the batch. A paste
// below the least line comes from a jar at hand, which is returned beside its
// line; without one that does, the pail is too small.
func Tint(recipe map[string]PHR, r Resin, s Scale, total Mass, jars ...Jar) ([]Amount, []Predilution, error) {
	if err := errors.Join(r.check(), s.check()); err != nil {
		return nil, nil, err
	}
	if !total.Positive() || total.Compare(largest) > 0 {
		return nil, nil, fmt.Errorf("batch: pail of %v: give more than 0 and at most %v", total, largest)
	}
	sum := 0.0
	for code, c := range recipe {
		if !(c >= 0 && c <= 100) {
			return nil, nil, fmt.Errorf("batch: loading of %s is %g phr: give 0 to 100 g per 100 g of mixed resin", code, float64(c))
		}
		sum += float64(c) / 100
	}
	for _, k := range jars {
		if err := k.check(); err != nil {
			return nil, nil, err
		}
	}
	resin := float64(total.micrograms) / (r.Mix.Share(r.PigmentSide) + sum)
	side := resin * r.Mix.Share(r.PigmentSide)
	var pastes []Amount
	var used []Predilution
	left := total
	add := func(item string, g Mass) {
		pastes, left = append(pastes, Amount{item, g}), left.Minus(g)
	}
	for _, code := range codes(recipe) {
		paste := float64(recipe[code]) * resin / 100
		g := Mass{nearest(paste, s.Step.micrograms)}
		switch p, ok := s.tintFrom(code, paste, side, r.PigmentSide, jars); {
		case recipe[code] == 0:
		case g.Compare(s.minimum()) >= 0:
			add(code, g)
		case ok:
			used = append(used, p)
			side -= float64(p.Use.micrograms) * (1 - p.Strength)
			add(p.Item, p.Use)
		default:
			least := float64(s.minimum().micrograms) * 100 / smallest(recipe) * (r.Mix.Share(r.PigmentSide) + sum)
			return nil, nil, fmt.Errorf("batch: %s of %.2g g cannot be weighed in steps of %v: tint %v or more, use a finer scale, or stir a pre-dilution of it first",
				code, paste/perGram, s.Step, Mass{atLeast(least, s.Step.micrograms)})
		}
	}
	slices.SortStableFunc(pastes, func(a, b Amount) int { return a.Grams.Compare(b.Grams) })
	return append([]Amount{{string(r.PigmentSide), left}}, pastes...), used, nil
}

// tintFrom is a paste, in micrograms, from the jar that is best to weigh and whose
// dose fits into the side still to be weighed.
func (s Scale) tintFrom(code string, paste, side float64, in Side, jars []Jar) (Predilution, bool) {
	step := s.Step.micrograms
	k, ok := pick(jars, code, in, paste, 0, s.easy(), float64(s.minimum().micrograms), step, side)
	if !ok {
		return Predilution{}, false
	}
	c := k.charge(charge{code: code}, step, s.sd())
	use := Mass{nearest(paste/c.strong, step)}
	return Predilution{Pigment: code, Item: itemOf(c), Side: in, Ratio: c.ratio, Strength: c.strong, Jar: k.Name, StirredOn: k.On, Paste: k.Paste, Resin: k.Resin,
		Made: k.Paste.Plus(k.Resin), Use: use, LeftOver: k.Left.Minus(use), Why: fmt.Sprintf("neat it is %.3g g, below the least line of %v", paste/perGram, s.minimum())}, true
}
