package workbench

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/recipes/papers"
)

// TestApprovals: a pour proves the recipe it was of, once it was read; the last
// one named is the part approved; approving again is the next version.
func TestApprovals(t *testing.T) {
	b := newBench(t)
	target, r := poured(t, b)
	other := addRecipe(t, b, target, testResin, stronger(lamp(), "BK", 2))
	good, miss, unread := addPour(t, b, r, nil), addPour(t, b, r, nil), addPour(t, b, r, nil)
	readPour(t, b, good.Pour, lamp())
	missed := readPour(t, b, miss.Pour, stronger(lamp(), "BK", 1.5))
	for name, c := range map[string]struct {
		r    ApproveRequest
		says string
	}{
		"of another recipe": {ApproveRequest{Recipe: other.ID(), Pours: []string{good.Pour}}, "P1 was poured from recipe R1, not from R2"},
		"not read":          {ApproveRequest{Recipe: r.ID(), Pours: []string{unread.Pour}}, "P3 has no reading"},
		"no such recipe":    {ApproveRequest{Recipe: "R99"}, "unknown recipe"},
	} {
		_, err := Approve(t.Context(), b, c.r)
		assert.ErrorContains(t, err, c.says, name)
	}
	none, err := Approvals(t.Context(), b, ApprovalsRequest{})
	require.NoError(t, err)
	require.Empty(t, none.Approvals)

	first, err := Approve(t.Context(), b, ApproveRequest{Recipe: r.ID(), Pours: []string{good.Pour}, By: "J. Brandt"})
	require.NoError(t, err)
	assert.Empty(t, first.Remarks)
	assert.Equal(t, "lamp v1", first.Name)
	assert.Equal(t, typed(partOf(lamp())), typed(first.Colors[0].Color()))
	second, err := Approve(t.Context(), b, ApproveRequest{Recipe: r.ID(), Pours: []string{good.Pour, miss.Pour}})
	require.NoError(t, err)
	require.Len(t, second.Remarks, 1)
	assert.True(t, second.Remarks[0].Warning)
	assert.Contains(t, second.Remarks[0].Text, "P2 is outside tolerance, CIEDE2000 ")
	assert.Equal(t, missed.Colors[0].Lab, second.Colors[0].Lab)
	assert.Equal(t, []string{"P1", "P2"}, second.Pours)
	third, err := Approve(t.Context(), b, ApproveRequest{Recipe: other.ID()})
	require.NoError(t, err)
	assert.Contains(t, third.Remarks[0].Text, "no pour proves it")

	newest, err := Approvals(t.Context(), b, ApprovalsRequest{})
	require.NoError(t, err)
	require.Len(t, newest.Approvals, 1)
	assert.Equal(t, 3, newest.Approvals[0].Version)
	all, err := Approvals(t.Context(), b, ApprovalsRequest{Target: "lamp"})
	require.NoError(t, err)
	assert.Len(t, all.Approvals, 3)
	shown, err := ShowApproval(t.Context(), b, ApprovalRequest{Target: "lamp", Version: 1})
	require.NoError(t, err)
	shown.Remarks = first.Remarks
	assert.Equal(t, first, shown)
}

// TestCertificateOf: of a batch or a target the newest pour that was read, of an
// approval one that proved it.
func TestCertificateOf(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	first, second, unread := addPour(t, b, r, nil), addPour(t, b, r, nil), addPour(t, b, r, nil)
	readPour(t, b, first.Pour, lamp())
	readPour(t, b, second.Pour, stronger(lamp(), "BK", 1.1))
	_, err := Approve(t.Context(), b, ApproveRequest{Recipe: r.ID(), Pours: []string{first.Pour}, By: "J. Brandt"})
	require.NoError(t, err)
	for what, c := range map[string]struct{ pour, by string }{
		"P1":                        {"P1", "J. Brandt"},
		"masstone:pour/P1":          {"P1", "J. Brandt"},
		"p2":                        {"P2", ""},
		first.Batch:                 {"P1", "J. Brandt"},
		"lamp":                      {"P2", ""},
		"masstone:target/Tern/lamp": {"P2", ""},
		"lamp v1":                   {"P1", "J. Brandt"},
	} {
		v, err := Certificate(t.Context(), b, CertificateRequest{What: what})
		require.NoError(t, err, what)
		assert.Equal(t, c.pour, v.Pour, what)
		assert.Equal(t, c.pour, v.Number, what)
		assert.Equal(t, c.by, v.ApprovedBy, what)
	}
	for what, says := range map[string]string{
		unread.Pour:          "P3 has no reading",
		unread.Batch:         "has no pour that was read",
		"masstone:recipe/R1": "is a recipe",
		"nix":                "unknown target",
		"lamp v9":            "version 9",
		"masstone:pour":      "has no name",
	} {
		_, err := Certificate(t.Context(), b, CertificateRequest{What: what})
		assert.ErrorContains(t, err, says, what)
	}
}

// TestLookUp: a code says what it is of, a name is a target's first.
func TestLookUp(t *testing.T) {
	b := newBench(t)
	addTarget(t, b, "lamp", lamp())
	for what, c := range map[string]struct {
		r    LookupRequest
		want Lookup
	}{
		"R1":                        {LookupRequest{}, Lookup{papers.RecipeRef, "R1", ""}},
		"b7":                        {LookupRequest{}, Lookup{papers.BatchRef, "b7", ""}},
		"P2":                        {LookupRequest{}, Lookup{papers.PourRef, "P2", ""}},
		"lamp":                      {LookupRequest{}, Lookup{papers.TargetRef, "lamp", ""}},
		"WH":                        {LookupRequest{}, Lookup{papers.PigmentRef, "WH", ""}},
		testResin:                   {LookupRequest{}, Lookup{papers.ResinRef, testResin, ""}},
		"a-7":                       {LookupRequest{Resin: testResin}, Lookup{papers.ChipRef, "a-7", testResin}},
		"masstone:batch/B7":         {LookupRequest{}, Lookup{papers.BatchRef, "B7", ""}},
		"masstone:target/Tern/lamp": {LookupRequest{}, Lookup{papers.TargetRef, "lamp", "Tern"}},
		"masstone:chip/CLR/x":       {LookupRequest{}, Lookup{papers.ChipRef, "x", "CLR"}},
	} {
		c.r.What = what
		v, err := LookUp(t.Context(), b, c.r)
		require.NoError(t, err, what)
		assert.Equal(t, c.want, v, what)
	}
	// what is called like a code is that, and where there is both, neither is guessed
	_, r := addTarget(t, b, "run7", lamp()), addRecipe(t, b, addTarget(t, b, "r1", lamp()), testResin, lamp())
	v, err := LookUp(t.Context(), b, LookupRequest{What: "run7"})
	require.NoError(t, err)
	assert.Equal(t, Lookup{papers.TargetRef, "run7", ""}, v)
	_, err = LookUp(t.Context(), b, LookupRequest{What: "r1"})
	assert.Equal(t, "R1", r.ID())
	assert.EqualError(t, err, `"r1" is a recipe and a target; say masstone:recipe/R1, or masstone:target/r1`)
	assert.Equal(t, Conflict, KindOf(err))
	for what, kind := range map[string]string{"masstone:recipe/R1": papers.RecipeRef, "masstone:target/r1": papers.TargetRef} {
		v, err = LookUp(t.Context(), b, LookupRequest{What: what})
		require.NoError(t, err)
		assert.Equal(t, kind, v.Kind)
	}
	_, err = LookUp(t.Context(), b, LookupRequest{What: "nix"})
	assert.Equal(t, NotFound, KindOf(err))
	_, err = LookUp(t.Context(), b, LookupRequest{What: "masstone:nix"})
	assert.Equal(t, Invalid, KindOf(err))
}
