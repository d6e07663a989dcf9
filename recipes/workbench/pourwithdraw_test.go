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

// TestWithdrawnProof: who takes back what proved an approval is told which; a reading
// that came after it, or that another had replaced before it, proved nothing.
func TestWithdrawnProof(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	p := addPour(t, b, r, nil)
	withdraw := func(reading int) WithdrawnReading {
		v, err := WithdrawReading(t.Context(), b, WithdrawReadingRequest{Pour: p.Pour, Reading: reading, Why: "another part"})
		require.NoError(t, err)
		return v
	}
	approve := func() {
		_, err := Approve(t.Context(), b, ApproveRequest{Recipe: r.ID(), Pours: []string{p.Pour}, Again: true})
		require.NoError(t, err)
	}
	readPour(t, b, p.Pour, stronger(lamp(), "BK", 1.01))
	readPour(t, b, p.Pour, lamp())
	approve()
	approve()
	readPour(t, b, p.Pour, stronger(lamp(), "BK", 1.02))
	require.Empty(t, withdraw(3).Approvals)
	require.Empty(t, withdraw(1).Approvals)
	v := withdraw(1)
	require.Equal(t, []string{"lamp v1", "lamp v2"}, v.Approvals)
	require.Contains(t, remarks(v.Remarks), "it had proved lamp v1, lamp v2, approved as before")
	approvals, err := Approvals(t.Context(), b, ApprovalsRequest{Target: "lamp"})
	require.NoError(t, err)
	require.Len(t, approvals.Approvals, 2)
}
