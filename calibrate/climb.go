package calibrate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
)

// A climb is the search for the hyperparameters that make the readings most likely: by
// Newton's method with backtracking, gonum's, and as few questions as it can be, for
// each costs a fit.
type climb struct {
	// cost is -2 ln likelihood at v, +Inf where there is no fit.
	cost func(v []float64) (float64, error)
	// slopes are how cost answers to v, the best so far, and how that bends or is
	// expected to.
	slopes func(v []float64) (slope []float64, bend *mat.SymDense, err error)
	gain   float64 // a fall of cost that is worth no more
	still  float64 // the least step of a number that is one
	reach  float64 // the longest
	word   float64 // a step that slope and bend are believed; a longer one is reach then

	at     []float64 // the best so far
	best   float64   // its cost
	failed error
}

// from climbs from v, until cost falls by less than gain, and reports whether
// that led anywhere. The last of the way is taken on the word of slope and bend.
func (c *climb) from(v []float64) (risen bool, err error) {
	c.at = slices.Clone(v)
	if c.best, err = c.cost(v); err != nil || math.IsInf(c.best, 1) {
		return false, err
	}
	done := false
	var slope []float64
	var bend *mat.SymDense
	problem := optimize.Problem{
		Func: func(v []float64) float64 {
			if slices.Equal(v, c.at) {
				return c.best
			}
			if done = c.longest(v) < c.still || c.failed != nil; done {
				return c.best
			}
			cost, err := c.cost(v)
			if err != nil {
				c.failed, done = err, true
				return c.best
			}
			if fall := c.best - cost; fall > 0 {
				copy(c.at, v)
				c.best, risen, done = cost, true, fall < c.gain
			}
			return cost
		},
		Grad: func(to, v []float64) {
			if slope, bend, c.failed = c.slopes(v); c.failed != nil {
				slope, bend = make([]float64, len(v)), mat.NewSymDense(len(v), nil)
			}
			done = done || c.failed != nil || c.nearly(slope, bend)
			copy(to, slope)
		},
		Hess:   func(to *mat.SymDense, _ []float64) { to.CopySym(bend) },
		Status: func() (optimize.Status, error) { return stopped(done), nil },
	}
	settings := optimize.Settings{MajorIterations: mostRounds, Converger: optimize.NeverTerminate{}}
	// that no step leads on is no failure
	_, _ = optimize.Minimize(problem, v, &settings, &optimize.Newton{Linesearcher: &optimize.Backtracking{ContractionFactor: 0.25}})
	return risen, c.failed
}

func stopped(done bool) optimize.Status {
	if done {
		return optimize.FunctionConvergence
	}
	return optimize.NotTerminated
}

// longest is how far v is from the best.
func (c *climb) longest(v []float64) (most float64) {
	for i := range v {
		most = math.Max(most, math.Abs(v[i]-c.at[i]))
	}
	return most
}

// nearly goes to where slope and bend lead if that is nearly here, and otherwise sees
// to it that they lead as far as reach says.
func (c *climb) nearly(slope []float64, bend *mat.SymDense) bool {
	var chol mat.Cholesky
	step := mat.NewVecDense(len(slope), nil)
	if chol.Factorize(bend) && chol.SolveVecTo(step, mat.NewVecDense(len(slope), slope)) == nil {
		longest := mat.Norm(step, math.Inf(1))
		fall := mat.Dot(step, mat.NewVecDense(len(slope), slope)) / 2
		if longest <= c.reach && (fall < c.gain || longest <= max(c.still, c.word)) {
			for i := range c.at {
				c.at[i] -= step.AtVec(i)
			}
			c.best -= fall
			return true
		}
		if longest > c.reach || c.word > 0 {
			bend.ScaleSym(longest/c.reach, bend)
		}
		return false
	}
	steepest := 0.0
	for _, v := range slope {
		steepest = math.Max(steepest, math.Abs(v))
	}
	for i := range slope {
		for j := range i {
			bend.SetSym(i, j, 0)
		}
		bend.SetSym(i, i, steepest/c.reach)
	}
	return steepest == 0
}

// about climbs by what cost alone says of the numbers about the best, a size away
// (Nelder and Mead's simplex).
func (c *climb) about(size float64) error {
	problem := optimize.Problem{
		Func: func(v []float64) float64 {
			if c.failed != nil {
				return c.best
			}
			var cost float64
			if cost, c.failed = c.cost(v); c.failed == nil && cost < c.best {
				copy(c.at, v)
				c.best = cost
			}
			return cost
		},
		Status: func() (optimize.Status, error) { return stopped(c.failed != nil), nil },
	}
	n := len(c.at)
	settings := optimize.Settings{
		InitValues:      &optimize.Location{F: c.best},
		FuncEvaluations: 4 * n,
		Converger:       &optimize.FunctionConverge{Absolute: c.gain, Iterations: n + 1},
	}
	_, _ = optimize.Minimize(problem, slices.Clone(c.at), &settings, &optimize.NelderMead{SimplexSize: size})
	return c.failed
}
