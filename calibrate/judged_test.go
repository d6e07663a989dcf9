package calibrate_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/color"
)

func TestTally(t *testing.T) {
	at := func(l, a, b float64) color.Lab { return color.LabFrom([3]float64{l, a, b}, color.D65Ten()) }
	p := calibrate.PredictedColor{Lab: at(50, 10, 10), Half95: [3]float64{1.96, 1.96, 0.98}}
	p.Cov[0][0], p.Cov[1][1], p.Cov[2][2] = 1, 1, 0.25
	p.Upper95 = 2
	for _, c := range []struct {
		measured color.Lab
		within   [3]bool
		region   bool
	}{
		{at(50, 10, 10), [3]bool{true, true, true}, true},
		{at(51.9, 10, 10), [3]bool{true, true, true}, true},
		{at(51.9, 11.9, 10.9), [3]bool{true, true, true}, false}, // 3 x 1.9^2 of variance 1: above the 7.81 of three together
		{at(52, 10, 10), [3]bool{false, true, true}, true},
		{at(50, 13, 8), [3]bool{true, false, false}, false},
	} {
		j, err := p.Judge(c.measured)
		require.NoError(t, err)
		require.Equal(t, c.within, j.Within)
		require.Equal(t, c.region, j.InRegion)
	}
	var all []calibrate.Judged
	for _, l := range []float64{50, 50.5, 51, 53} {
		j, err := p.Judge(at(l, 10, 10))
		require.NoError(t, err)
		all = append(all, j)
	}
	tally := calibrate.TallyOf(all)
	require.Equal(t, 4, tally.N)
	require.InDelta(t, 11.0/12, tally.Coverage95, 1e-12) // one L* of twelve values is out
	require.InDelta(t, 0.75, tally.Region95, 1e-12)
	require.InDelta(t, 0.75, tally.BelowUpper95Share, 1e-12)
	require.Less(t, tally.Median, tally.Mean)
	require.InDelta(t, all[3].DE00, tally.Max, 1e-12)
	require.Equal(t, calibrate.Tally{}, calibrate.TallyOf(nil))
	_, err := p.Judge(color.LabFrom([3]float64{50, 10, 10}, color.Under(color.A, color.TenDegree)))
	require.ErrorIs(t, err, color.ErrConditions)
}
