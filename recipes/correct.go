package recipes

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"sort"

	"masstone/calibrate"
)

// CorrectOptions say what may be done about a pour that missed.
type CorrectOptions struct {
	// Limits of the next batch. Unless AnyPigment, its pigments are those of
	// the last pour.
	Limits     Limits
	AnyPigment bool
	// Pot is what can still be added to, nil for nothing.
	Pot *Pot
	// Drift is the standard deviation of ln strength between the lots in the
	// cup and the calibrated ones, by pigment ("" for the resin); absent for
	// the usual (calibrate.UsualDrift), 0 for the calibrated lot itself.
	Drift map[string]float64
	// Bias is how far parts of this target stray alike from the calibration,
	// a standard deviation in CIEDE2000 units per direction: its mould, its
	// finish. 0 for the usual.
	Bias float64
}

// usualBias is how far the parts of one target stray alike beyond what the
// calibration's own model error says. Common practice, no source.
const usualBias = 0.15

// Correction is what to do about a pour that missed, each way with what it is
// expected to lead to.
type Correction struct {
	Live  Verdict   // leave the last part as it is
	Add   *PotRoute // additions to the pot as it stands; nil without a pot
	Grow  *PotRoute // additions with more resin too, where that reaches further
	Next  Route     // a new batch of the pigments in the cup
	Other *Route    // a new batch of any pigments, if asked for
	// Best is the way to take: LiveWithIt, AddToPot, GrowPot, NextBatch or
	// OtherPigments.
	Best  string
	Notes []string
	// Strengths is what the pours say about the lots in the cup.
	Strengths map[string]calibrate.Strength
	Learned   calibrate.Learned
}

// The ways out of a miss.
const (
	LiveWithIt    = "live with it"
	AddToPot      = "add to the pot"
	GrowPot       = "grow the pot"
	NextBatch     = "next batch"
	OtherPigments = "other pigments"
)

// Route is a way to another pour.
type Route struct {
	Recipe
	Gain float64 // expected CIEDE2000 less than that of the last part
	// Worse is the chance that the new part is further off than the last.
	Worse float64
	// Recommended is set where the expected gain exceeds what the noise of the
	// reading, the weighing and the doubt about the recipe explain.
	Recommended bool
}

// A correction is recommended where the chance of doing no better is at most
// idleChance, or lostChance where the part is more likely than not outside its
// tolerance and little is lost by another. Common practice, no source.
const (
	idleChance = 0.05
	lostChance = 0.20
)

// Correct returns the ways out of a miss, given all pours of a target so far,
// the last one last. The pours teach a belief about the lots in the cup and
// about this target; cal stays as it is.
func Correct(ctx context.Context, cal *calibrate.Calibration, t Target, pours []Pour, o CorrectOptions) (Correction, error) {
	b, err := newBelief(cal, t, pours, o)
	if err != nil {
		return Correction{}, err
	}
	var out Correction
	limits := o.Limits
	cup := b.cup()
	if len(cup) > MaxPerRecipe {
		return out, fmt.Errorf("%s holds %d pigments; at most %d can be corrected", b.last().Name, len(cup), MaxPerRecipe)
	}
	limits.Allowed, limits.MaxPigments = cup, max(limits.MaxPigments, len(cup))
	learnt, learned, err := b.learn(false)
	if err != nil {
		return out, err
	}
	out.Learned, out.Strengths = learned, learned.Strengths
	m, err := newMatch(learnt, t, limits)
	if err != nil {
		return out, err
	}
	live, now, err := m.judge(b.last())
	if err != nil {
		return out, err
	}
	out.Live = live
	best, err := m.near(ctx, b.last().Loadings)
	if err != nil {
		return out, err
	}
	if out.Next, err = m.route(best, live, now); err != nil {
		return out, err
	}
	if o.AnyPigment {
		if out.Other, err = b.other(ctx, learnt, live, now); err != nil {
			return out, err
		}
	}
	if o.Pot != nil {
		if err := b.addToPot(ctx, &out, live, now); err != nil {
			return out, err
		}
	}
	out.choose()
	return out, nil
}

// near returns the best recipe of the bench, also from the loadings poured.
func (m *match) near(ctx context.Context, poured map[string]calibrate.PHR) (found, error) {
	list, _, err := m.search(ctx)
	if err != nil {
		return found{}, err
	}
	if len(list) == 0 {
		return found{}, fmt.Errorf("no recipe was found; report this")
	}
	best := list[0]
	var start found
	for i, q := range m.bench.pigments {
		if phr := poured[m.cal.Curves[q].Code]; phr > 0 && start.n < MaxPerRecipe {
			start.at[start.n], start.c[start.n] = i, float64(phr)
			start.n++
		}
	}
	if start.n > 0 {
		if f := m.descend(start); f.value < best.value {
			best = f
		}
	}
	return best, nil
}

// descend minimises F from a start, once as it stands and once by way of the
// nearest match.
func (m *match) descend(start found) found {
	w := m.work(m.eval.Clone())
	best := start
	best.value = math.Inf(1)
	for _, first := range []bool{false, true} {
		w.take(start.at[:start.n])
		w.c = start.c
		w.clamp(&w.c)
		if first {
			w.solve()
		}
		if v := w.polish(); v < best.value {
			best.value, best.c = v, w.c
		}
	}
	best.f = w.residuals(&best.c)
	// what came out at nothing is not in the recipe
	n := 0
	for k := range best.n {
		if best.c[k] > 1e-4 {
			best.at[n], best.c[n] = best.at[k], best.c[k]
			n++
		}
	}
	best.n = n
	return best
}

// route reports a recipe as a way out.
func (m *match) route(f found, live Verdict, now []float64) (Route, error) {
	r, err := m.recipe(f)
	if err != nil {
		return Route{}, err
	}
	out := Route{Recipe: r}
	p := r.Colors[0]
	var then []float64
	out.Landing, then = m.land(p.Lab.Values(), p.Cov)
	out.Gain = live.Expected - out.Expected
	out.Worse = exceeds(then, now)
	may := idleChance
	if live.Chance < 0.5 {
		may = lostChance
	}
	out.Recommended = out.Gain > 0 && out.Worse <= may
	return out, nil
}

// exceeds is the chance that one of a exceeds one of b, both sorted and evenly
// likely.
func exceeds(a, b []float64) float64 {
	sum, below := 0, 0
	for _, v := range a {
		for below < len(b) && b[below] < v {
			below++
		}
		sum += below
	}
	return float64(sum) / float64(len(a)*len(b))
}

// choose names the way to take: the recommended one expected nearest, where
// adding to the pot, which saves it, may be a little further.
func (c *Correction) choose() {
	const saves = 0.1 // CIEDE2000
	c.Best = LiveWithIt
	value := math.Inf(1)
	try := func(name string, r *Route, credit float64) {
		if r.Recommended && r.Expected-credit < value {
			c.Best, value = name, r.Expected-credit
		}
	}
	if c.Add != nil {
		try(AddToPot, &c.Add.Route, saves)
	}
	if c.Grow != nil {
		try(GrowPot, &c.Grow.Route, saves/2)
	}
	try(NextBatch, &c.Next, 0)
	if c.Other != nil {
		try(OtherPigments, c.Other, 0)
	}
}

// A belief is what the pours of one target teach.
type belief struct {
	cal    *calibrate.Calibration
	target Target
	pours  []Pour
	o      CorrectOptions
	drift  map[string]float64
	bias   float64
}

func newBelief(cal *calibrate.Calibration, t Target, pours []Pour, o CorrectOptions) (*belief, error) {
	if len(pours) == 0 {
		return nil, fmt.Errorf("target %q has no pour; pour and read one first", t.Name)
	}
	if !(o.Bias >= 0 && o.Bias < 100) {
		return nil, fmt.Errorf("bias %g; give a difference from 0 up", o.Bias)
	}
	b := &belief{cal: cal, target: t, o: o, drift: cal.UsualDrift(), bias: o.Bias}
	if b.bias == 0 {
		b.bias = math.Hypot(usualBias, cal.ModelError.Floor)
	}
	names := map[string]bool{}
	for i, p := range pours {
		p, err := p.settle(&t, i)
		if err != nil {
			return nil, err
		}
		if names[p.Name] {
			p.Name = fmt.Sprintf("%s (%d)", p.Name, i+1)
		}
		names[p.Name] = true
		b.pours = append(b.pours, p)
	}
	maps.Copy(b.drift, o.Drift)
	return b, nil
}

func (b *belief) last() *Pour { return &b.pours[len(b.pours)-1] }

// cup lists the pigments of the last pour.
func (b *belief) cup() []string {
	var codes []string
	for code, phr := range b.last().Loadings {
		if phr > 0 {
			codes = append(codes, code)
		}
	}
	sort.Strings(codes)
	return codes
}

// learn returns the calibration that knows the pours. For the pot, what was
// wrongly weighed into it counts as a lot's strength, since it stays in.
func (b *belief) learn(pot bool) (*calibrate.Calibration, calibrate.Learned, error) {
	drift := maps.Clone(b.drift)
	options := calibrate.LearnOptions{Bias: b.bias, Scatter: b.o.Limits.StrengthScatter, Readings: map[string]int{}}
	var chips []calibrate.Chip
	first := true
	for i := range b.pours {
		p := &b.pours[i]
		c := p.chip()
		if pot && p.FromPot {
			if first {
				for code := range p.Loadings {
					drift[code] = math.Hypot(drift[code], p.potDrift(code))
				}
				first = false
			}
			c.ScaleGrams = 0
		}
		options.Readings[c.Name] = p.Readings
		chips = append(chips, c)
	}
	lots, err := b.cal.NewLot(drift)
	if err != nil {
		return nil, calibrate.Learned{}, err
	}
	return lots.Learn(chips, options)
}

// other returns the best recipe of any pigments.
func (b *belief) other(ctx context.Context, learnt *calibrate.Calibration, live Verdict, now []float64) (*Route, error) {
	m, err := newMatch(learnt, b.target, b.o.Limits)
	if err != nil {
		return nil, err
	}
	best, err := m.near(ctx, b.last().Loadings)
	if err != nil {
		return nil, err
	}
	r, err := m.route(best, live, now)
	return &r, err
}

// needed so that maps and slices stay in step while the file grows
var _ = slices.Sorted[string]
