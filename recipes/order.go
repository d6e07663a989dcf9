package recipes

import (
	"cmp"
	"math"
	"slices"

	"masstone/calibrate"
)

// order sorts recipes as they are listed, and is the one place that says how:
//
//  1. Nearest first, by the root of F, or by the predicted difference where that is
//     asked for.
//  2. Those whose F is above the first's by no more than the noise of reading the
//     target is in it are equally near. Of them the leaner stands first: of fewer
//     pigments, then of less pigment, then the cheaper.
//
// noise is the standard deviation of the target's reading, CIEDE2000.
func order(all []Recipe, noise float64, predicted bool) {
	off := func(r *Recipe) float64 {
		if predicted {
			return r.DE00
		}
		return r.Objective
	}
	slices.SortStableFunc(all, func(a, b Recipe) int { return cmp.Compare(off(&a), off(&b)) })
	if len(all) == 0 || predicted {
		return
	}
	equal := 1
	for equal < len(all) && all[equal].Objective <= math.Hypot(all[0].Objective, noise) {
		equal++
	}
	slices.SortStableFunc(all[:equal], func(a, b Recipe) int {
		return cmp.Or(cmp.Compare(a.pigments(), b.pigments()), compareByStep(a.TotalPHR, b.TotalPHR), cmp.Compare(a.CostPerKg, b.CostPerKg))
	})
}

// leanStep is by how much the totals of recipes differ that are told apart. Common
// practice, no source.
const leanStep calibrate.PHR = 0.05

func compareByStep(a, b calibrate.PHR) int {
	return cmp.Compare(int(a/leanStep), int(b/leanStep))
}

// pigments counts those that the recipe holds.
func (r *Recipe) pigments() int {
	n := 0
	for _, phr := range r.Loadings {
		if phr > 0 {
			n++
		}
	}
	return n
}

// leanSteps halve what is not known of the least total; leastLean is the least share
// of the pigment that is tried. Common practice, no source.
const (
	leanSteps = 5
	leastLean = 0.4
)

// A leaner makes recipes leaner, one after the other.
type leaner struct {
	*subset
	m     *match
	bench bench // whose limit of the total it lowers
}

func (m *match) newLeaner() *leaner {
	w := &leaner{subset: m.work(m.eval.Clone()), m: m, bench: *m.bench}
	w.b = &w.bench
	return w
}

// lean returns the recipe of the same pigments with as little of them as leaves F at
// most limit and the part as opaque, to 0.01: an opaque colour hardly fixes how much
// pigment is in it, and what is beyond the chips' loadings was not seen.
func (w *leaner) lean(f found, limit float64) found {
	total := 0.0
	for _, c := range f.c[:f.n] {
		total += c
	}
	m := w.m
	least := m.opacity(f) - 0.01
	if m.limits.MinOpacity > 0 {
		least = math.Max(least, math.Min(m.limits.MinOpacity, least+0.01))
	}
	lo, hi := leastLean, 1.0
	for range leanSteps {
		share := (lo + hi) / 2
		w.bench.total = share * total
		w.take(f.at[:f.n])
		for k := range f.n {
			w.c[k] = share * f.c[k]
		}
		w.clamp(&w.c)
		g := found{n: f.n, at: f.at}
		g.value = w.polish()
		g.c = w.c
		g.f = w.residuals(&g.c)
		if g.value <= limit && m.opacity(g) >= least {
			hi, f = share, g
		} else {
			lo = share
		}
	}
	return f
}

// opacity is the contrast ratio of a part over black and white.
func (m *match) opacity(f found) float64 {
	var pigments [MaxPerRecipe]int
	for k := range f.n {
		pigments[k] = m.bench.pigments[f.at[k]]
	}
	m.dark.Set(pigments[:f.n], f.c[:f.n])
	m.light.Set(pigments[:f.n], f.c[:f.n])
	yd, _ := luminance(m.dark.Lab(0).L)
	yl, _ := luminance(m.light.Lab(0).L)
	return yd / yl
}
