package recipes

import (
	"context"
	"fmt"
	"math"
	"sort"
	"strings"

	"masstone/calibrate"
	"masstone/color"
)

// A reason is something a recipe may be the best of the list in.
type reason struct {
	name  string
	value func(*Recipe) float64 // smaller is better
	gain  float64               // how much smaller it must be than the surest's to count
	ratio bool                  // gain is relative
}

var reasons = []reason{
	{"fewest pigments", func(r *Recipe) float64 { return float64(len(r.Loadings)) }, 0.5, false},
	{"cheapest", func(r *Recipe) float64 { return r.CostPerKg }, 0.02, true},
	{"least metameric", func(r *Recipe) float64 { return worst(r.Metamerism) }, 0.1, false},
	{"most opaque", func(r *Recipe) float64 { return -r.Opacity }, 0.01, false},
}

func worst(m map[string]float64) float64 {
	v := 0.0
	for _, x := range m {
		v = math.Max(v, x)
	}
	return v
}

// answer fills the recipes: the surest first, then those that are best in
// something else, then others that use different pigments.
func (m *match) answer(list []found, a *Answer) error {
	count := m.limits.Recipes
	if count <= 0 {
		count = 5
	}
	if len(list) == 0 {
		return fmt.Errorf("no recipe was found; report this")
	}
	if list[0].n == 0 {
		return fmt.Errorf("target %q: the resin without pigment is nearer than with any that may be used; allow other pigments, or cast it clear", m.target.Name)
	}
	// by what is reported, within what the search found near
	var all []Recipe
	equal := list[0].value + m.readingVariance() // equally near, as order has it
	leaner := m.newLeaner()
	for i, f := range list {
		if i > 0 && f.value > near(list[0].value) || i >= shortlisted {
			break
		}
		if f.n == 0 {
			continue
		}
		if f.value <= equal && !m.limits.Predicted {
			f = leaner.lean(f, equal)
		}
		r, err := m.recipe(f)
		if err != nil {
			return err
		}
		all = append(all, r)
	}
	order(all, math.Sqrt(m.readingVariance()), m.limits.Predicted)
	surest := &all[0]
	surest.Why = append(surest.Why, "surest")
	chosen := []int{0}
	have := map[int]bool{0: true}
	for _, why := range reasons {
		best := -1
		for i := range all {
			if best < 0 || why.value(&all[i]) < why.value(&all[best])-1e-9 {
				best = i
			}
		}
		gain := why.value(surest) - why.value(&all[best])
		if why.ratio {
			gain /= math.Max(math.Abs(why.value(surest)), 1e-9)
		}
		if gain < why.gain {
			continue
		}
		all[best].Why = append(all[best].Why, why.name)
		if !have[best] && len(chosen) < count {
			have[best] = true
			chosen = append(chosen, best)
		}
	}
	for i := range all {
		if len(chosen) >= count {
			break
		}
		if have[i] || !m.different(&all[i], all, chosen) {
			continue
		}
		all[i].Why = append(all[i].Why, "other pigments")
		have[i] = true
		chosen = append(chosen, i)
	}
	sort.Ints(chosen)
	for _, i := range chosen {
		a.Recipes = append(a.Recipes, all[i])
	}
	return nil
}

// different reports whether a recipe is no near-copy of those chosen: it lacks
// a pigment that each of them leans on, or leans on one that each lacks. A
// pigment is leant on when it moves the colour by more than 1 unit.
func (m *match) different(r *Recipe, all []Recipe, chosen []int) bool {
	for _, i := range chosen {
		same := true
		for code := range r.Loadings {
			if _, ok := all[i].Loadings[code]; !ok && r.Slip[code] > 0.01 {
				same = false
			}
		}
		for code := range all[i].Loadings {
			if _, ok := r.Loadings[code]; !ok && all[i].Slip[code] > 0.01 {
				same = false
			}
		}
		if same {
			return false
		}
	}
	return true
}

// outside is the predicted difference beyond which a target counts as out of
// reach.
const outside = 0.5

// explain says what stands between the target and the best recipe.
func (m *match) explain(ctx context.Context, a *Answer) error {
	best := &a.Recipes[0]
	nearest := best
	for i := range a.Recipes {
		if a.Recipes[i].DE00 < nearest.DE00 {
			nearest = &a.Recipes[i]
		}
	}
	a.Reach = Reached
	if nearest.DE00 > outside {
		if err := m.tell(ctx, a); err != nil {
			return err
		}
	}
	a.InGamut = a.Reach == Reached || a.Reach == Unsure
	if m.limits.MinOpacity > 0 && best.Opacity < m.limits.MinOpacity-1e-3 {
		a.Notes = append(a.Notes, fmt.Sprintf("opacity %.3f is asked for; %.3f is the most these pigments reach at this colour", m.limits.MinOpacity, best.Opacity))
	}
	if m.limits.MaxCostPerKg > 0 && best.CostPerKg > m.limits.MaxCostPerKg*1.001 {
		a.Notes = append(a.Notes, fmt.Sprintf("the cost ceiling of %.2f per kg cannot be met at this colour; %.2f is the least found", m.limits.MaxCostPerKg, best.CostPerKg))
	}
	if m.target.Spectrum == nil && len(m.target.Labs) > 1 && len(m.wants) < len(m.target.Labs) {
		a.Notes = append(a.Notes, "the chips were read under one light: how the colour changes under another cannot be known from them")
	}
	if a.Reach == Reached && best.Chance > 0.5 {
		return nil
	}
	for _, relax := range m.relaxations() {
		limits := m.limits
		limits.Progress = nil
		relax.apply(&limits)
		other, err := newMatch(m.cal, m.target, limits)
		if err != nil {
			continue // the relaxed limits make no sense by themselves
		}
		if other.bench.subsets() > 60000 {
			continue
		}
		list, _, err := other.search(ctx)
		if err != nil {
			return err
		}
		if len(list) == 0 || list[0].n == 0 {
			continue
		}
		r, err := other.recipe(list[0])
		if err != nil {
			return err
		}
		if r.Expected < best.Expected*0.9-0.02 {
			a.Binding = append(a.Binding, fmt.Sprintf("%s: without it %.2f is expected instead of %.2f, with %s", relax.name, r.Expected, best.Expected, loadingsText(r.Loadings)))
		}
	}
	return nil
}

// lacking says in which direction the target lies from the nearest colour.
func lacking(d color.Difference) string {
	var parts []string
	if d.DL < -0.3 {
		parts = append(parts, "lighter")
	} else if d.DL > 0.3 {
		parts = append(parts, "darker")
	}
	if d.DC < -0.3 {
		parts = append(parts, "more chroma at this hue")
	} else if d.DC > 0.3 {
		parts = append(parts, "less chroma")
	}
	if math.Abs(d.DH) > 0.3 {
		parts = append(parts, "another hue")
	}
	if len(parts) == 0 {
		return "the target lies just outside what these pigments reach"
	}
	return "the target asks for " + strings.Join(parts, ", ") + " than these pigments reach"
}

type relaxation struct {
	name  string
	apply func(*Limits)
}

// relaxations lists the limits in force, each with how to lift it.
func (m *match) relaxations() []relaxation {
	l := &m.limits
	var out []relaxation
	add := func(on bool, name string, apply func(*Limits)) {
		if on {
			out = append(out, relaxation{name, apply})
		}
	}
	size := m.bench.size
	add(size < MaxPerRecipe && size < len(m.cal.Curves)-1, fmt.Sprintf("at most %d pigments", size), func(l *Limits) { l.MaxPigments = size + 1 })
	add(len(l.Required) > 0, "required pigments", func(l *Limits) { l.Required = nil })
	add(len(l.Allowed) > 0, "allowed pigments", func(l *Limits) { l.Allowed = nil })
	add(len(l.Forbidden) > 0, "forbidden pigments", func(l *Limits) { l.Forbidden = nil })
	add(len(l.MaxPHR) > 0, "most phr per pigment", func(l *Limits) { l.MaxPHR = nil })
	add(l.TotalPHR > 0, "total phr", func(l *Limits) { l.TotalPHR = 0 })
	add(l.MinWeigh > 0, "least weighable amount", func(l *Limits) { l.MinWeigh = 0 })
	add(len(l.StockGrams) > 0, "stock on hand", func(l *Limits) { l.StockGrams = nil })
	add(l.MinOpacity > 0, "opacity", func(l *Limits) { l.MinOpacity = 0 })
	add(l.MaxCostPerKg > 0, "cost ceiling", func(l *Limits) { l.MaxCostPerKg = 0 })
	return out
}

// loadingsText writes loadings in order of code.
func loadingsText(loadings map[string]calibrate.PHR) string {
	codes := make([]string, 0, len(loadings))
	for c := range loadings {
		codes = append(codes, c)
	}
	sort.Strings(codes)
	for i, c := range codes {
		codes[i] = fmt.Sprintf("%s %.3g", c, float64(loadings[c]))
	}
	return strings.Join(codes, ", ")
}
