package calibrate

import (
	"context"
	"errors"
	"math"

	"masstone/calibrate/minimize"
	"masstone/color"
)

var errLeftRange = errors.New("the fit left the range of numbers; check the loadings and thicknesses of the chips")

// noFit reports whether err says that there is no fit the way it was looked for, which is
// no error where another way is left.
func noFit(err error) bool {
	return errors.Is(err, errLeftRange) || errors.Is(err, minimize.ErrNotPositive)
}

// converge runs Levenberg-Marquardt from x until the cost falls by less than
// tol, or for at most limit linearisations. It returns the cost and leaves sys
// unfactored; inform asks for the covariance at x.
func (p *problem) converge(ctx context.Context, x state, sys *system, tol float64, limit int) (cost float64, steps int, err error) {
	var w workspace
	g := make([]float64, p.n)
	step := make([]float64, p.n+p.d)
	trial := make(state, len(x))
	lambda := 0.0
	if tol > 1 {
		tol = 1
	}
	cost = math.Inf(1)
	for steps = 1; steps <= limit; steps++ {
		if err := ctx.Err(); err != nil {
			return cost, steps, err
		}
		cost = p.linearise(x, sys, g)
		if math.IsNaN(cost) || math.IsInf(cost, 0) {
			return cost, steps, errLeftRange
		}
		damped := lambda
		improved := false
		for try := 0; try < 12; try++ {
			if err := sys.Factor(damped); err != nil {
				damped = math.Max(4*damped, 1e-3)
				continue
			}
			copy(step, g)
			sys.Solve(step[:p.n])
			p.settle(x, sys, step)
			// ln K and ln S beyond a few units a step is outside the range of
			// the linearisation: shorten such a step rather than trust it
			longest := 0.0
			for _, v := range step[:p.start[p.curves]] {
				longest = math.Max(longest, math.Abs(v))
			}
			scale := math.Min(1, 1.5/longest)
			for i := range x {
				trial[i] = x[i] + scale*step[i]
			}
			next := p.cost(trial, &w)
			if next < cost {
				improved = true
				gain := cost - next
				copy(x, trial)
				cost = next
				lambda = damped / 8
				if lambda < 1e-4 {
					lambda = 0
				}
				if scale == 1 && gain < tol {
					return cost, steps, nil
				}
				break
			}
			if cost-next > -1e-9*cost && scale == 1 && damped == 0 {
				return cost, steps, nil // at the floor of rounding
			}
			damped = math.Max(6*damped, 1e-2)
		}
		if !improved {
			return cost, steps, nil
		}
	}
	return cost, limit, nil
}

// settle sets the castings' own part of a step, which follows from that of what
// they share.
func (p *problem) settle(x state, sys *system, step []float64) {
	each(len(p.castings), func(i int) {
		c := &p.castings[i]
		u := step[p.n+c.from : p.n+c.to]
		clear(u)
		sys.linear[i].settle(sys, step, u[:p.strays(c)])
		for k, v := range x[p.n+c.from : p.n+c.to] {
			u[k] -= v
		}
	})
}

// flat returns the starting state: every curve level, at its prior level, but
// for the resin, which starts as one that hides. Scattering too faint to show
// would have no slope to grow along, where too much of it has one to fall along.
func (p *problem) flat() state {
	x := make(state, p.n+p.d)
	for k := range p.levels {
		level := p.levels[k]
		if k == 1 {
			level = math.Max(level, math.Log(hiding))
		}
		for b := range color.Bands {
			x[p.unknown(k/2, k%2 == 1, b)] = level
		}
	}
	return x
}

// hiding is the scattering per mm of a resin that a few millimetres of hide
// what is behind. Common practice, no source.
const hiding = 0.5
