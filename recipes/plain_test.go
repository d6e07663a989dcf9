package recipes

import (
	"math"

	"gonum.org/v1/gonum/optimize"
)

// plainSolve is the plain way to solve one subset: gonum's Nelder-Mead on F
// with a penalty outside the bounds, from the same start as the search.
func plainSolve(w *subset, at []int, start [MaxPerRecipe]float64) (float64, [MaxPerRecipe]float64) {
	w.take(at)
	problem := optimize.Problem{Func: func(x []float64) float64 {
		var c [MaxPerRecipe]float64
		penalty, total := 0.0, 0.0
		for k, v := range x {
			c[k] = math.Min(math.Max(v, w.lo[k]), w.hi[k])
			penalty += math.Abs(v - c[k])
			total += c[k]
		}
		if over := total - w.b.total; over > 0 {
			penalty += over
		}
		return w.expected(&c) + 1000*penalty
	}}
	settings := &optimize.Settings{FuncEvaluations: 600, Converger: &optimize.FunctionConverge{Absolute: 1e-7, Iterations: 40}}
	result, err := optimize.Minimize(problem, start[:len(at)], settings, &optimize.NelderMead{})
	if result == nil || err != nil && result.F == 0 {
		return math.Inf(1), start
	}
	var c [MaxPerRecipe]float64
	copy(c[:], result.X)
	w.clamp(&c)
	return w.expected(&c), c
}

// plainMatch runs plainSolve on every subset and returns the best F.
func plainMatch(m *match) float64 {
	w := m.work(m.eval.Clone())
	best := math.Inf(1)
	n := len(m.bench.pigments)
	at := make([]int, 0, m.bench.size)
	var each func(from int)
	each = func(from int) {
		if len(at) > 0 {
			var start [MaxPerRecipe]float64
			for k, p := range at {
				start[k] = math.Min(math.Max(0.3, m.bench.lo[p]), m.bench.hi[p])
			}
			if v, _ := plainSolve(w, at, start); v < best {
				best = v
			}
		}
		if len(at) == m.bench.size {
			return
		}
		for p := from; p < n; p++ {
			at = append(at, p)
			each(p + 1)
			at = at[:len(at)-1]
		}
	}
	each(0)
	return best
}
