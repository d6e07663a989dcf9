package archive

import (
	"database/sql"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/recipes/archive/engine"
	"masstone/recipes/archive/sqlite"
)

// oldBench makes a bench of an older schema with what that schema holds: from
// version 2 on the chips of twoChips and a calibration, from 3 on a target and
// 300 recipes.
func oldBench(t testing.TB, path string, version int64) {
	t.Helper()
	db, err := sql.Open("sqlite", sqlite.DSN(path, time.Second, "mode=rwc", "_txlock=immediate", "_pragma=journal_mode(WAL)"))
	require.NoError(t, err)
	steps, err := sqlite.Steps(db, engine.Options{})
	require.NoError(t, err)
	_, err = steps.UpTo(ctx(t), version)
	require.NoError(t, err)
	// Today's verbs link the log, which the old schema knows nothing of.
	_, err = db.Exec(`CREATE TABLE chain (line INTEGER, upto TEXT, link TEXT); INSERT INTO chain VALUES (0, '{}', '')`)
	require.NoError(t, err)
	b := benchOn(sqlite.Over(db, path), path, options())
	_, err = b.PutResin(ctx(t), clear100(), Refuse)
	require.NoError(t, err)
	_, err = b.ImportPigments(ctx(t), threePigments())
	require.NoError(t, err)
	if version >= 2 {
		_, err = b.ImportChips(ctx(t), "CLR", twoChips(), Refuse)
		require.NoError(t, err)
		_, err = b.AddCalibration(ctx(t), Calibration{Resin: "CLR", Document: []byte(`{}`)})
		require.NoError(t, err)
	}
	if version >= 3 {
		_, err = b.PutTarget(ctx(t), housing(), Refuse)
		require.NoError(t, err)
		_, err = write(ctx(t), b, func(c *change) (int, error) {
			for n := range 300 {
				r := Recipe{Resin: "CLR", Client: "Tern Lighting", Target: "Harbour lamp / housing", Loadings: map[string]float64{"WH": 1, "RD": float64(n) / 100},
					Predicted: []Lab{lab(61, float64(n)/10, 20)}}
				r.Number = int64(n + 1)
				if err := c.insert(ctx(t), kindRecipe, "", &r); err != nil {
					return 0, err
				}
			}
			c.colored = false // nothing to pack into yet
			return 0, nil
		})
		require.NoError(t, err)
	}
	_, err = db.Exec(`DROP TABLE chain; PRAGMA user_version = 0`)
	require.NoError(t, err)
	require.NoError(t, db.Close())
}

// newestSchema is the number of the last migration there is.
func newestSchema(t testing.TB) int {
	t.Helper()
	files, err := sqlite.Migrations.ReadDir("migrations")
	require.NoError(t, err)
	newest := 7 // is no file
	for _, f := range files {
		n, err := strconv.Atoi(strings.SplitN(f.Name(), "_", 2)[0])
		require.NoError(t, err)
		newest = max(newest, n)
	}
	return newest
}

func beside(t testing.TB, path string) []string {
	t.Helper()
	files, err := filepath.Glob(strings.TrimSuffix(path, ".db") + ".schema*")
	require.NoError(t, err)
	return files
}

func TestOldBenchesAreCopiedAndMigrated(t *testing.T) {
	for version := int64(1); version <= 4; version++ {
		path := filepath.Join(t.TempDir(), "shop.db")
		oldBench(t, path, version)
		b, err := Open(ctx(t), path, options())
		require.NoError(t, err)
		verified(t, b)
		chips, err := b.Chips(ctx(t), "CLR")
		require.NoError(t, err)
		near, err := b.Nearest(ctx(t), NearestQuery{Lab: lab(61, 3.1, 20), Limit: 1})
		require.NoError(t, err)
		found, err := b.Find(ctx(t), FindQuery{Words: "harbour"})
		require.NoError(t, err)
		if version >= 2 {
			assert.Len(t, chips, 2)
		}
		if version >= 3 {
			require.Len(t, near, 1)
			assert.Equal(t, "R32", near[0].Recipe.ID(), "recipes stored before colours were indexed are found")
			assert.Len(t, found, 100)
		}
		require.NoError(t, b.Close())

		copies := beside(t, path)
		require.Len(t, copies, 1)
		assert.Contains(t, copies[0], "schema"+string(rune('0'+version))+".20260331T120000.db")
		held, newest, err := sqlite.Version(ctx(t), copies[0], time.Second, "mode=rw")
		require.NoError(t, err)
		assert.Equal(t, int(version), held, "the copy is the bench as it was")
		assert.Equal(t, newestSchema(t), newest)
		// The copy is a bench in its own right.
		k, err := Open(ctx(t), copies[0], options())
		require.NoError(t, err)
		verified(t, k)
		require.NoError(t, k.Close())

		// Opening again needs no copy.
		b, err = Open(ctx(t), path, options())
		require.NoError(t, err)
		require.NoError(t, b.Close())
		assert.Len(t, beside(t, path), 2) // the other is of the copy
	}
}

// A bench that has a newer step and lacks an older one is brought to this schema.
func TestSkippedStepIsTaken(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shop.db")
	oldBench(t, path, 4)
	db, err := sql.Open("sqlite", sqlite.DSN(path, time.Second, "mode=rw"))
	require.NoError(t, err)
	steps, err := sqlite.Steps(db, engine.Options{})
	require.NoError(t, err)
	_, err = steps.ApplyVersion(ctx(t), int64(newestSchema(t)), true)
	require.NoError(t, err)
	require.NoError(t, db.Close())
	held, _, err := sqlite.Version(ctx(t), path, time.Second, "mode=rw")
	require.NoError(t, err)
	assert.Equal(t, 4, held)
	b, err := Open(ctx(t), path, options())
	require.NoError(t, err)
	defer b.Close()
	verified(t, b)
	found, err := b.Find(ctx(t), FindQuery{Words: "harbour"})
	require.NoError(t, err)
	assert.Len(t, found, 100)
}

func TestNewerBenchIsRefused(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shop.db")
	b, err := Create(ctx(t), path, options())
	require.NoError(t, err)
	newest := newestSchema(t)
	_, err = pool(b).Exec(`INSERT INTO goose_db_version (version_id, is_applied) VALUES (?, 1)`, newest+1)
	require.NoError(t, err)
	require.NoError(t, b.Close())
	before, err := os.ReadFile(path)
	require.NoError(t, err)
	_, err = Open(ctx(t), path, options())
	require.ErrorIs(t, err, ErrNewer)
	assert.EqualError(t, err, fmt.Sprintf("%s: made by a newer program: it has schema %d and this program knows %d; use the newer program", path, newest+1, newest))
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, before, after, "the file is left alone")
}

func TestOtherProgramsFilesAreLeftAlone(t *testing.T) {
	path := filepath.Join(t.TempDir(), "other.db")
	db, err := sql.Open("sqlite", "file:"+path)
	require.NoError(t, err)
	_, err = db.Exec(`CREATE TABLE tunes (name TEXT)`)
	require.NoError(t, err)
	require.NoError(t, db.Close())
	before, err := os.ReadFile(path)
	require.NoError(t, err)
	_, err = Open(ctx(t), path, options())
	require.ErrorIs(t, err, ErrNotBench)
	_, err = Create(ctx(t), path, options())
	require.ErrorIs(t, err, ErrExists)
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, before, after)

	empty := filepath.Join(t.TempDir(), "empty.db")
	require.NoError(t, os.WriteFile(empty, nil, 0o600))
	_, err = Open(ctx(t), empty, options())
	require.ErrorIs(t, err, ErrNotBench)
	b, err := Create(ctx(t), empty, options())
	require.NoError(t, err)
	require.NoError(t, b.Close())
}

// A bench that is open elsewhere is not migrated under it.
func TestMigrationWaitsForOthers(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shop.db")
	oldBench(t, path, 4)
	db, err := sql.Open("sqlite", sqlite.DSN(path, time.Second, "mode=rw", "_pragma=journal_mode(WAL)"))
	require.NoError(t, err)
	other := benchOn(sqlite.Over(db, path), path, options()) // as an older program would have it
	_, err = other.Resins(ctx(t))
	require.NoError(t, err)
	short := options()
	short.Wait = 200 * time.Millisecond
	_, err = Open(ctx(t), path, short)
	require.ErrorIs(t, err, ErrBusy)
	version, _, err := sqlite.Version(ctx(t), path, time.Second, "mode=rw")
	require.NoError(t, err)
	assert.Equal(t, 4, version)
	require.NoError(t, other.Close())
	b, err := Open(ctx(t), path, options())
	require.NoError(t, err)
	require.NoError(t, b.Close())
}

var keep = flag.Bool("keep", false, "write the archive of this schema to testdata")

const keptApproval = "592947cd7bdb49c772dbe5a86a85572c554d85efdfa0ca0e46009b56a36f532a"

// keep writes the archive of this schema to testdata, for later programs to
// open: go test -run TestKeptArchives -keep
func TestKeptArchives(t *testing.T) {
	kept := filepath.Join("testdata", "archives", fmt.Sprintf("schema%d.db", newestSchema(t)))
	if *keep {
		require.NoError(t, os.MkdirAll(filepath.Dir(kept), 0o755))
		b := newBench(t)
		fill(t, b)
		fillLater(t, b)
		fillNow(t, b)
		fillLinks(t, b)
		require.NoError(t, backup(t, b, kept))
	}
	files, err := filepath.Glob(filepath.Join("testdata", "archives", "*.db"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, file := range files {
		whole, err := os.ReadFile(file)
		require.NoError(t, err)
		path := filepath.Join(t.TempDir(), filepath.Base(file))
		require.NoError(t, os.WriteFile(path, whole, 0o600))
		b, err := Open(ctx(t), path, options())
		require.NoError(t, err)
		verified(t, b)
		a, err := b.Approval(ctx(t), "Tern Lighting", "Harbour lamp / housing", 1)
		require.NoError(t, err)
		assert.Equal(t, keptApproval, a.Ref, "the checksum of an approval is for good")
		assert.Equal(t, []Lab{lab(61, 39, 21)}, a.Colors)
		// Today's program writes the same documents, or old cards would count as changed.
		k := newBench(t)
		fill(t, k)
		switch filepath.Base(file) {
		case "schema5.db", "schema7.db":
			_, err := b.Plans(ctx(t), "")
			require.NoError(t, err, "a bench from before plans has none")
		case "schema9.db":
			fillLater(t, k)
			none, err := b.Equipment(ctx(t), Scale)
			require.NoError(t, err)
			assert.Empty(t, none)
		default:
			fillLater(t, k)
			fillNow(t, k)
			if filepath.Base(file) != "schema10.db" {
				fillLinks(t, k)
			}
		}
		assert.Equal(t, checksum(t, k), checksum(t, b))
		require.NoError(t, b.Close())
	}
}
