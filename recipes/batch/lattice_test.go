package batch

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// valley is narrow along x = y with its least at (40, 40): a step of one
// pigment alone always climbs.
func valley(calls *int) func(n []int64) (float64, error) {
	return func(n []int64) (float64, error) {
		*calls++
		x, y := float64(n[0]), float64(n[1])
		return 1000*(x-y)*(x-y) + (x+y-80)*(x+y-80), nil
	}
}

func TestDescendFollowsAValley(t *testing.T) {
	calls := 0
	l := lattice{[]int64{0, 0}, []int64{1000, 1000}, valley(&calls)}
	best, value, err := l.descend([]int64{3, 3}, []int64{1, 1})
	require.NoError(t, err)
	require.Equal(t, []int64{40, 40}, best)
	require.Zero(t, value)

	calls = 0
	l.value = func(n []int64) (float64, error) { calls++; return math.Abs(float64(n[0] - 900)), nil }
	best, _, err = l.descend([]int64{3, 0}, []int64{1, 1})
	require.NoError(t, err)
	require.EqualValues(t, 900, best[0])
	require.Less(t, calls, 1100, "a direction that works is repeated without looking around")
}

func TestDescendStaysInBounds(t *testing.T) {
	l := lattice{[]int64{2, 2}, []int64{9, 30}, func(n []int64) (float64, error) {
		require.True(t, n[0] >= 2 && n[0] <= 9 && n[1] >= 2 && n[1] <= 30)
		return -float64(n[0]) - float64(n[1]), nil
	}}
	best, _, err := l.descend([]int64{2, 2}, []int64{16, 16})
	require.NoError(t, err)
	require.Equal(t, []int64{9, 30}, best)
}

// An outcome that always falls a little further must not run for ever.
func TestDescendEnds(t *testing.T) {
	calls := 0
	l := lattice{[]int64{0}, []int64{math.MaxInt64 / 2}, func(n []int64) (float64, error) {
		calls++
		return -float64(n[0]), nil
	}}
	_, _, err := l.descend([]int64{0}, []int64{1})
	require.NoError(t, err)
	require.LessOrEqual(t, calls, mostEvaluations+1)
}
