package workbench

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/recipes/batch"
)

// addMould puts a mould of the lamp on the bench.
func addMould(t testing.TB, b *Bench, r AddMouldRequest) MouldOutcome {
	t.Helper()
	v, err := AddMould(t.Context(), b, r)
	require.NoError(t, err)
	return v
}

// TestMouldCounts: a shot fills all cavities; cups count, with those before; what
// is left of a life is counted down, said at its end, and a retired mould warned of.
func TestMouldCounts(t *testing.T) {
	b, run, k := startedRun(t, 30)
	v := addMould(t, b, AddMouldRequest{Name: "M1", Client: "Tern", Cavities: 2, ShotsBefore: 3, Life: 6, Cure: "platinum", Release: "none"})
	assert.Equal(t, "added", v.Outcome)
	assert.Len(t, v.Cautions, 1)
	assert.Equal(t, "unchanged", addMould(t, b, AddMouldRequest{Name: "M1", Client: "Tern", Cavities: 2, ShotsBefore: 3, Life: 6, Cure: "platinum", Release: "none"}).Outcome)
	pour := func(parts int) RunCup {
		c, err := PourRun(t.Context(), b, RunPourRequest{Run: run.Run, AddPourRequest: AddPourRequest{Batch: k, Again: true}, Parts: parts, Mould: "M1"})
		require.NoError(t, err)
		return c
	}
	assert.Len(t, pour(3).Remarks, 1) // two shots, a cavity left empty
	assert.Len(t, pour(2).Remarks, 1)
	m, err := ShowMould(t.Context(), b, "M1")
	require.NoError(t, err)
	assert.Equal(t, 6, m.Shots)
	assert.Equal(t, 0, *m.Left)
	require.Len(t, m.Cups, 2)
	assert.Equal(t, MouldCup{"RUN1", "P2", m.Cups[0].On, 3, 2}, m.Cups[0])
	over := pour(1)
	require.Len(t, over.Remarks, 2)
	assert.Contains(t, over.Remarks[0].Text, "7 shots with these, 6 were expected")

	_, err = RetireMould(t.Context(), b, RetireMouldRequest{Name: "M1"})
	assert.Equal(t, Invalid, KindOf(err))
	retired, err := RetireMould(t.Context(), b, RetireMouldRequest{"M1", "torn"})
	require.NoError(t, err)
	assert.Equal(t, "changed", retired.Outcome)
	assert.Equal(t, 7, retired.Shots)
	assert.Contains(t, pour(1).Remarks[0].Text, "retired: torn")
	paper, err := Certificate(t.Context(), b, CertificateRequest{What: readPart(t, b, over.Pour, 1, partOf(lamp())).Pour})
	require.NoError(t, err)
	assert.Equal(t, "M1", paper.Mould)
	assert.Equal(t, 1, paper.PartOfPour)
}

func TestMouldIsRefused(t *testing.T) {
	b := newBench(t)
	addMould(t, b, AddMouldRequest{Name: "M1", Cavities: 1, Cure: "tin", Release: "wax"})
	for name, c := range map[string]struct {
		r    AddMouldRequest
		kind Kind
	}{
		"no cavity":        {AddMouldRequest{Name: "M2"}, Invalid},
		"cavities below 0": {AddMouldRequest{Name: "M2", Cavities: -1}, Invalid},
		"cure":             {AddMouldRequest{Name: "M2", Cavities: 1, Cure: "condensation"}, Invalid},
		"no name":          {AddMouldRequest{Name: " ", Cavities: 1}, Invalid},
		"part of nobody":   {AddMouldRequest{Name: "M2", Cavities: 1, Part: "lamp"}, Invalid},
		"another card":     {AddMouldRequest{Name: "M1", Cavities: 2}, Conflict},
	} {
		_, err := AddMould(t.Context(), b, c.r)
		assert.Equal(t, c.kind, KindOf(err), "%s: %v", name, err)
	}
	all, err := Moulds(t.Context(), b)
	require.NoError(t, err)
	require.Len(t, all.Moulds, 1)
	assert.Len(t, all.Moulds[0].Cautions, 3)
	_, err = ShowMould(t.Context(), b, "M2")
	assert.Equal(t, NotFound, KindOf(err))
	for field, r := range map[string]WeighMouldRequest{
		"box-ml":  {Mix: batch.Ratio{A: 1, B: 1}, GramsPerML: 1.1},
		"mix":     {BoxML: 400, GramsPerML: 1.1},
		"density": {BoxML: 400, Mix: batch.Ratio{A: 1, B: 1}},
		"":        {BoxML: 400, PartML: 500, Mix: batch.Ratio{A: 1, B: 1}, GramsPerML: 1.1},
	} {
		_, err := WeighMould(r)
		var e *Error
		require.ErrorAs(t, err, &e)
		assert.Equal(t, field, e.Field)
	}
}

// TestRunPlan: shots go round the moulds of the part as long as they last; by
// hand.
func TestRunPlan(t *testing.T) {
	b, run, k := startedRun(t, 20)
	addMould(t, b, AddMouldRequest{Name: "M1", Cavities: 2, ShotsBefore: 7, Life: 10})
	addMould(t, b, AddMouldRequest{Name: "M2", Cavities: 3})
	addMould(t, b, AddMouldRequest{Name: "M3", Cavities: 1, Life: 1})
	ask := func(per int, moulds ...string) RunPlan {
		v, err := PlanRun(t.Context(), b, RunPlanRequest{Run: run.Run, Moulds: moulds, PerDay: per})
		require.NoError(t, err)
		return v
	}
	v := ask(2, "M2", "M1")
	assert.Equal(t, 20, v.Left)
	require.Len(t, v.Moulds, 2)
	// M1, M2 by turns, three times each: 15 parts, M1 is at its end; two more of M2
	assert.Equal(t, []int{3, 6, 10, 0}, []int{v.Moulds[0].Shots, v.Moulds[0].Parts, v.Moulds[0].Then, *v.Moulds[0].Left})
	assert.Equal(t, []int{5, 14, 5}, []int{v.Moulds[1].Shots, v.Moulds[1].Parts, v.Moulds[1].Then})
	assert.Equal(t, 3, v.Days)
	assert.Zero(t, v.Short)
	v = ask(0, "M3")
	assert.Equal(t, 19, v.Short)
	require.Len(t, v.Remarks, 1)

	_, err := PlanRun(t.Context(), b, RunPlanRequest{Run: run.Run})
	assert.Equal(t, Invalid, KindOf(err), "no mould is of its part")
	_, err = PlanRun(t.Context(), b, RunPlanRequest{Run: run.Run, Moulds: []string{"M1", "M1"}})
	assert.Equal(t, Invalid, KindOf(err))
	_, err = PlanRun(t.Context(), b, RunPlanRequest{Run: run.Run, Moulds: []string{"M9"}})
	assert.Equal(t, NotFound, KindOf(err))
	_, err = PourRun(t.Context(), b, RunPourRequest{Run: run.Run, AddPourRequest: AddPourRequest{Batch: k}, Parts: 3, Mould: "M2"})
	require.NoError(t, err)
	v = ask(0)
	assert.Equal(t, 17, v.Left)
	require.Len(t, v.Moulds, 1, "that used in it")
	assert.Equal(t, 7, v.Moulds[0].Then)

	_, err = RetireMould(t.Context(), b, RetireMouldRequest{Name: "M2", Why: "torn"})
	require.NoError(t, err)
	_, err = PlanRun(t.Context(), b, RunPlanRequest{Run: run.Run})
	assert.ErrorContains(t, err, "none in use")
	assert.Contains(t, remarks(ask(0, "M2").Remarks), "M2 is retired: torn")
}
