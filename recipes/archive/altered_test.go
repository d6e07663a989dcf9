package archive

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// altered copies a full bench, changes it behind the program's back, and opens
// it.
func altered(t testing.TB, change string) *Bench {
	t.Helper()
	path := filepath.Join(t.TempDir(), "shop.db")
	require.NoError(t, os.WriteFile(path, fullBytes(t), 0o600))
	db := vandal(t, path)
	_, err := db.Exec(change)
	require.NoError(t, err)
	restoreTriggers(t, db)
	require.NoError(t, db.Close())
	b, err := Open(ctx(t), path, options())
	require.NoError(t, err)
	t.Cleanup(func() { b.Close() })
	return b
}

// A record of any kind that is not what was stored is refused wherever it is
// read, in a line that names it and says what to do.
func TestAlteredRecordsAreRefused(t *testing.T) {
	if underRace {
		t.Skip("one thing after the other; run without -race")
	}
	names := map[string]string{"recipe": "recipe R1", "batch": "batch B1", "pour": "pour P1", "chip": `chip 1 ("CLR / WH-01")`,
		"pigment": `pigment 1 ("WH")`, "approval": `approval 1 ("Tern Lighting / Harbour lamp / housing")`}
	for _, k := range kinds() {
		for what, set := range map[string]string{
			"content": `doc = json_insert(doc, '$.note2', 'x')`, "stamp": `who = 'bo'`, "sum": `sum = upper(sum)`, "chain": `prev = 'x'`,
		} {
			b := altered(t, "UPDATE "+k.table+" SET "+set+" WHERE id = 1")
			_, err := read(ctx(t), b, func(tx *snapshot) (int, error) {
				var s stored
				err := tx.QueryRow("SELECT " + storedColumns + " FROM " + k.table + " WHERE id = 1").Scan(s.targets()...)
				require.NoError(t, err)
				return 0, s.open(k, k.fresh())
			})
			require.ErrorIs(t, err, ErrDamaged, "%s: %s", k.name, what)
			assert.Contains(t, err.Error(), names[k.name], "%s: %s", k.name, what)
			assert.Contains(t, err.Error(), "restore", "%s: %s", k.name, what)
			assert.NotContains(t, err.Error(), "\n")
			_, err = b.Export(ctx(t), new(bytes.Buffer))
			require.ErrorIs(t, err, ErrDamaged, "%s: %s", k.name, what)
		}
	}
}

// What a person asks for is refused: a recipe with another loading, a chip that
// is made to look withdrawn, a card that a new one would supersede, a colour
// that is not of the recipe.
func TestAlteredRecordsReachNobody(t *testing.T) {
	recipe := `UPDATE recipe SET doc = replace(doc, '1.02', '0.02')`
	for _, c := range []struct {
		name, sql string
		verb      func(*Bench) error
	}{
		{"recipe", recipe, func(b *Bench) error { _, err := b.Recipe(ctx(t), "R1"); return err }},
		{"recipes found", recipe, func(b *Bench) error { _, err := b.Find(ctx(t), FindQuery{Words: "harbour"}); return err }},
		{"recipes near", recipe, func(b *Bench) error { _, err := b.Nearest(ctx(t), NearestQuery{Lab: lab(61, 39, 21)}); return err }},
		{"approve", recipe, func(b *Bench) error {
			var ref string
			require.NoError(t, pool(b).QueryRow(`SELECT sum FROM recipe`).Scan(&ref))
			_, err := b.Approve(ctx(t), Approval{Recipe: ref})
			return err
		}},
		{"withdrawn chip", `UPDATE chip_card SET doc = json_set(doc, '$.withdrawn', 'bubble') WHERE id = 1`,
			func(b *Bench) error { _, err := b.Chips(ctx(t), "CLR"); return err }},
		{"superseding", `UPDATE pigment_card SET doc = json_set(doc, '$.note', 'x') WHERE id = 1`,
			func(b *Bench) error {
				_, err := b.PutPigment(ctx(t), Pigment{Code: "WH", Density: 2}, Replace)
				return err
			}},
		{"near", `UPDATE color SET l = 20 WHERE approved = 0`,
			func(b *Bench) error { _, err := b.Nearest(ctx(t), NearestQuery{Lab: lab(20, 39, 21)}); return err }},
		{"near, approved", `UPDATE color SET l = 20 WHERE approved = 1`,
			func(b *Bench) error {
				_, err := b.Nearest(ctx(t), NearestQuery{Lab: lab(20, 39, 21), Approved: true})
				return err
			}},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := c.verb(altered(t, c.sql))
			require.ErrorIs(t, err, ErrDamaged)
			assert.Contains(t, err.Error(), "restore")
			assert.Equal(t, 1, len(strings.Split(err.Error(), "\n")))
		})
	}
}
