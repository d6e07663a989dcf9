package archive

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A tail that is cut off whole, line, link and records, leaves a chain that
// holds; against a head on paper it shows.
func TestACutTailShowsAgainstPaper(t *testing.T) {
	live := fullBench(t)
	head, err := live.Head(ctx(t))
	require.NoError(t, err)
	require.Regexp(t, `^31-[0-9a-f]{16}$`, string(head))
	v, err := live.Verify(ctx(t))
	require.NoError(t, err)
	assert.Equal(t, head, v.Head)
	assert.Equal(t, 29, v.Links)
	for _, h := range []Head{head, head[:11], v.Head} {
		lost, err := live.Holds(ctx(t), h)
		require.NoError(t, err)
		require.Nil(t, lost)
	}

	path := filepath.Join(t.TempDir(), "shop.db")
	require.NoError(t, backup(t, live, path))
	db := vandal(t, path)
	_, err = db.Exec(`DELETE FROM chain WHERE line = 29; DELETE FROM log WHERE id = 29; DELETE FROM run_cup`)
	require.NoError(t, err)
	restoreTriggers(t, db)
	require.NoError(t, db.Close())
	b, err := Open(ctx(t), path, options())
	require.NoError(t, err)
	defer b.Close()
	v, err = b.Verify(ctx(t))
	require.NoError(t, err)
	for _, p := range v.Problems {
		assert.NotContains(t, p.Where, "log")
	}
	lost, err := b.Holds(ctx(t), head)
	require.NoError(t, err)
	assert.Contains(t, lost.What, "was cut off")

	// Something else in its place has another link.
	_, err = b.PutClient(ctx(t), Client{Name: "Gull Boats"}, Refuse)
	require.NoError(t, err)
	lost, err = b.Holds(ctx(t), head)
	require.NoError(t, err)
	assert.Contains(t, lost.What, "was altered")
	for _, h := range []Head{"", "25", "x-aaaaaaaa", "25-abc"} {
		_, err := b.Holds(ctx(t), h)
		require.ErrorIs(t, err, ErrInvalid)
	}
}

// The head of an approval is of the line that logged it, whatever came after.
func TestHeadOfApproval(t *testing.T) {
	b := fullBench(t)
	a, err := b.Approval(ctx(t), "", "Harbour lamp / housing", 1)
	require.NoError(t, err)
	h, err := b.HeadOfApproval(ctx(t), a.Ref)
	require.NoError(t, err)
	assert.Regexp(t, "^24-", string(h))
	empty := newBench(t)
	h, err = empty.Head(ctx(t))
	require.NoError(t, err)
	assert.Empty(t, h)
}

// A bench of an older schema is linked as it is found, and from then on.
func TestOldBenchesAreLinked(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shop.db")
	oldBench(t, path, 4)
	b, err := Open(ctx(t), path, options())
	require.NoError(t, err)
	defer b.Close()
	lines, err := b.Log(ctx(t), LogFilter{})
	require.NoError(t, err)
	last := lines[len(lines)-1]
	assert.Equal(t, "log linked", last.Verb)
	v, err := b.Verify(ctx(t))
	require.NoError(t, err)
	assert.Equal(t, 1, v.Links)
	assert.Empty(t, v.Problems)
	_, err = b.PutClient(ctx(t), Client{Name: "Gull Boats"}, Refuse)
	require.NoError(t, err)
	verified(t, b)
}
