package archive

import (
	"bytes"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Of a bench with a damaged record all is carried over that does not come from it.
func TestExportRest(t *testing.T) {
	for _, c := range []struct {
		sql, lost string
		left      []string
		kept      int
	}{
		{`UPDATE pour_reading SET doc = replace(doc, '61', '62')`, "pour reading 1", []string{"pour reading 1: it is damaged"}, 35},
		{`UPDATE stock_move SET doc = replace(doc, '119.9', '19.9')`, "stock move 2", []string{`stock move 2 ("pail 1"): it is damaged`}, 35},
		{`UPDATE recipe SET doc = replace(doc, '1.02', '0.02')`, "recipe R1", []string{"recipe R1: it is damaged", `stock 1 ("pail 1"): made from what is left out`}, 21},
	} {
		b := altered(t, c.sql)
		_, err := b.Export(ctx(t), new(bytes.Buffer))
		require.ErrorIs(t, err, ErrDamaged)
		assert.Contains(t, err.Error(), c.lost)
		var bundle bytes.Buffer
		n, left, err := b.ExportRest(ctx(t), &bundle)
		require.NoError(t, err)
		assert.Subset(t, left, c.left)
		assert.Equal(t, c.kept, n, "%v", left)
		assert.Equal(t, 36, n+len(left))
		to := newBench(t)
		_, err = to.Import(ctx(t), &bundle, RefuseConflicts)
		require.NoError(t, err)
		verified(t, to)
	}
}

// A client that is forgotten is nowhere in the file of the new bench, nor is
// anything of it in the file's bytes; what is of others is.
func TestForget(t *testing.T) {
	b := richBench(t)
	_, err := b.PutTarget(ctx(t), Target{Client: "Gull Boats", Name: "hull", Readings: []Reading{reading(50, 0, 0)}}, Refuse)
	require.NoError(t, err)
	found, err := b.AddRecipes(ctx(t), Recipe{Resin: "CLR", Client: "Gull Boats", Target: "hull", Loadings: map[string]float64{"WH": 1}})
	require.NoError(t, err)
	_, err = b.Approve(ctx(t), Approval{Recipe: found[0].Ref})
	require.NoError(t, err)
	before := checksum(t, b)
	path := filepath.Join(t.TempDir(), "new.db")
	done, err := b.Forget(ctx(t), "Tern Lighting", path)
	require.NoError(t, err)
	assert.Equal(t, before, checksum(t, b))
	assert.Equal(t, []string{"recipe R3 is R1 here"}, done.Numbered)
	to, err := Open(ctx(t), path, options())
	require.NoError(t, err)
	verified(t, to)
	clients, err := to.Clients(ctx(t))
	require.NoError(t, err)
	require.Len(t, clients, 1)
	assert.Equal(t, "Gull Boats", clients[0].Name)
	chips, err := to.Chips(ctx(t), "CLR")
	require.NoError(t, err)
	assert.Len(t, chips, 3)
	_, err = to.Approval(ctx(t), "Gull Boats", "hull", 0)
	require.NoError(t, err)
	require.NoError(t, to.Close())
	whole := readFile(t, path)
	for _, word := range []string{"Tern", "Harbour"} {
		assert.False(t, strings.Contains(whole, word), word)
	}

	_, err = b.Forget(ctx(t), "Nobody", filepath.Join(t.TempDir(), "x.db"))
	require.ErrorIs(t, err, ErrNotFound)
	_, err = b.Forget(ctx(t), "Gull Boats", path)
	require.ErrorIs(t, err, ErrExists)
}
