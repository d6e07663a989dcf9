package archive

import (
	"bytes"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestRunsAndMoulds(t *testing.T) {
	b := fullBench(t)
	verified(t, b)
	r, err := b.Run(ctx(t), "run1")
	require.NoError(t, err)
	assert.Equal(t, "RUN1", r.ID())
	assert.Equal(t, "Harbour lamp / housing", r.Target)
	assert.Equal(t, "2026-03-31", r.StartedOn)
	cups, err := b.RunCups(ctx(t), r.Ref)
	require.NoError(t, err)
	require.Len(t, cups, 1)
	k, err := b.CupOfPour(ctx(t), cups[0].Pour)
	require.NoError(t, err)
	assert.Equal(t, cups[0], k)
	inM1, err := b.CupsOfMould(ctx(t), "M1")
	require.NoError(t, err)
	assert.Equal(t, cups, inM1)
	m, err := b.Mould(ctx(t), "M1")
	require.NoError(t, err)
	assert.Equal(t, 3, m.Cavities)
	_, err = b.Mould(ctx(t), "M2")
	assert.EqualError(t, err, `unknown mould "M2"; the bench has M1`)
	_, err = b.Run(ctx(t), "RUN7")
	assert.EqualError(t, err, "unknown run RUN7; the newest is RUN1")
	p2, err := b.Pour(ctx(t), "P2")
	require.NoError(t, err)
	_, err = b.CupOfPour(ctx(t), p2.Ref)
	assert.ErrorIs(t, err, ErrNotFound)

	// a pour of another target is no cup of it
	_, err = b.PutTarget(ctx(t), Target{Client: "Tern Lighting", Name: "shade", Readings: []Reading{reading(50, 1, 2)}}, Refuse)
	require.NoError(t, err)
	found, err := b.AddRecipes(ctx(t), Recipe{Resin: "CLR", Client: "Tern Lighting", Target: "shade", Loadings: map[string]float64{"RD": 1}})
	require.NoError(t, err)
	made, err := b.AddBatch(ctx(t), Batch{Recipe: found[0].Ref, TotalGrams: 20, Lines: []Line{{"B", 10}}})
	require.NoError(t, err)
	p, err := b.AddPour(ctx(t), Pour{Batch: made.Ref})
	require.NoError(t, err)
	_, err = b.AddRunCup(ctx(t), RunCup{Run: r.Ref, Pour: p.Ref, Parts: 1})
	assert.ErrorIs(t, err, ErrInvalid)
	assert.ErrorContains(t, err, "P3 is for Tern Lighting / shade, not for Tern Lighting / Harbour lamp / housing")
}

// A run goes along with its client and with its recipe, and not with what is left
// of the bench without the client.
func TestRunsInBundles(t *testing.T) {
	b := fullBench(t)
	for name, export := range map[string]func(*bytes.Buffer) error{
		"whole":  func(w *bytes.Buffer) error { _, err := b.Export(ctx(t), w); return err },
		"client": func(w *bytes.Buffer) error { _, err := b.ExportClient(ctx(t), w, "Tern Lighting"); return err },
		"recipe": func(w *bytes.Buffer) error { _, err := b.ExportRecipe(ctx(t), w, "R1"); return err },
	} {
		var bundle bytes.Buffer
		require.NoError(t, export(&bundle), name)
		to := newBench(t)
		_, err := to.Import(ctx(t), &bundle, RefuseConflicts)
		require.NoError(t, err, name)
		verified(t, to)
		r, err := to.Run(ctx(t), "RUN1")
		require.NoError(t, err, name)
		cups, err := to.RunCups(ctx(t), r.Ref)
		require.NoError(t, err, name)
		assert.Len(t, cups, 1, name)
		moulds, err := to.Moulds(ctx(t))
		require.NoError(t, err, name)
		assert.Len(t, moulds, 1, name)
	}
	path := filepath.Join(t.TempDir(), "without.db")
	_, err := b.Forget(ctx(t), "Tern Lighting", path)
	require.NoError(t, err)
	to, err := Open(ctx(t), path, options())
	require.NoError(t, err)
	defer to.Close()
	verified(t, to)
	runs, err := to.Runs(ctx(t))
	require.NoError(t, err)
	assert.Empty(t, runs)
	moulds, err := to.Moulds(ctx(t))
	require.NoError(t, err)
	assert.Empty(t, moulds)
}
