package workbench

import (
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/recipes/ageing"
)

// TestWithdrawnReading: a reading of a wrong age that is taken back teaches the drift
// nothing any more, nor does it count for its pour, and the record of it stays.
func TestWithdrawnReading(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	p := addPour(t, b, r, nil)
	readAt(t, b, p.Pour, 0, 24, lamp())
	before, err := ShowDrift(t.Context(), b, testResin)
	require.NoError(t, err)
	settled := readAt(t, b, p.Pour, 0, ageing.SettledHours, lamp())
	wrong, err := ReadPour(t.Context(), b, ReadPourRequest{Pour: p.Pour, AgeHours: 48, Readings: Readings{Typed: []string{typed(shifted(partOf(lamp()), [3]float64{4, 4, 4}))}}, Spot: Spot{FlatMM: 6}})
	require.NoError(t, err)
	require.NotEqual(t, settled.Verdict.Difference, wrong.Verdict.Difference)
	shown, err := ShowPour(t.Context(), b, p.Pour)
	require.NoError(t, err)
	require.Len(t, shown.History, 3)
	require.EqualValues(t, 6, *shown.History[2].FlatMM)

	for _, bad := range []WithdrawReadingRequest{{Pour: p.Pour}, {Pour: p.Pour, Reading: 4, Why: "x"}, {Pour: p.Pour, Reading: -1, Why: "x"}} {
		_, err = WithdrawReading(t.Context(), b, bad)
		require.Equal(t, Invalid, KindOf(err))
	}
	v, err := WithdrawReading(t.Context(), b, WithdrawReadingRequest{Pour: p.Pour, Why: "another part"})
	require.NoError(t, err)
	require.Equal(t, []int{3, 2}, []int{v.Reading, v.Left})
	shown, err = ShowPour(t.Context(), b, p.Pour)
	require.NoError(t, err)
	require.Len(t, shown.History, 2)
	require.InDelta(t, float64(settled.Verdict.Difference), float64(shown.Verdict.Difference), 1e-6)
	require.NotContains(t, shown.History[1].Note, "another part")

	v, err = WithdrawReading(t.Context(), b, WithdrawReadingRequest{Pour: p.Pour, Reading: 2, Why: "it was 24 h old"})
	require.NoError(t, err)
	require.Equal(t, 1, v.Left)
	after, err := ShowDrift(t.Context(), b, testResin)
	require.NoError(t, err)
	require.Equal(t, before, after)
	problems, err := b.archive.Verify(t.Context())
	require.NoError(t, err)
	require.Empty(t, problems.Problems)
}
