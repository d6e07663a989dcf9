package workbench

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/color"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
)

// startedRun is a bench with an approval of lamp and a run of it.
func startedRun(t testing.TB, parts int) (*Bench, Run, string) {
	t.Helper()
	b := newBench(t)
	_, r := poured(t, b)
	p := addPour(t, b, r, nil)
	readPour(t, b, p.Pour, lamp())
	_, err := Approve(t.Context(), b, ApproveRequest{Recipe: r.ID(), Pours: []string{p.Pour}})
	require.NoError(t, err)
	v, err := StartRun(t.Context(), b, StartRunRequest{Approval: "lamp", Parts: parts})
	require.NoError(t, err)
	return b, v, addBatch(t, b, r).ID()
}

// cup casts a cup of a run.
func cup(t testing.TB, b *Bench, run Run, batch string, parts int) RunCup {
	t.Helper()
	v, err := PourRun(t.Context(), b, RunPourRequest{Run: run.Run, AddPourRequest: AddPourRequest{Batch: batch, Again: true}, Parts: parts})
	require.NoError(t, err)
	return v
}

// readPart reads a part of a cup.
func readPart(t testing.TB, b *Bench, pour string, part int, as color.Lab) PourReading {
	t.Helper()
	v, err := ReadPour(t.Context(), b, ReadPourRequest{Pour: pour, Part: part, Readings: Readings{Typed: []string{typed(as)}}})
	require.NoError(t, err)
	return v
}

func shifted(l color.Lab, by [3]float64) color.Lab {
	return color.LabFrom([3]float64{l.L + by[0], l.A + by[1], l.B + by[2]}, l.Under)
}

// TestRunDrifts: of ten cups the last four are of a green that is stronger by
// three tenths. The run drifts from the cup with which they begin, the parts are to be
// pulled, and the answer, cast in the shop of that green, is the target again.
func TestRunDrifts(t *testing.T) {
	b, run, k := startedRun(t, 30)
	green := testShop().Codes[2]
	draw := rand.New(rand.NewPCG(5, 6))
	for n := range 10 {
		as := lamp()
		if n >= 6 {
			as = stronger(as, green, 1.3)
		}
		c := cup(t, b, run, k, 3)
		assert.Equal(t, n+1, c.Cup)
		for part := 1; part <= 2; part++ {
			readPart(t, b, c.Pour, part, shifted(partOf(as), [3]float64{0.08 * draw.NormFloat64(), 0.08 * draw.NormFloat64(), 0.08 * draw.NormFloat64()}))
		}
	}
	v, err := ShowRun(t.Context(), b, run.Run)
	require.NoError(t, err)
	assert.Equal(t, 30, v.Cast)
	assert.Equal(t, 7, v.DriftFrom, v.Drift)
	require.Len(t, v.Pull, 8)
	assert.Equal(t, v.Cups[6].Pour, v.Pull[0].Pour)
	require.Len(t, v.ReadNext, 4, "of three parts two were read")
	assert.Equal(t, v.Cups[9].Pour, v.ReadNext[3])

	require.NotNil(t, v.Answer)
	assert.Less(t, float64(v.Answer.Change[green]), 0.0)
	next := map[string]float64{}
	for code, phr := range v.Answer.To {
		next[code] = float64(phr)
	}
	before, err := partOf(stronger(lamp(), green, 1.3)).DeltaE00(partOf(lamp()))
	require.NoError(t, err)
	after, err := partOf(stronger(next, green, 1.3)).DeltaE00(partOf(lamp()))
	require.NoError(t, err)
	assert.Greater(t, before, 1.0)
	assert.Less(t, after, 0.4)

	s := v.Summary
	require.NotNil(t, s)
	assert.Equal(t, []int{20, 10, 12, 6}, []int{s.Read, s.CupsRead, s.Within, s.CupsWithin})
	// scipy.stats.beta: Clopper and Pearson for 6 of 10, 95 %
	assert.InDelta(t, 0.2624, float64(s.Low), 5e-5)
	assert.InDelta(t, 0.8784, float64(s.High), 5e-5)
	list, err := Runs(t.Context(), b)
	require.NoError(t, err)
	require.Len(t, list.Runs, 1)
	assert.Equal(t, v.Drift, list.Runs[0].Drift)

	paper, err := RunCertificate(t.Context(), b, RunCertificateRequest{Run: run.Run})
	require.NoError(t, err)
	assert.Len(t, paper.All, 20)
	assert.Equal(t, v.Drift, paper.Drift)
	assert.Equal(t, color.CIEDE2000, paper.Formula)
	title, charts := v.Drawn()
	assert.Equal(t, "RUN1: lamp v1", title)
	require.Len(t, charts, 4)
	assert.Len(t, charts[0].Values, 10)
	assert.Equal(t, []float64{1, 0}, []float64{charts[0].Limit, charts[1].Limit}, "addTarget accepts 1 CIEDE2000")
}

// TestRunHolds: cups that only scatter do not drift, and none is pulled.
func TestRunHolds(t *testing.T) {
	b, run, k := startedRun(t, 12)
	draw := rand.New(rand.NewPCG(7, 8))
	for n := range 6 {
		c := cup(t, b, run, k, 2)
		readPart(t, b, c.Pour, 1, shifted(partOf(lamp()), [3]float64{0.1 * draw.NormFloat64(), 0.1 * draw.NormFloat64(), 0.1 * draw.NormFloat64()}))
		v, err := ShowRun(t.Context(), b, run.Run)
		require.NoError(t, err)
		assert.Equal(t, n < 4, v.Charts[0].Upper == nil, "no limits from fewer than five cups")
	}
	v, err := ShowRun(t.Context(), b, run.Run)
	require.NoError(t, err)
	assert.Empty(t, v.Drift)
	assert.Nil(t, v.Answer)
	assert.Empty(t, v.Pull)
	assert.Empty(t, v.ReadNext)
	for _, c := range v.Charts {
		assert.Empty(t, c.Outside, c.Of)
	}
	today, err := Today(t.Context(), b, 5)
	require.NoError(t, err)
	assert.Empty(t, today.Drifting)
}

// TestPartsOfACup: a part read again counts as read last, parts count by
// themselves, and a part near the limit is undecided.
func TestPartsOfACup(t *testing.T) {
	b, run, k := startedRun(t, 4)
	c := cup(t, b, run, k, 4)
	readPart(t, b, c.Pour, 1, partOf(stronger(lamp(), "BK", 2)))
	readPart(t, b, c.Pour, 2, partOf(lamp()))
	readPart(t, b, c.Pour, 1, partOf(lamp()))
	readPart(t, b, c.Pour, 3, partOf(stronger(lamp(), "BK", 2)))
	// as far from the target along L* as is accepted
	low, high := partOf(lamp()), shifted(partOf(lamp()), [3]float64{9, 0, 0})
	for high.L-low.L > 1e-3 {
		middle := shifted(low, [3]float64{(high.L - low.L) / 2, 0, 0})
		if d, err := partOf(lamp()).DeltaE00(middle); err == nil && d < 1 {
			low = middle
		} else {
			high = middle
		}
	}
	readPart(t, b, c.Pour, 4, shifted(low, [3]float64{-0.02, 0, 0}))
	v, err := ShowRun(t.Context(), b, run.Run)
	require.NoError(t, err)
	var got []string
	for _, p := range v.Cups[0].Read {
		got = append(got, fmt.Sprint(p.Part, " ", p.Decision, " ", p.Passes))
	}
	assert.Equal(t, []string{"1 within true", "2 within true", "3 outside false", "4 undecided true"}, got)
	assert.Equal(t, []string{"P2 part 3", "P2 part 4"}, []string{v.Pull[0].name(), v.Pull[1].name()})
	assert.Equal(t, 3, v.Summary.AsRead)
	assert.Equal(t, 0, v.Summary.CupsWithin)
	assert.InDelta(t, 1.6449*float64(v.Summary.U), float64(v.Summary.Guard), 1e-3) // normal quantile, any table
	assert.Greater(t, float64(v.Summary.U), 0.05)
	assert.False(t, math.IsNaN(float64(v.Summary.SD)))
}

func TestRunIsRefused(t *testing.T) {
	b, run, k := startedRun(t, 3)
	c := cup(t, b, run, k, 2)
	for name, f := range map[string]struct {
		ask  func() error
		kind Kind
		says string
	}{
		"no parts": {func() error { _, err := StartRun(t.Context(), b, StartRunRequest{Approval: "lamp"}); return err }, Invalid, "how many parts"},
		"risk": {func() error {
			_, err := StartRun(t.Context(), b, StartRunRequest{Approval: "lamp", Parts: 3, Risk: 0.5})
			return err
		}, Invalid, "out of range"},
		"no approval": {func() error {
			_, err := StartRun(t.Context(), b, StartRunRequest{Approval: "shade", Parts: 3})
			return err
		}, NotFound, "shade"},
		"no version": {func() error {
			_, err := StartRun(t.Context(), b, StartRunRequest{Approval: "lamp v7", Parts: 3})
			return err
		}, NotFound, "7"},
		"huge version": {func() error {
			_, err := StartRun(t.Context(), b, StartRunRequest{Approval: "lamp v99999999999999999999", Parts: 3})
			return err
		}, Invalid, "out of range"},
		"twice": {func() error {
			_, err := StartRun(t.Context(), b, StartRunRequest{Approval: "lamp", Parts: 3})
			return err
		}, Repeated, "RUN1"},
		"no run": {func() error { _, err := ShowRun(t.Context(), b, "RUN7"); return err }, NotFound, "the newest is RUN1"},
		"no batch": {func() error {
			_, err := PourRun(t.Context(), b, RunPourRequest{Run: "RUN1", AddPourRequest: AddPourRequest{Batch: "B99"}, Parts: 1})
			return err
		}, NotFound, "B99"},
		"no mould": {func() error {
			_, err := PourRun(t.Context(), b, RunPourRequest{Run: "RUN1", AddPourRequest: AddPourRequest{Batch: k, Again: true}, Parts: 1, Mould: "M7"})
			return err
		}, NotFound, "M7"},
		"both": {func() error {
			_, err := PourRun(t.Context(), b, RunPourRequest{Run: "RUN1", AddPourRequest: AddPourRequest{Batch: k, AsSheet: true, Weighed: batch.Poured{"WH": batch.Grams(1)}}, Parts: 1})
			return err
		}, Invalid, "give either"},
		"parts below 0": {func() error {
			_, err := PourRun(t.Context(), b, RunPourRequest{Run: "RUN1", AddPourRequest: AddPourRequest{Batch: k, Again: true}, Parts: 0})
			return err
		}, Invalid, "1 or more"},
		"part 3 of 2": {func() error {
			_, err := ReadPour(t.Context(), b, ReadPourRequest{Pour: c.Pour, Part: 3, Readings: Readings{Typed: []string{"60,0,0"}}})
			return err
		}, Invalid, "is of 2 parts"},
		"nothing read": {func() error { _, err := RunCertificate(t.Context(), b, RunCertificateRequest{Run: "RUN1"}); return err }, Failed, "no part of RUN1 was read"},
	} {
		err := f.ask()
		assert.ErrorContains(t, err, f.says, name)
		assert.Equal(t, f.kind, KindOf(err), name)
	}
	// a cup of another target
	other := addRecipe(t, b, addTarget(t, b, "shade", lamp()), testResin, lamp())
	_, err := PourRun(t.Context(), b, RunPourRequest{Run: "RUN1", AddPourRequest: AddPourRequest{Batch: addBatch(t, b, other).ID()}, Parts: 1})
	assert.ErrorContains(t, err, "is for Tern / shade, not for Tern / lamp")
	v, err := ShowRun(t.Context(), b, "RUN1")
	require.NoError(t, err)
	assert.Len(t, v.Cups, 1, "what was refused is not stored")
	pours, err := Pours(t.Context(), b, PoursRequest{Limit: 9})
	require.NoError(t, err)
	assert.Len(t, pours.Pours, 2)
	assert.Equal(t, figure.Number(0), figure.Number(len(v.Charts)))
}
