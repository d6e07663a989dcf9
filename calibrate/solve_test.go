package calibrate

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate/layer"
	"masstone/calibrate/minimize"
)

// A wild step may leave a portion of a paste that absorbs without end at less than nothing.
// A casting that then answered to its loading without end ended the whole fit once.
func TestBelowNothingStaysInRange(t *testing.T) {
	shop := readRealPigments(t)
	for _, kind := range []string{"one", "three", "spectrum"} {
		chips := append(designOf(shop.chips, 26), shop.mixtures[1])
		p, err := newProblem(shop.pigments, evidenceOf(chips, kind), layer.NewKubelkaMunk(), defaultSurface, usualNoise)
		require.NoError(t, err)
		x := p.flat()
		p.setHyper(straight, x)
		require.NoError(t, p.anneal(t.Context(), x))
		r := &p.readings[len(p.readings)-1]
		black := slices.Index(r.curve, 2)
		x[p.n+r.border[black]] = -1.01 * r.loading[black] / r.loadingSD[black]
		for b := range 11 {
			x[p.unknown(2, false, b)] = 20
		}
		var w workspace
		p.expand(x, &w)
		p.mix(r, x, &w)
		require.Equal(t, faintest, w.k[0])

		sys, g := p.system(), make([]float64, p.n)
		cost := p.linearise(x, sys, g)
		require.False(t, math.IsNaN(cost) || math.IsInf(cost, 0), kind)
		require.NoError(t, sys.Factor(0), kind)
		for _, v := range sys.linear[len(sys.linear)-1].own.Data {
			require.Less(t, math.Abs(v), 1e4, "%s: per unit of its variance, in units of noise", kind)
		}
	}
}

// A mistake by which nothing can be fitted is not made, and ends no fit; readings taken as
// they are written have nothing else to be compared with.
func TestMistakeThatLeavesNoFit(t *testing.T) {
	shop := readRealPigments(t)
	p, err := newProblem(shop.pigments, evidenceOf(designOf(shop.chips, 26), "one"), layer.NewKubelkaMunk(), defaultSurface, usualNoise)
	require.NoError(t, err)
	x := p.flat()
	p.setHyper(straight, x)
	require.NoError(t, p.anneal(t.Context(), x))
	nowhere := func(cause Cause) *mistake {
		m := &mistake{cause: cause, chips: []int{2}, scope: []int{2, 3}, backing: p.readings[2].chip.Backing}
		var err error
		m.part, m.at, err = p.part(x, m.scope, m)
		require.NoError(t, err)
		m.at[0] = math.NaN()
		return m
	}
	written, lost := &mistake{}, nowhere(WrongBacking)
	require.NoError(t, p.confirm(t.Context(), x, x, []*mistake{written, lost}))
	require.Equal(t, math.Inf(1), lost.all)
	require.False(t, math.IsInf(written.all, 0))
	require.ErrorIs(t, p.confirm(t.Context(), x, x, []*mistake{nowhere("")}), errLeftRange)
}

// A layer model by which nothing can be fitted leaves the other; errors of another kind, and
// no model left, are errors.
func TestModelThatLeavesNoFit(t *testing.T) {
	other := errors.New("interrupted")
	for _, c := range []struct {
		errs []error
		left int
		err  error
	}{
		{[]error{nil, nil}, 2, nil},
		{[]error{nil, errLeftRange}, 1, nil},
		{[]error{fmt.Errorf("exact: %w", minimize.ErrNotPositive), nil}, 1, nil},
		{[]error{errLeftRange, minimize.ErrNotPositive}, 0, errLeftRange},
		{[]error{nil, other}, 0, other},
	} {
		left, err := thatFit(make([]candidate, 2), func(i int) error { return c.errs[i] })
		require.ErrorIs(t, err, c.err)
		require.Len(t, left, c.left)
	}
}
