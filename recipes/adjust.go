package recipes

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"masstone/calibrate"
)

// opacityGiven is how much of the contrast ratio a recipe may lose where it is
// solved again for a part that there is already. Common practice, no source.
const opacityGiven = 0.01

// AsOpaque is the least opacity of a recipe that takes the place of one of the
// given opacity (0 for not known): a part must not turn into a film because its
// colour was corrected.
func AsOpaque(opacity float64) float64 { return max(0, opacity-opacityGiven) }

// spans are how many times its loading, up or down, a pigment may move in an
// adjustment, the least first.
var spans = [...]float64{1.25, 1.6, 2.5}

// nearEnough is what staying nearer to the recipe there is may cost, in
// CIEDE2000. Common practice, no source.
const nearEnough = 0.05

// Adjust solves a recipe again for a target: among its own pigments, as opaque
// as it is (AsOpaque) and changed no more than it takes, so that it stays the
// recipe it is. Where a whole valley of loadings gives the same colour, as in
// opaque mixtures, that is the recipe with as much paste in all as before. Of
// the limits those on loadings, weighing and costs count.
func Adjust(cal *calibrate.Calibration, t Target, from map[string]calibrate.PHR, l Limits) (Recipe, error) {
	codes := slices.DeleteFunc(slices.Sorted(maps.Keys(from)), func(code string) bool { return !(from[code] > 0) })
	if len(codes) == 0 || len(codes) > MaxPerRecipe {
		return Recipe{}, fmt.Errorf("the recipe holds %d pigments; 1 to %d can be adjusted", len(codes), MaxPerRecipe)
	}
	l.Required, l.Forbidden, l.Allowed, l.MaxPigments = nil, nil, codes, len(codes)
	m, err := newMatch(cal, t, l)
	if err != nil {
		return Recipe{}, err
	}
	start := m.poured(from)
	as, err := m.recipe(start)
	if err != nil {
		return Recipe{}, err
	}
	m.limits.MinOpacity = math.Max(m.limits.MinOpacity, AsOpaque(as.Opacity))
	return m.recipe(m.bench.stripped(m.nearby(start, m.settle(start))))
}

// nearby returns the recipe that changes start least, of those about as good as
// best.
func (m *match) nearby(start, best found) found {
	lo, hi := slices.Clone(m.bench.lo), slices.Clone(m.bench.hi)
	defer func() { copy(m.bench.lo, lo); copy(m.bench.hi, hi) }()
	for _, span := range spans {
		for k, c := range start.c[:start.n] {
			i := start.at[k]
			m.bench.lo[i], m.bench.hi[i] = math.Min(math.Max(lo[i], c/span), hi[i]), math.Min(hi[i], math.Max(lo[i], c*span))
		}
		if f := m.settle(start); math.Sqrt(f.value) <= math.Sqrt(best.value)+nearEnough {
			return f
		}
	}
	return best
}

// poured is a mixture as a place to start from, without what the bench may not
// use.
func (m *match) poured(loadings map[string]calibrate.PHR) found {
	var start found
	for i, q := range m.bench.pigments {
		if phr := loadings[m.cal.Curves[q].Code]; (phr > 0 || m.bench.required[i]) && start.n < MaxPerRecipe {
			start.at[start.n], start.c[start.n] = i, float64(phr)
			start.n++
		}
	}
	return start
}

// settle minimises F from start within the bench's bounds, and goes back to the
// total of start where that costs next to nothing.
func (m *match) settle(start found) found {
	w := m.work(m.eval.Clone())
	w.take(start.at[:start.n])
	w.c = start.c
	w.clamp(&w.c)
	f := start
	f.value = w.polish()
	f.c = w.c
	scaled := f.c
	floats.Scale(floats.Sum(start.c[:start.n])/math.Max(floats.Sum(f.c[:start.n]), 1e-9), scaled[:start.n])
	w.clamp(&scaled)
	if v := w.expected(&scaled); math.Sqrt(v) <= math.Sqrt(f.value)+nearEnough/2 {
		f.value, f.c = v, scaled
	}
	f.f = w.residuals(&f.c)
	return f
}

// worthChanging is how much nearer a recipe must be expected, in CIEDE2000, to
// take the place of one that has proved itself. Common practice, no source.
const worthChanging = 0.10

// WorthChanging reports whether a recipe that is expected at then should take
// the place of one that has proved itself and is expected at now.
func WorthChanging(now, then float64) bool { return now-then >= worthChanging }

// Change returns how much more of each pigment, in phr, one mixture holds than
// another; pigments that either holds are all in it.
func Change(from, to map[string]calibrate.PHR) map[string]float64 {
	out := map[string]float64{}
	for code, phr := range to {
		out[code] = float64(phr - from[code])
	}
	for code, phr := range from {
		if _, still := to[code]; !still {
			out[code] = -float64(phr)
		}
	}
	return out
}
