package archive

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// manyClients is a bundle of clients, the last of them with a second card.
func manyClients(t testing.TB, n int) []byte {
	t.Helper()
	from := newBench(t)
	require.NoError(t, from.Together(ctx(t), func(b *Bench) error {
		for i := range n {
			_, err := b.PutClient(ctx(t), Client{Name: fmt.Sprintf("client %d", i)}, Refuse)
			require.NoError(t, err)
		}
		_, err := b.PutClient(ctx(t), Client{Name: fmt.Sprintf("client %d", n-1), Note: "moved"}, Replace)
		return err
	}))
	return exported(t, from)
}

// What an import remembers of records does not grow with their number, and the log's
// link is over all of them.
func TestImportRemembersLittle(t *testing.T) {
	for _, n := range []int{200, 2000} {
		bundle := manyClients(t, n)
		to := newBench(t)
		var heard []int
		to.options.Progress = func(done, total int) {
			assert.Equal(t, n+1, total)
			heard = append(heard, done)
		}
		_, err := write(ctx(t), to, func(c *change) (int, error) {
			in := intake{change: c, base: map[string]int64{}, names: map[sum]*nameState{}, got: Imported{Added: map[string]int{}}}
			require.NoError(t, c.on.Defer(ctx(t), c.Tx))
			_, err := in.read(ctx(t), bytes.NewReader(bundle))
			require.NoError(t, err)
			assert.Equal(t, n+1, in.got.Added["client"])
			assert.Len(t, in.runs, 1)
			assert.Len(t, in.names, 2, "the two backings of a new bench")
			assert.LessOrEqual(t, cap(in.waiting), 2*mostWaiting)
			assert.Len(t, c.pending, 1)
			return 0, fmt.Errorf("enough")
		})
		require.ErrorContains(t, err, "enough")
		_, err = to.Import(ctx(t), bytes.NewReader(bundle), RefuseConflicts)
		require.NoError(t, err)
		assert.Equal(t, n+1, heard[len(heard)-1])
		assert.LessOrEqual(t, len(heard), n/mostWaiting+2)
		verified(t, to)
	}
}

// A record that cannot be stored is named by its line, though many are stored at once.
func TestImportNamesTheLine(t *testing.T) {
	var records []forged
	for i := range 2 * mostWaiting {
		records = append(records, forged{"client", "", fmt.Sprintf(`{"name":"client %d"}`, i)})
	}
	records[6].doc = `{"name":"client 6","note":"x"}`
	b := newBench(t)
	_, err := pool(b).Exec(`CREATE TRIGGER refuse BEFORE INSERT ON client_card WHEN NEW.doc LIKE '%note%' BEGIN SELECT RAISE(ABORT, 'no notes'); END`)
	require.NoError(t, err)
	_, err = b.Import(ctx(t), bytes.NewReader(forge(t, records...)), RefuseConflicts)
	require.ErrorContains(t, err, "line 8: client ")
	require.ErrorContains(t, err, "no notes")
}

// Many facts that have other numbers here are said in one line, few in one each.
func TestImportNumbersManyAnew(t *testing.T) {
	for n, lines := range map[int]int{3: 3, 101: 1} {
		from, to := newShop(t), newShop(t)
		to.options.Who = "bo"
		recipes := make([]Recipe, n)
		for i := range recipes {
			recipes[i] = Recipe{Resin: "CLR", Loadings: map[string]float64{"RD": 1 + float64(i)/1000}}
		}
		_, err := from.AddRecipes(ctx(t), recipes...)
		require.NoError(t, err)
		_, err = to.AddRecipes(ctx(t), recipes[:2]...)
		require.NoError(t, err)
		got, err := to.Import(ctx(t), bytes.NewReader(exported(t, from)), RefuseConflicts)
		require.NoError(t, err)
		require.Len(t, got.Numbered, lines)
		if n == 101 {
			assert.Equal(t, "recipe R2 to R102 are R4 to R104 here", strings.Join(got.Numbered, "\n"))
		}
		verified(t, to)
	}
}
