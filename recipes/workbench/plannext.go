package workbench

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
	"masstone/recipes/kept"
)

// A PlanNextRequest asks which chips to cast next, for a shelf that is
// calibrated.
type PlanNextRequest struct {
	Resin       string // code
	Calibration int    // version; 0 for the newest
	Casting     Casting
	Whites      []string // codes, the one to let colours down in first; by their colour if empty
	Count       int      // chips to plan, 1 to 50; 3 if 0, and for targets no more of them than pay
	For         []string // targets whose recipes should be known well; the gamut if empty
	Client      string   // of the targets, where several have one of the name
}

// usualCount is how many chips are planned where nothing is said.
const usualCount = 3

// spread is how many mixtures stand for the gamut.
const spread = 100

// mostRecipes is how many recipes of a target count.
const mostRecipes = 5

// PlanNext says which chips to cast next: each for how much it lowers the
// expected error of the mixtures of interest, beside those before it.
//
// What a chip teaches is reckoned for the lots in use. What pours taught of how
// a target's own parts deviate counts for the recipes that are found for it, but
// not here: a chip is another piece.
func PlanNext(ctx context.Context, b *Bench, r PlanNextRequest) (PlanResult, error) {
	d, pour, err := r.drawUp(ctx, b)
	switch {
	case err != nil:
		return PlanResult{}, err
	case pour != nil:
		return *pour, nil
	}
	return d.keep(ctx, b)
}

// drawUp works the plan out; where no chip pays it says so in place of one.
func (r PlanNextRequest) drawUp(ctx context.Context, b *Bench) (d drawnUp, pour *PlanResult, err error) {
	if r.Count < 0 || r.Count > 50 {
		return d, nil, outOfRange("count", r.Count, "1 to 50")
	}
	resin, err := b.archive.Resin(ctx, r.Resin)
	if err != nil {
		return d, nil, err
	}
	k, err := know(ctx, b.archive, question{resin: resin.Code, version: r.Calibration})
	if err != nil {
		return d, nil, err
	}
	cast, err := b.archive.Chips(ctx, resin.Code)
	if err != nil {
		return d, nil, err
	}
	bench, err := r.Casting.bench(ctx, b.archive, resin, cast)
	if err != nil {
		return d, nil, err
	}
	if r.Whites = trimmed(r.Whites); len(r.Whites) == 0 {
		if r.Whites, err = castplan.Whites(k.now); err != nil {
			return d, nil, err
		}
	}
	shelf, err := pigmentCodes(ctx, b.archive)
	if err != nil {
		return d, nil, err
	}
	bench.Order = slices.Concat(r.Whites, shelf)
	in, err := r.interest(ctx, b.archive, resin, &k, bench)
	if err != nil {
		return d, nil, err
	}
	candidates, err := r.candidates(ctx, b.archive, &k, bench, in, cast)
	if err != nil {
		return d, nil, err
	}
	b.step("weighing up what each chip would teach")
	read := castplan.ReadingOf(k.now)
	plan, err := castplan.Next(ctx, k.now, castplan.Request{Reading: read, Candidates: candidates, Interest: in.mixtures, Watch: in.watched, Count: cmp.Or(r.Count, usualCount)})
	if err != nil {
		return d, nil, fmt.Errorf("plan for %s: %w", resin.Code, err)
	}
	if len(plan.Steps) == 0 {
		return d, nil, fmt.Errorf("plan for %s: every chip worth asking about was cast already", resin.Code)
	}
	now, then, err := in.chances(plan)
	if err != nil {
		return d, nil, err
	}
	about := slices.Concat(k.notes, crookedNotes(k.fitted))
	after := 0.0 // chance with the first chip that does not pay
	if len(in.watches) > 0 && r.Count == 0 {
		pay := recipes.ChipsThatPay(now, then)
		if pay == 0 {
			v := pourNow(resin, k.stored.Name(), in, now, then)
			v.Notes = append(v.Notes, about...)
			return d, &v, nil
		}
		if pay < len(then) {
			after = then[pay]
		}
		plan.Steps, then = plan.Steps[:pay], then[:pay]
	}
	chips := make([]castplan.Chip, len(plan.Steps))
	for i, s := range plan.Steps {
		chips[i] = s.Chip
	}
	d = drawUp(resin, bench, chips, r.Whites, read)
	d.plan.Calibration, d.plan.For = k.stored.Ref, in.targets
	d.gains(plan, in, k.stored.Name())
	if len(in.watches) > 0 {
		d.chances(now, then, after)
	}
	d.note(about...)
	return d, nil, nil
}

// gains says what each chip of a plan buys.
func (d *drawnUp) gains(plan castplan.Plan, in interest, calibration string) {
	k := &d.kept
	k.Mixtures, k.Title = len(in.mixtures), "Next chips after "+calibration
	k.Before, k.After = plan.Before, plan.Steps[len(plan.Steps)-1].After
	for _, s := range plan.Steps {
		g := kept.PlanGain{After: s.After, Loadings: floats(in.mixtures[s.Helps].Loadings), BeforeOfThis: s.HelpsBefore, AfterOfThis: s.HelpsAfter}
		if len(in.names) > 0 {
			g.What = in.names[s.Helps]
		}
		k.Gains = append(k.Gains, g)
	}
	of := fmt.Sprintf("%d mixtures spread over the gamut", len(in.mixtures))
	if len(in.names) > 0 {
		var names []string
		for _, t := range in.targets {
			names = append(names, t.Name)
		}
		of = fmt.Sprintf("%s for %s", figure.Count(len(in.mixtures), "recipe"), figure.List(names))
	}
	d.note(fmt.Sprintf("The expected CIEDE2000 is the mean of %s: %.3f now, %.3f once these chips are read and fitted.", of, k.Before, k.After))
}

// chances says what the chips make of the chance of the next pour; after is that
// with one more, 0 where there is none to speak of.
func (d *drawnUp) chances(now float64, then []float64, after float64) {
	d.kept.Chance = now
	for i := range d.kept.Gains {
		d.kept.Gains[i].Chance = then[i]
	}
	say := fmt.Sprintf("The next pour lands within tolerance with a chance of %.0f %% now, %.0f %% with these chips", 100*now, 100*then[len(then)-1])
	if after > 0 {
		say += fmt.Sprintf("; one more would make it %.0f %%, and does not pay", 100*after)
	}
	d.note(say + ".")
}

// interest is the mixtures a plan is made for.
type interest struct {
	mixtures []castplan.Interest
	names    []string // of the mixtures, empty without targets
	targets  []archive.TargetName
	// watched are the recipes whose chance is told: those that a match finds now.
	watched []castplan.Interest
	watches []watch
}

func (in *interest) add(mix map[string]calibrate.PHR, s calibrate.Setting, name string) {
	in.mixtures, in.names = append(in.mixtures, castplan.Interest{Loadings: mix, Setting: s}), append(in.names, name)
}

// interest is what should be known well: recipes for targets, or the gamut.
func (r PlanNextRequest) interest(ctx context.Context, a *archive.Bench, resin archive.Resin, k *knowledge, bench *castplan.Bench) (interest, error) {
	var in interest
	if len(r.For) == 0 {
		var err error
		in.mixtures, err = castplan.Gamut(k.now, bench, r.Whites, spread)
		return in, err
	}
	for _, name := range r.For {
		t, err := a.Target(ctx, r.Client, name)
		if err != nil {
			return in, err
		}
		in.targets = append(in.targets, archive.TargetName{Client: t.Client, Name: t.Name})
		if err := in.addTarget(ctx, a, resin, k.stored.Version, t); err != nil {
			return in, err
		}
	}
	return in, nil
}

// addTarget adds the recipes stored for a target or else those that a match
// finds by what is known of it.
func (in *interest) addTarget(ctx context.Context, a *archive.Bench, resin archive.Resin, version int, t archive.Target) error {
	k, err := know(ctx, a, question{resin: resin.Code, version: version, target: &t,
		thickness: cmp.Or(t.ThicknessMM, usualThickness), over: cmp.Or(t.Backing, usualBacking)})
	if err != nil {
		return err
	}
	stored, err := a.Recipes(ctx, t.Client, t.Name)
	if err != nil {
		return err
	}
	stored = slices.DeleteFunc(stored, func(r archive.Recipe) bool {
		return r.Resin != resin.Code || slices.ContainsFunc(codesOf(r), func(code string) bool { return k.fitted.Index(code) == 0 })
	})
	answer, err := k.match(ctx, a, resin)
	if err != nil && len(stored) == 0 {
		return err
	}
	if err == nil {
		w := watch{recipes: answer.Recipes}
		if w.judge, err = k.judge(); err != nil {
			return err
		}
		in.watches = append(in.watches, w)
		for _, r := range answer.Recipes {
			in.watched = append(in.watched, castplan.Interest{Loadings: r.Loadings, Setting: k.target.Setting})
		}
	}
	for _, r := range stored[:min(mostRecipes, len(stored))] {
		in.add(phrs(r.Loadings), k.target.Setting, r.ID())
	}
	if len(stored) > 0 {
		return nil
	}
	for i, r := range answer.Recipes {
		in.add(r.Loadings, k.target.Setting, fmt.Sprintf("%s, match %d", t.Name, i+1))
	}
	return nil
}

// candidates are the chips to choose from: the usual ones and, for targets, the
// recipes themselves, without what was cast already.
func (r PlanNextRequest) candidates(ctx context.Context, a *archive.Bench, k *knowledge, bench *castplan.Bench, in interest, archived []archive.Chip) ([]castplan.Chip, error) {
	all, err := castplan.Candidates(k.now, bench, r.Whites)
	if err != nil {
		return nil, err
	}
	if len(in.names) > 0 {
		own, err := castplan.ChipsOf(bench, in.mixtures)
		if err != nil {
			return nil, err
		}
		for _, c := range own {
			if !slices.ContainsFunc(all, func(a castplan.Chip) bool { return a.Name == c.Name }) {
				all = append(all, c)
			}
		}
	}
	cast, _, err := evidenceOf(ctx, a, archived)
	return castplan.Uncast(all, cast), err
}
