package recipes

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// fours calls do with each four pigments of the shop's bench that come near
// each of its first targets, and the best F of gonum's simplex from three starts.
func fours(t *testing.T, shop matchShop, targets int, do func(w *subset, at []int, plain float64)) {
	t.Helper()
	for _, target := range shop.targets[:targets] {
		m, err := newMatch(shop.cal, target, Limits{BatchGrams: 100, ScaleGrams: 0.01})
		require.NoError(t, err)
		w := m.work(m.eval.Coarse(searchDirections))
		n := len(m.bench.pigments)
		for bits := range 1 << n {
			var at []int
			for i := range n {
				if bits>>i&1 == 1 {
					at = append(at, i)
				}
			}
			if len(at) != 4 {
				continue
			}
			plain := math.Inf(1)
			for _, start := range []float64{0.03, 0.3, 3} {
				v, _ := plainSolve(w, at, [MaxPerRecipe]float64{start, start, start, start})
				plain = math.Min(plain, v)
			}
			if plain < 0.1 {
				do(w, at, plain)
			}
		}
	}
}

// From one start a walk finds the better mixtures of a set also past what it
// costs to weigh a pigment at all: gonum's Nelder-Mead from three starts is
// better on few sets. Before the walk paid that in advance it was on 8 of 51.
func TestWalkLeavesMixturesWithoutAPigment(t *testing.T) {
	if underRace {
		t.Skip("a study of figures, in one goroutine")
	}
	sets, worse, better := 0, 0, 0
	fours(t, shop6(), 12, func(w *subset, at []int, plain float64) {
		w.take(at)
		w.even()
		w.solve(math.Inf(1))
		w.nullSpaceWalk(math.Inf(1))
		v := w.polish()
		sets++
		if v > 1.001*plain {
			worse++
		}
		if v < plain/1.001 {
			better++
		}
	})
	t.Logf("%d fours: worse than the simplex on %d, better on %d", sets, worse, better)
	require.Greater(t, sets, 30)
	assert.LessOrEqual(t, float64(worse), 0.1*float64(sets))
	assert.Greater(t, better, worse)
}

// Where polish ends, gonum's Nelder-Mead finds nothing better.
func TestPolishEndsAtAMinimum(t *testing.T) {
	if underRace {
		t.Skip("a study of figures, in one goroutine")
	}
	most, sets := 0.0, 0
	fours(t, shop6(), 8, func(w *subset, at []int, _ float64) {
		w.take(at)
		w.even()
		if w.solve(math.Inf(1)) > 0.1 {
			return
		}
		v := w.polish()
		again, _ := plainSolve(w, at, w.c)
		if again > 0.9*v { // else another dip
			sets++
			most = math.Max(most, v/again-1)
		}
	})
	t.Logf("the simplex lowers F by at most %.1e", most)
	require.Greater(t, sets, 20)
	assert.Less(t, most, 1e-4)
}
