package batch

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"

	"masstone/calibrate"
	"masstone/recipes"
)

// Amount is what went into a cup of one item: a side of the resin, a paste by
// its pigment's code, or a pre-dilution by its item.
type Amount struct {
	Item  string
	Grams Mass
}

// Amounts lists the lines of a sheet as they were weighed: shown is what the
// scale showed where it was not what the sheet says. A pre-dilution may be
// named by its item or its pigment; a name that is no line of the sheet is a
// paste that went in besides.
func (s Sheet) Amounts(shown Poured) ([]Amount, error) {
	out := make([]Amount, len(s.Lines))
	for i, l := range s.Lines {
		out[i] = Amount{l.Item, l.Grams}
	}
	named := map[string]bool{}
	for _, name := range slices.Sorted(maps.Keys(shown)) {
		m := shown[name]
		if m.micrograms < 0 || m.Compare(largest) > 0 {
			return nil, fmt.Errorf("batch: weighed %s=%v: give what the scale showed for it, from 0 g", name, m)
		}
		at := slices.IndexFunc(s.Lines, func(l Line) bool { return l.Item == name || l.Kind != ResinLine && l.Pigment == name })
		if at < 0 {
			out = append(out, Amount{name, m})
			continue
		}
		if named[out[at].Item] {
			return nil, fmt.Errorf("batch: weighed %s is given twice, by item and by pigment: give it once", out[at].Item)
		}
		named[out[at].Item] = true
		out[at].Grams = m
	}
	return out, nil
}

// Contents is what a cup or a pail holds, in grams.
type Contents struct {
	Side  float64            // of the side that takes the pigments, also inside pre-dilutions
	Other float64            // of the other side
	Paste map[string]float64 // by pigment code
	// Strength is the share of paste in what was weighed of a pigment, for
	// pigments that were pre-diluted.
	Strength map[string]float64
}

// ContentsOf adds up amounts, given the side that takes the pigments and the
// pre-dilutions that were stirred.
func ContentsOf(amounts []Amount, side Side, made []Predilution) Contents {
	h := Contents{Paste: map[string]float64{}, Strength: map[string]float64{}}
	neat := map[string]bool{}
	for _, a := range amounts {
		g := a.Grams.Grams()
		at := slices.IndexFunc(made, func(p Predilution) bool { return p.Item == a.Item })
		switch {
		case a.Item == string(side):
			h.Side += g
		case a.Item == string(side.other()):
			h.Other += g
		case at >= 0:
			share := made[at].Share()
			h.Paste[made[at].Pigment] += g * share
			h.Side += g * (1 - share) // (7)
			h.Strength[made[at].Pigment] = share
		default:
			h.Paste[a.Item] += g
			neat[a.Item] = true
		}
	}
	for code := range neat {
		delete(h.Strength, code)
	}
	return h
}

// Resin is the resin of both sides.
func (h Contents) Resin() float64 { return h.Side + h.Other }

// Tinted is the side that takes the pigments with the pigments in it.
func (h Contents) Tinted() float64 {
	sum := h.Side
	for _, g := range h.Paste {
		sum += g
	}
	return sum
}

// Loadings are the pastes per 100 g of mixed resin (5).
func (h Contents) Loadings() (map[string]PHR, error) {
	if !(h.Resin() > 0) {
		return nil, errors.New("batch: there is no resin in the cup: give the grams of side A and side B")
	}
	out := make(map[string]PHR, len(h.Paste))
	for code, g := range h.Paste {
		if g > 0 {
			out[code] = PHR(100 * g / h.Resin())
		}
	}
	return out, nil
}

// Complete is the contents with the other side in the ratio of the resin, as
// the tinted side in a pail will be.
func (h Contents) Complete(side Side, mix Ratio) Contents {
	h.Other = h.Side * mix.Share(side.other()) / mix.Share(side)
	return h
}

// Pot is so many grams of the contents, as a pot that can still be added to: of
// the tinted side before the other side comes in, or of everything once it is
// mixed. It cannot be more than they are.
func (h Contents) Pot(grams Mass, mixed bool) (recipes.Pot, error) {
	whole, resin, share, what := h.Tinted(), h.Side, h.Side/h.Resin(), "of the tinted side"
	if mixed {
		whole, resin, share, what = h.Tinted()+h.Other, h.Resin(), 1, "in all"
	}
	if !(whole > 0 && share > 0) {
		return recipes.Pot{}, errors.New("batch: the pot is empty: nothing was weighed into it")
	}
	part := grams.Grams() / whole
	if !(part > 0 && part <= 1+1e-6) {
		return recipes.Pot{}, fmt.Errorf("batch: %v in the pot, but %s were weighed %s: give what is left of it", grams, gramsText(whole), what)
	}
	p := recipes.Pot{Resin: calibrate.Grams(resin * part), Share: share, Pigments: map[string]calibrate.Grams{}}
	for code, g := range h.Paste {
		p.Pigments[code] = calibrate.Grams(g * part)
	}
	return p, nil
}

// Additions lists what a way out adds to a pot, in steps of the scale: resin
// first, then the pastes from the smallest to the largest.
func Additions(r recipes.PotRoute, p recipes.Pot, side Side, mix Ratio, step Mass) []Amount {
	var out []Amount
	add := func(item string, grams float64) {
		if g := (Mass{nearest(grams*perGram, step.micrograms)}); g.Positive() {
			out = append(out, Amount{item, g})
		}
	}
	resin := float64(r.Resin)
	if p.Share == 0 || p.Share == 1 {
		add(string(side), resin*mix.Share(side))
		add(string(side.other()), resin*mix.Share(side.other()))
	} else {
		add(string(side), resin)
	}
	first := len(out)
	for _, code := range slices.Sorted(maps.Keys(r.Add)) {
		if g, diluted := r.From[code]; diluted {
			add(p.Diluted[code].Item, float64(g))
			continue
		}
		add(code, float64(r.Add[code]))
	}
	slices.SortStableFunc(out[first:], func(a, b Amount) int { return a.Grams.Compare(b.Grams) })
	return out
}

// FromJars are the dilutions that may be added to a pot, as pre-dilutions of a sheet.
func FromJars(p recipes.Pot, side Side) []Predilution {
	var out []Predilution
	for _, code := range slices.Sorted(maps.Keys(p.Diluted)) {
		d := p.Diluted[code]
		out = append(out, Predilution{Pigment: code, Item: d.Item, Side: side, Ratio: max(1, int(math.Round(1/d.Share))-1), Jar: d.Jar, Strength: d.Share, LeftOver: Grams(float64(d.Left))})
	}
	return out
}

// Dilution is a jar as additions to a pot may come from it, weighed in steps of a scale.
func (k Jar) Dilution(s Scale) recipes.Dilution {
	c := k.charge(charge{code: k.Pigment}, s.Step.micrograms, s.sd())
	return recipes.Dilution{Item: itemOf(c), Jar: k.Name, Share: c.strong, SD: c.strength, Left: calibrate.Grams(k.Left.Grams())}
}

// Refilled is what a pot holds once amounts went into it, with the other side
// of an unmixed pot in the ratio of the resin.
func Refilled(p recipes.Pot, added []Amount, side Side, mix Ratio) Contents {
	h := ContentsOf(added, side, FromJars(p, side))
	for code, g := range p.Pigments {
		h.Paste[code] += float64(g)
	}
	if p.Share != 0 && p.Share != 1 { // what is in the pot is that side, to the gram
		h.Side += float64(p.Resin)
		return h.Complete(side, mix)
	}
	resin := float64(p.Resin) + h.Side + h.Other
	h.Side, h.Other = resin*mix.Share(side), resin*mix.Share(side.other())
	return h
}

// Shot is so many grams drawn from a pail of the tinted side, item by item,
// with the other side that goes with it, in steps of the scale, last.
func (h Contents) Shot(grams Mass, side Side, mix Ratio, step Mass) ([]Amount, error) {
	tinted := h.Tinted()
	if !(tinted > 0 && h.Side > 0) {
		return nil, errors.New("batch: there is no resin in the pail: tint it first")
	}
	part := grams.Grams() / tinted
	out := []Amount{{string(side), Grams(h.Side * part)}}
	for _, code := range slices.Sorted(maps.Keys(h.Paste)) {
		out = append(out, Amount{code, Grams(h.Paste[code] * part)})
	}
	other := h.Complete(side, mix).Other * part
	return append(out, Amount{string(side.other()), Mass{nearest(other*perGram, step.micrograms)}}), nil
}

// smallest is the smallest loading above nothing.
func smallest(recipe map[string]PHR) float64 {
	least := math.Inf(1)
	for _, c := range recipe {
		if c > 0 {
			least = math.Min(least, float64(c))
		}
	}
	return least
}

func gramsText(g float64) string { return Grams(math.Round(g*1000) / 1000).String() }
