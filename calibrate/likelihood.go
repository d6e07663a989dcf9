package calibrate

import (
	"context"
	"math"
	"runtime"
	"slices"

	"golang.org/x/sync/errgroup"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/mat"

	"masstone/color"
)

// evidence returns -2 ln of the marginal likelihood of the readings by
// Laplace's approximation at x, up to a constant, and leaves sys factored
// there: cost + ln det H - ln det(prior) + sum ln(noise variance), the castings'
// own unknowns integrated out of H.
func (p *problem) evidence(x state, sys *system) (float64, error) {
	g := make([]float64, p.n)
	cost := p.linearise(x, sys, g)
	if err := sys.Factor(0); err != nil {
		return math.Inf(1), err
	}
	if !p.isStraight() { // what the cost would still fall by, which there may be much
		step := slices.Clone(g)
		sys.Solve(step)
		cost -= blas64.Dot(vector(g), vector(step))
	}
	return cost + p.room(sys), nil
}

// optimum moves x to the optimum and returns evidence there.
func (p *problem) optimum(ctx context.Context, x state, sys *system, tol float64, limit int) (float64, error) {
	if _, _, err := p.converge(ctx, x, sys, tol, limit); err != nil {
		return math.Inf(1), err
	}
	return p.evidence(x, sys)
}

// room is what evidence adds to the cost at the optimum, sys factored there.
func (p *problem) room(sys *system) float64 {
	sum := sys.LogDet() - p.logDet
	for i := range sys.linear {
		sum += sys.linear[i].logDet + sys.linear[i].noise
	}
	return sum
}

// How far a curve's scattering may stand, in ln, from the level that was learnt
// for it. Of a pigment less is learnt than of the resin, which is in all chips.
// Chosen on invented shops and the chips of testdata/real_pigments; no source.
const (
	resinSpread   = 0.1
	pigmentSpread = 0.4
)

// A scatterLevel is about where ln S of a curve stands, and how far that is known: a
// pigment of one chip may scatter five times as much or as little.
type scatterLevel struct{ ln, sd float64 }

// How far in ln a pigment's level may lie from the usual before the readings
// are heard. Common practice, no source.
const levelSpread = 1.5

// learnScatterLevels sets the levels about which curves scatter to what makes the
// readings most likely, and moves x to the optimum there. Where chips hide what
// is behind them the optimum of all curves at once leans to a clear resin in
// which every pigment scatters, since each curve then has less room; the
// likelihood counts the room. The levels of pigments are learnt from spectra
// only: colours leave them too open for Laplace's approximation. fromFaint is for
// the first time.
func (p *problem) learnScatterLevels(ctx context.Context, x state, sys *system, fromFaint bool) error {
	if p.bySpectra {
		if err := p.learnPigmentLevels(ctx, x, fromFaint); err != nil {
			return err
		}
		if _, _, err := p.converge(ctx, x, sys, 0.1, 15); err != nil {
			return err
		}
	}
	before := usual(0, true)
	found, err := p.maximiseLikelihood(ctx, x, sys, p.meanScatter(0, x), octave, func(ln float64) float64 {
		p.level[0] = scatterLevel{ln: ln}
		p.setPriors()
		beyond := (ln - before.Level) / before.Spread
		return beyond * beyond
	})
	if err != nil {
		return err
	}
	p.level[0] = scatterLevel{found.at, found.sd(before.Spread)}
	p.setPriors()
	_, _, err = p.converge(ctx, x, sys, 0.1, 15)
	return err
}

// A pigment that scatters faintly may be taken for one that scatters as much as
// others do, or more, with an absorption that makes up for it: no way leads downhill
// from there to where it belongs. So each is also looked for from faint, in ln per mm
// and phr. Chosen on invented shops; no source.
const faintScatter = -4

// learnPigmentLevels sets the levels of the pigments, each from the chips that
// are made of what its own chips hold: fits so small that all of them take no
// longer than one of all chips. Where fromFaint is set it also looks for faint
// ones from faint; the curves of x stay but for those found there.
func (p *problem) learnPigmentLevels(ctx context.Context, x state, fromFaint bool) error {
	s := p.chipGroups()
	level := make([]scatterLevel, p.curves)
	moved := make([]func(), p.curves)
	var group errgroup.Group
	group.SetLimit(runtime.GOMAXPROCS(0))
	for q := 1; q < p.curves; q++ {
		if len(s.chips[q]) == 0 {
			continue
		}
		group.Go(func() error {
			scope, _ := p.together(s, q)
			part, y, err := p.part(x, scope, &mistake{})
			if err != nil {
				return err
			}
			at := 1 + slices.Index(part.pigments, p.pigments[q-1])
			before := usual(q, true)
			sys := part.system()
			maximise := func(y state) (peak, error) {
				return part.maximiseLikelihood(ctx, y, sys, part.meanScatter(at, y), octave, func(ln float64) float64 {
					part.level[at] = scatterLevel{ln: ln}
					part.setPriors()
					beyond := (ln - before.Level) / levelSpread
					return beyond * beyond
				})
			}
			z := slices.Clone(y)
			here, err := maximise(y)
			level[q] = scatterLevel{here.at, here.sd(levelSpread)}
			if err != nil || !fromFaint {
				return err
			}
			for b := range color.Bands {
				z[part.unknown(at, true, b)] = faintScatter
			}
			elsewhere, err := maximise(z)
			if err != nil || elsewhere.cost > here.cost-1 {
				return err
			}
			level[q] = scatterLevel{elsewhere.at, elsewhere.sd(levelSpread)}
			moved[q] = func() {
				for b := range color.Bands {
					x[p.unknown(q, false, b)] = z[part.unknown(at, false, b)]
					x[p.unknown(q, true, b)] = z[part.unknown(at, true, b)]
				}
			}
			return nil
		})
	}
	if err := group.Wait(); err != nil {
		return err
	}
	for q := 1; q < p.curves; q++ {
		if len(s.chips[q]) > 0 {
			p.level[q] = level[q]
		}
		if moved[q] != nil {
			moved[q]()
		}
	}
	p.setPriors()
	return nil
}

// meanScatter is the mean of ln S of curve q at x.
func (p *problem) meanScatter(q int, x state) float64 {
	sum := 0.0
	for b := range color.Bands {
		sum += x[p.unknown(q, true, b)] / color.Bands
	}
	return sum
}

// The refractive index of a urethane, and how far one lies from another. From
// memory.
const (
	usualIndex  = 1.50
	indexSpread = 0.02
)

// learnIndex sets the refractive index of an exact layer to what makes the readings
// most likely, and moves to the optimum there. The index shows in the mirror of the
// surface and in how much light it turns back inside.
func (f *candidate) learnIndex(ctx context.Context) error {
	const step = 0.02
	var failed error
	set := func(index float64) float64 {
		m := f.model
		m.Index = math.Min(math.Max(index, 1.2), 1.9)
		l, err := m.build()
		if err != nil {
			failed = err
			return 0
		}
		f.model, f.p.layer = m, l
		beyond := (index - usualIndex) / indexSpread
		return beyond * beyond
	}
	sys := f.p.system()
	found, err := f.p.maximiseLikelihood(ctx, f.x, sys, f.model.Index, step, set)
	if err != nil {
		return err
	}
	set(math.Round(found.at*1000) / 1000)
	if failed != nil {
		return failed
	}
	if found.bend > 0 {
		f.model.IndexSD = found.sd(0)
	}
	f.model.SurfaceKnown = found.bend > 0 && f.model.IndexSD < indexSpread/2
	f.p.noise = f.p.usual // a wrong index passed for noise
	_, _, err = f.p.converge(ctx, f.x, sys, 0.5, 30)
	return err
}

// octave is a step by a factor of two of a number given by its ln.
const octave = 0.7

// A peak is a value of one number for which the readings are most likely.
type peak struct {
	at   float64
	bend float64 // how -2 ln likelihood bends there, 0 where it does not rise either way
	cost float64 // -2 ln likelihood, prior counted
}

// sd is how far the number is known; prior where the readings do not bend.
func (k *peak) sd(prior float64) float64 {
	if !(k.bend > 0) {
		return prior
	}
	return math.Sqrt(2 / k.bend)
}

// maximiseLikelihood returns the peak uphill from a value, slope and bend by the
// differences from it to a step below and above. x is left near the optimum there. set
// installs a value and returns what it costs beforehand, in -2 ln.
func (p *problem) maximiseLikelihood(ctx context.Context, x state, sys *system, from, step float64, set func(v float64) float64) (peak, error) {
	return p.peak(from, step, set, func(int) (float64, error) { return p.optimum(ctx, x, sys, 0.1, 15) })
}

// peak is maximiseLikelihood of what at returns for the value just installed, so many
// steps from the first.
func (p *problem) peak(from, step float64, set func(v float64) float64, at func(steps int) (float64, error)) (peak, error) {
	const most = 6             // steps either way
	known := map[int]float64{} // by steps: what was asked beside a value is not asked again
	steps := func(v float64) int { return int(math.Round((v - from) / step)) }
	cost := func(v float64) (float64, error) {
		k := steps(v)
		if e, ok := known[k]; ok {
			return e, nil
		}
		if max(k, -k) > most+1 {
			return math.Inf(1), nil
		}
		prior := set(v)
		e, err := at(k)
		if err != nil && (k == 0 || !noFit(err)) {
			return 0, err
		}
		known[k] = e + prior
		return e + prior, nil
	}
	const steepest = 1e3
	bend := 0.0
	c := climb{
		cost: func(v []float64) (float64, error) { return cost(v[0]) },
		slopes: func(v []float64) ([]float64, *mat.SymDense, error) {
			here := known[steps(v[0])]
			above, err := cost(v[0] + step)
			if err != nil {
				return nil, nil, err
			}
			below, err := cost(v[0] - step)
			above, below = math.Min(above-here, steepest), math.Min(below-here, steepest)
			bend = (above + below) / (step * step)
			return []float64{(above - below) / (2 * step)}, mat.NewSymDense(1, []float64{bend}), err
		},
		reach: step,
		word:  step / 2, // the peak lies between the steps
	}
	_, err := c.from([]float64{from})
	return peak{c.at[0], math.Max(bend, 0), c.best}, err
}
