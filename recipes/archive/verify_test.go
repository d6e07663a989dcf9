package archive

import (
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/recipes/archive/engine"
	"masstone/recipes/archive/sqlite"
)

// vandal opens the file of a closed bench without its triggers.
func vandal(t testing.TB, path string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+path+"?_pragma=synchronous(OFF)")
	require.NoError(t, err)
	db.SetMaxOpenConns(1)
	var drop []string
	require.NoError(t, engine.EachRow(ctx(t), db, func(rows *sql.Rows) error {
		var name string
		err := rows.Scan(&name)
		drop = append(drop, name)
		return err
	}, `SELECT name FROM sqlite_schema WHERE type = 'trigger'`))
	_, err = db.Exec("BEGIN; DROP TRIGGER " + strings.Join(drop, "; DROP TRIGGER ") + "; COMMIT")
	require.NoError(t, err)
	return db
}

// restoreTriggers puts back the triggers of the schema.
func restoreTriggers(t testing.TB, db *sql.DB) {
	t.Helper()
	made, _, err := new(sqlite.DB).Schema(ctx(t), db)
	require.NoError(t, err)
	again := []string{"BEGIN"}
	for name, text := range made {
		if strings.HasPrefix(name, "trigger ") {
			again = append(again, text)
		}
	}
	_, err = db.Exec(strings.Join(append(again, "COMMIT"), ";"))
	require.NoError(t, err)
}

func TestVerifyFindsDamage(t *testing.T) {
	if underRace {
		t.Skip("one thing after the other; run without -race")
	}
	for _, c := range []struct{ name, sql, where, what string }{
		{"an approved recipe is altered", `UPDATE recipe SET doc = json_set(doc, '$.loadings.RD', 0.22)`, "recipe 1", "its content was altered"},
		{"an approval is altered", `UPDATE approval SET doc = json_set(doc, '$.note', 'x') WHERE id = 1`, "approval 1 (Tern Lighting / Harbour lamp / housing)", "its content was altered"},
		{"a stamp is altered", `UPDATE pour SET who = 'bo' WHERE id = 1`, "pour 1", "its content was altered"},
		{"a record is deleted", `DELETE FROM pour_reading`, "log line 19 (pour read P1)", "pour reading 1, which it stored, is missing"},
		{"the last lot is deleted", `DELETE FROM lot_card WHERE id = 3; DELETE FROM lot WHERE name = 'K-9'`, "log line 12 (lot added resin / CLR / K-9)", "lot 3, which it stored, is missing"},
		{"the last approval is deleted", `DELETE FROM approval_pour WHERE approval = 2; DELETE FROM approval WHERE id = 2`, "log line 25 (approved", "approval 2, which it stored, is missing"},
		{"a record is added", `INSERT INTO client_card (prev, sum, doc, at, who, program) SELECT '', 'x', '{"name":"Gull"}', at, who, program FROM client_card WHERE id = 1`, "client 3", "1 records from it on were stored without a line"},
		{"a log line is deleted", `DELETE FROM log WHERE id = 3`, "log", "lines 3 to 3 are missing"},
		{"a log line is edited", `UPDATE log SET who = 'bo' WHERE id = 3`, "log line 3", "was altered"},
		{"a log line is put in", `INSERT INTO log (at, who, program, verb, subject, detail) SELECT at, who, program, verb, subject, detail FROM log WHERE id = 3`, "log line 36", "it has no link"},
		{"the last log line is deleted", `DELETE FROM chain WHERE line = 33; DELETE FROM log WHERE id = 33`, "run cup 1", "stored without a line"},
		{"a planned chip is hidden", `DELETE FROM plan_chip WHERE name = 'resin-black'`, "plan_chip", "1 rows missing"},
		{"a link is altered", `UPDATE chain SET link = replace(link, 'a', 'b') WHERE line = 7`, "log line 7", "was altered"},
		{"what a line stored is altered", `UPDATE chain SET upto = '{}' WHERE line = 9`, "log line 9", "was altered"},
		{"the chain is lost", `DELETE FROM chain`, "log line 1", "it has no link"},
		{"a card is deleted", `DELETE FROM client_card WHERE id = 1`, "client 2 (Tern Lighting)", "records 1 to 1 are missing"},
		{"a chip is deleted", `DELETE FROM chip_card WHERE id = 1`, "calibration_chip row", "refers to a row of chip_card"},
		{"a loading is altered", `UPDATE recipe_loading SET phr = 3 WHERE pigment = 'RD'`, "recipe_loading", "1 rows missing, 1 too many"},
		{"a colour is altered", `UPDATE color SET l = 3 WHERE id = 1`, "color", "1 rows missing, 1 too many"},
		{"the words are lost", `DELETE FROM word_index`, "word_index", "rows missing"},
		{"a block is made up", `INSERT INTO color_block (light, upto, data) VALUES (1, 2, x'00')`, "color_block of light 1 up to 2", "disagrees"},
		{"a chain is broken", `UPDATE resin_card SET prev = 'x'`, "resin 1 (CLR)", "supersedes"},
		{"a trigger is added", `CREATE TRIGGER sly AFTER INSERT ON log BEGIN SELECT 1; END`, "trigger sly", "not part of the schema"},
		{"an index is lost", `DROP INDEX recipe_at`, "index recipe_at", "missing or altered"},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "shop.db")
			require.NoError(t, os.WriteFile(path, fullBytes(t), 0o600))
			db := vandal(t, path)
			_, err := db.Exec(c.sql)
			require.NoError(t, err)
			restoreTriggers(t, db)
			require.NoError(t, db.Close())
			b, err := Open(ctx(t), path, options())
			require.NoError(t, err)
			defer b.Close()
			v, err := b.Verify(ctx(t))
			require.NoError(t, err)
			found := false
			for _, p := range v.Problems {
				found = found || (strings.HasPrefix(p.Where, c.where) && strings.Contains(p.What, c.what) && p.Do != "")
			}
			assert.True(t, found, "%v", v.Problems)
		})
	}
	t.Run("the triggers are lost", func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "shop.db")
		require.NoError(t, os.WriteFile(path, fullBytes(t), 0o600))
		require.NoError(t, vandal(t, path).Close())
		b, err := Open(ctx(t), path, options())
		require.NoError(t, err)
		defer b.Close()
		v, err := b.Verify(ctx(t))
		require.NoError(t, err)
		assert.Greater(t, len(v.Problems), 50)
	})
}

// A card that is whole in itself, yet made from the card of another name, is a
// broken chain.
func TestVerifyFindsAChainIntoAnotherName(t *testing.T) {
	master := fullBench(t)
	sums := map[string]string{}
	for _, code := range []string{"WH", "RD"} {
		p, err := master.Pigment(ctx(t), code)
		require.NoError(t, err)
		sums[code] = p.Ref
	}
	for code, prev := range sums {
		path := filepath.Join(t.TempDir(), "shop.db")
		require.NoError(t, backup(t, master, path))
		db := vandal(t, path)
		s := stored{prev: prev, doc: `{"code":"WH","note":"new"}`, at: noon.Format(stampLayout), who: "bo", program: "p"}
		_, err := db.Exec("INSERT INTO pigment_card (prev, sum, doc, at, who, program) VALUES (?, ?, ?, ?, ?, ?)", s.prev, s.digest(kindPigment.name), s.doc, s.at, s.who, s.program)
		require.NoError(t, err)
		restoreTriggers(t, db)
		require.NoError(t, db.Close())
		b, err := Open(ctx(t), path, options())
		require.NoError(t, err)
		v, err := b.Verify(ctx(t))
		require.NoError(t, err)
		require.NoError(t, b.Close())
		last := len(v.Problems) - 1
		assert.Equal(t, "1 records from it on were stored without a line in the log", v.Problems[last].What)
		if code == "WH" { // the next card of its own name
			assert.Zero(t, last)
			continue
		}
		require.Equal(t, 1, last)
		assert.Equal(t, "pigment 4 (WH)", v.Problems[0].Where)
		assert.Contains(t, v.Problems[0].What, "the record it supersedes")
	}
}

func TestBackup(t *testing.T) {
	b := fullBench(t)
	folder := t.TempDir()
	path := filepath.Join(folder, "copy of shop.db")
	done := make(chan error)
	go func() { // the bench stays in use
		var err error
		for n := 0; n < 20 && err == nil; n++ {
			_, err = b.PutClient(ctx(t), Client{Name: "Tern Lighting", Note: string(rune('a' + n))}, Replace)
		}
		done <- err
	}()
	require.NoError(t, backup(t, b, path))
	require.NoError(t, <-done)
	require.ErrorIs(t, backup(t, b, path), ErrExists)
	require.Error(t, backup(t, b, filepath.Join(folder, "none", "x.db")))
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	require.Len(t, left, 1, "no half copies lie about")
	copied, err := Open(ctx(t), path, options())
	require.NoError(t, err)
	defer copied.Close()
	verified(t, copied)
	r, err := copied.Recipe(ctx(t), "R1")
	require.NoError(t, err)
	assert.Equal(t, 0.93, r.Chance)
}
