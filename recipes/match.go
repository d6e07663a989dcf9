package recipes

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"sort"
	"sync"
	"sync/atomic"

	"masstone/calibrate"
	"masstone/color"
)

// Recipe is one answer: loadings and what is to be expected of them.
type Recipe struct {
	Loadings  map[string]calibrate.PHR
	LoadingSD map[string]calibrate.PHR   // weighing and strength scatter, one standard deviation
	Colors    []calibrate.PredictedColor // under each of the target's conditions, the main first
	DE00      float64                    // predicted CIEDE2000 under the main condition
	calibrate.Landing
	Opacity    float64 // contrast ratio over black and white at the part's thickness
	CostPerKg  float64 // of coloured mixed resin; 0 where no price is known
	TotalPHR   calibrate.PHR
	Metamerism map[string]float64 // change-of-illuminant index by test condition (ISO 18314-4), where it can be known
	Slip       map[string]float64 // CIEDE2000 that 1 % more of a pigment moves the colour by
	Why        []string           // what it is the best of the list in
	Objective  float64            // root of F, what was minimised
}

// Answer is the outcome of a match.
type Answer struct {
	Recipes []Recipe
	// Subsets of pigments answered for: Solved by minimising F, Excluded because
	// their least f, which is a lower bound of F, leaves no room for them among
	// the best.
	Subsets, Solved, Excluded int
	InGamut                   bool     // whether some mixture within the limits is predicted within 0.5 of the target
	Reach                     Reach    // what stands in the way where no recipe is
	Missing                   string   // the proof of it in plain words
	Binding                   []string // limits that stand in the way, and what relaxing each buys
	Notes                     []string
}

// lightWeight is how much each further light of the target counts against the
// main one.
const lightWeight = 0.2

// readingSD is the standard deviation of one reading of the part, in Lab.
const readingSD = calibrate.UsualLabSD

// shortlisted is how many subsets are polished after the search.
const shortlisted = 60

// Match returns the recipes that are expected to land nearest the target
// within the limits, over every subset of pigments up to the allowed size.
func Match(ctx context.Context, cal *calibrate.Calibration, t Target, l Limits) (Answer, error) {
	m, err := newMatch(cal, t, l)
	if err != nil {
		return Answer{}, err
	}
	list, answer, err := m.search(ctx)
	if err != nil {
		return Answer{}, err
	}
	if err := m.answer(list, &answer); err != nil {
		return Answer{}, err
	}
	if err := m.explain(ctx, &answer); err != nil {
		return Answer{}, err
	}
	return answer, nil
}

// A match is one target against one calibration under one set of limits.
type match struct {
	cal    *calibrate.Calibration
	target Target
	limits Limits
	bench  *bench
	wants  []want
	conds  []color.Condition
	eval   *calibrate.Evaluator // under the wants' conditions
	dark   *calibrate.Evaluator
	light  *calibrate.Evaluator
}

func newMatch(cal *calibrate.Calibration, t Target, l Limits) (*match, error) {
	if err := t.Check(); err != nil {
		return nil, err
	}
	cal = cal.Conservative()
	b, err := l.resolve(cal, float64(t.Setting.Thickness))
	if err != nil {
		return nil, err
	}
	labs, err := t.colours(cal)
	if err != nil {
		return nil, err
	}
	m := &match{cal: cal, target: t, limits: l, bench: b}
	for i, lab := range labs {
		weight := 1.0
		if i > 0 {
			if !cal.Knows(lab.Under) {
				continue
			}
			weight = lightWeight
		}
		if len(m.wants) == maxRows/3-1 {
			break
		}
		m.wants = append(m.wants, newWant(lab, weight))
		m.conds = append(m.conds, lab.Under)
	}
	if m.eval, err = cal.Evaluator(t.Setting, m.conds...); err != nil {
		return nil, err
	}
	over := func(r float64) (*calibrate.Evaluator, error) {
		set := t.Setting
		set.Backing = color.Constant(r)
		return cal.Evaluator(set, m.conds[0])
	}
	if m.dark, err = over(blackBacking); err != nil {
		return nil, err
	}
	if m.light, err = over(whiteBacking); err != nil {
		return nil, err
	}
	return m, nil
}

// searchDirections is how many directions of each curve's error the search
// follows; polish and report follow all. Curves err together and in part cancel,
// so that fewer overstate F: of 24 pigments of an invented shop known by spectra,
// by up to 72 % with 7, 16 % with 10 and 10 % with 12, among the 300 best sets of
// each of 50 targets.
const searchDirections = 12

// work returns a subset solver with its own memory.
func (m *match) work(e *calibrate.Evaluator) *subset {
	s := &subset{eval: e, wants: m.wants, b: m.bench, maxCost: m.limits.MaxCostPerKg,
		resinPrice: m.limits.ResinPricePerKg, scatter: m.limits.StrengthScatter, minOpacity: m.limits.MinOpacity, byPredicted: m.limits.Predicted}
	if m.limits.MinOpacity > 0 {
		s.dark, s.light = m.dark.Clone(), m.light.Clone()
	}
	s.constant = m.readingVariance()
	return s
}

// colourOnly returns a subset solver for the main colour with no limit on
// loadings.
func (m *match) colourOnly() *subset {
	free := *m.bench
	free.total = math.Inf(1)
	free.lo, free.hi = make([]float64, len(free.lo)), make([]float64, len(free.hi))
	for i := range free.hi {
		free.hi[i] = math.Inf(1)
	}
	return &subset{eval: m.eval.Clone(), wants: m.wants[:1], b: &free}
}

// readingVariance is tr M T of the target's own reading.
func (m *match) readingVariance() float64 {
	v := 0.0
	for i := range m.wants {
		w := &m.wants[i]
		v += w.weight * (w.metric[0][0] + w.metric[1][1] + w.metric[2][2])
	}
	return v * m.target.readingVariance()
}

func (m *match) newSearch() *search {
	s := &search{b: m.bench, total: m.bench.subsets(), progress: m.limits.Progress,
		makeWork:  func() *subset { return m.work(m.eval.Coarse(searchDirections)) },
		makeReach: m.colourOnly}
	for _, r := range m.bench.required {
		if r {
			s.fixed++
		}
	}
	return s
}

func (m *match) search(ctx context.Context) ([]found, Answer, error) {
	s := m.newSearch()
	list, err := s.run(ctx, shortlisted+shortlisted/4)
	if err != nil {
		return nil, Answer{}, err
	}
	a := Answer{Subsets: s.total, Solved: int(s.solved.Load()), Excluded: int(s.excluded.Load())}
	if a.Solved+a.Excluded != a.Subsets {
		return nil, a, fmt.Errorf("the search covered %d of %d pigment subsets; report this", a.Solved+a.Excluded, a.Subsets)
	}
	return m.refine(list), a, nil
}

// refine drops pigments that a recipe holds none of, keeps the best of each
// set and polishes it.
func (m *match) refine(list []found) []found {
	seen := map[[MaxPerRecipe]int]bool{}
	var out, sets []found
	add := func(f found) {
		if g := m.bench.stripped(f); !seen[g.at] {
			seen[g.at] = true
			sets = append(sets, g)
		}
	}
	for _, f := range list {
		if add(f); len(sets) == shortlisted {
			break
		}
	}
	for len(sets) > 0 {
		round := sets
		sets = nil
		m.polish(round)
		for _, f := range round {
			if g := m.bench.stripped(f); g.n < f.n {
				add(g) // a pigment came out at nothing: the set without it
				continue
			}
			out = append(out, f)
		}
	}
	rank(out)
	return out
}

// rank sorts sets by F, the same way whichever was found first.
func rank(sets []found) {
	sort.Slice(sets, func(i, j int) bool {
		if sets[i].value != sets[j].value {
			return sets[i].value < sets[j].value
		}
		return lessAt(sets[i].at, sets[j].at)
	})
}

// stripped returns f without the pigments it holds none of and need not hold.
func (b *bench) stripped(f found) found {
	g := found{value: f.value, f: f.f}
	for k := range g.at {
		g.at[k] = -1
	}
	for k := range f.n {
		if f.c[k] > 1e-4 || b.required[f.at[k]] {
			g.at[g.n], g.c[g.n] = f.at[k], f.c[k]
			g.n++
		}
	}
	return g
}

// polish minimises F of each set by the whole posterior, on every core.
func (m *match) polish(sets []found) {
	var wait sync.WaitGroup
	var next atomic.Int64
	for range max(1, runtime.GOMAXPROCS(0)) {
		w := m.work(m.eval.Clone())
		wait.Go(func() {
			for {
				i := int(next.Add(1)) - 1
				if i >= len(sets) {
					return
				}
				g := &sets[i]
				w.take(g.at[:g.n])
				w.c = g.c
				w.clamp(&w.c)
				g.value = w.polish()
				g.c = w.c
				g.f = w.residuals(&g.c)
			}
		})
	}
	wait.Wait()
}

func lessAt(a, b [MaxPerRecipe]int) bool {
	for i := range a {
		if a[i] != b[i] {
			return a[i] < b[i]
		}
	}
	return false
}

// recipe reports a solved subset in full.
func (m *match) recipe(f found) (Recipe, error) {
	r := Recipe{Loadings: map[string]calibrate.PHR{}, LoadingSD: map[string]calibrate.PHR{}, Slip: map[string]float64{}, Objective: math.Sqrt(f.value)}
	var pigments [MaxPerRecipe]int
	cost, mass, priced := m.limits.ResinPricePerKg*100, 100.0, m.limits.ResinPricePerKg > 0
	var sds [MaxPerRecipe]float64
	for k := range f.n {
		pigments[k] = m.bench.pigments[f.at[k]]
		code := m.cal.Curves[pigments[k]].Code
		r.Loadings[code] = calibrate.PHR(f.c[k])
		if f.c[k] <= 0 {
			continue
		}
		w := m.bench.weigh[f.at[k]]
		sds[k] = math.Sqrt(w*w + math.Pow(m.limits.StrengthScatter*f.c[k], 2))
		if sds[k] > 0 {
			r.LoadingSD[code] = calibrate.PHR(sds[k])
		}
		r.TotalPHR += calibrate.PHR(f.c[k])
		cost += m.bench.price[f.at[k]] * f.c[k]
		mass += f.c[k]
		priced = priced || m.bench.price[f.at[k]] > 0
	}
	if priced {
		r.CostPerKg = cost / mass
	}
	m.eval.Set(pigments[:f.n], f.c[:f.n])
	var grad [MaxPerRecipe][3]float64
	for i, cond := range m.conds {
		lab := m.eval.LabGradient(i, grad[:f.n])
		cov := m.eval.Covariance()
		for k := range f.n {
			for a := range 3 {
				for b := range 3 {
					cov[a][b] += sds[k] * sds[k] * grad[k][a] * grad[k][b]
				}
			}
		}
		p := calibrate.PredictedColor{Lab: color.LabFrom(lab, cond), Cov: cov}
		for t := range 3 {
			p.Half95[t] = 1.96 * math.Sqrt(cov[t][t])
		}
		p.Landing = m.target.landing(m.wants[i].lab, lab, cov)
		r.Colors = append(r.Colors, p)
		if i == 0 {
			r.DE00 = color.Delta00(m.wants[0].lab, lab)
			r.Landing = p.Landing
			for k := range f.n {
				moved := lab
				for t := range 3 {
					moved[t] += 0.01 * f.c[k] * grad[k][t]
				}
				r.Slip[m.cal.Curves[pigments[k]].Code] = color.Delta00(lab, moved)
			}
		} else {
			ref, test := r.Colors[0].Lab, p.Lab
			index, err := color.MetamerismLab(color.LabFrom(m.wants[0].lab, m.conds[0]), ref, color.LabFrom(m.wants[i].lab, cond), test, color.CIEDE2000)
			if err != nil {
				return r, err
			}
			if r.Metamerism == nil {
				r.Metamerism = map[string]float64{}
			}
			r.Metamerism[cond.String()] = index
		}
	}
	r.Opacity = m.opacity(f)
	return r, nil
}
