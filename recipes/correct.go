package recipes

import (
	"context"
	"fmt"
	"math"

	"masstone/calibrate"
)

// CorrectOptions say what may be done about a pour that missed.
type CorrectOptions struct {
	// Limits of the next batch, whose pigments are those of the last pour.
	Limits Limits
	// AnyPigment asks for a batch of any pigments the limits allow, and for a
	// further pigment in the pot, too.
	AnyPigment bool
	Pot        *Pot // what can still be added to, nil for nothing
	// Lots is what is known of the lots in the cup against those calibrated, by
	// pigment code, "" for the resin: SD 0 for the calibrated lot itself. A
	// pigment not named is of a lot of which nothing is known
	// (calibrate.UsualDrift), the resin the one calibrated.
	Lots map[string]calibrate.Strength
	// Bias is how far the parts of this target deviate alike from the calibration
	// (its mould, its finish), a standard deviation in CIEDE2000 units per
	// direction; 0 for the usual.
	Bias float64
}

// Correction is what can be done about the last pour, each way with what it is
// expected to lead to.
type Correction struct {
	Live  Verdict   // leave the last part as it is
	Add   *PotRoute // additions to the pot as it stands; nil without a pot
	Grow  *PotRoute // additions with more resin, where that reaches further
	Widen *PotRoute // additions with a further pigment, where that reaches further
	Next  Route     // a new batch of the pigments in the cup
	Other *Route    // a new batch of any pigments, if asked for
	Best  Way       // the way to take
	Notes []string
	// Strengths is what the pours say about the lots in the cup, against those
	// calibrated.
	Strengths map[string]calibrate.Strength
	Learned   calibrate.Learned
}

// Way is a way out of a miss.
type Way string

// The ways.
const (
	LiveWithIt    Way = "live with it"
	AddToPot      Way = "add to the pot"
	GrowPot       Way = "add resin too"
	WidenPot      Way = "add another pigment"
	NextBatch     Way = "next batch"
	OtherPigments Way = "other pigments"
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

// surprising is how many standard deviations off the pours must be to look for
// a mistake. Common practice, no source.
const surprising = 4

// Correct returns the ways out of a miss, given all pours of a target so far,
// the last one last. The pours update what is known of the lots in the cup and
// about this target, in which (2) of the package is minimised again; cal stays
// as it is.
func Correct(ctx context.Context, cal *calibrate.Calibration, t Target, pours []Pour, o CorrectOptions) (Correction, error) {
	b, err := newPosterior(cal, t, pours, o)
	if err != nil {
		return Correction{}, err
	}
	var out Correction
	limits := o.Limits
	limits.Allowed, limits.MaxPigments = b.cup(), MaxPerRecipe
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
	best, err := m.again(ctx, b.last())
	if err != nil {
		return out, err
	}
	best = m.bench.stripped(m.nearby(m.poured(b.last().Loadings), best))
	if out.Next, err = m.route(best, live, now); err != nil {
		return out, err
	}
	if o.AnyPigment {
		wide, err := newMatch(learnt, t, o.Limits)
		if err != nil {
			return out, err
		}
		if best, err = wide.again(ctx, b.last()); err != nil {
			return out, err
		}
		r, err := wide.route(best, live, now)
		if err != nil {
			return out, err
		}
		out.Other = &r
	}
	if o.Pot != nil {
		if err := b.addToPot(&out, now); err != nil {
			return out, err
		}
	}
	if learned.Surprise > surprising {
		out.Notes = append(out.Notes, fmt.Sprintf("the readings are further off than lots, weighing and noise explain (%.1f sigma): check what was weighed, and read the part again", learned.Surprise))
	}
	out.choose()
	return out, nil
}

// again returns the best recipe of the bench, sought near the last pour too.
func (m *match) again(ctx context.Context, last *Pour) (found, error) {
	list, _, err := m.search(ctx)
	if err != nil {
		return found{}, err
	}
	if len(list) == 0 {
		return found{}, fmt.Errorf("no recipe was found; report this")
	}
	best := m.descend(list[0])
	start := m.poured(last.Loadings)
	if start.n > 0 && start.n <= m.bench.size {
		if f := m.descend(start); f.value < best.value {
			best = f
		}
	}
	return m.bench.stripped(best), nil
}

// descend minimises F over the pigments of start within the bench's bounds,
// from start as it stands and from the nearest match.
func (m *match) descend(start found) found {
	w := m.work(m.eval.Clone())
	best := start
	best.value = math.Inf(1)
	for _, match := range []bool{false, true} {
		w.take(start.at[:start.n])
		w.c = start.c
		w.clamp(&w.c)
		if match {
			w.solve(math.Inf(1))
		}
		if v := w.polish(); v < best.value {
			best.value, best.c = v, w.c
		}
	}
	best.f = w.residuals(&best.c)
	return best
}

// route reports a recipe as a way out; now are evenly likely differences of the
// part there is.
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

// What a way that keeps the pot may be further off, in CIEDE2000, and still be
// the one to take. Common practice, no source.
const (
	potSaves   = 0.10
	grownSaves = 0.05
)

// choose names the recommended way that is expected nearest.
func (c *Correction) choose() {
	c.Best = LiveWithIt
	nearest := math.Inf(1)
	try := func(way Way, r *Route, saves float64) {
		if r.Recommended && r.Expected-saves < nearest {
			c.Best, nearest = way, r.Expected-saves
		}
	}
	if c.Add != nil {
		try(AddToPot, &c.Add.Route, potSaves)
	}
	if c.Grow != nil {
		try(GrowPot, &c.Grow.Route, grownSaves)
	}
	if c.Widen != nil {
		try(WidenPot, &c.Widen.Route, grownSaves)
	}
	try(NextBatch, &c.Next, 0)
	if c.Other != nil {
		try(OtherPigments, c.Other, 0)
	}
}
