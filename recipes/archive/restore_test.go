package archive

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/recipes/archive/engine"
	"masstone/recipes/archive/sqlite"
)

// crashed makes a bench, a backup of it, and then changes that are in the log
// only, as a machine leaves them that dies. shop is its file, copied the backup.
func crashed(t testing.TB, changes int) (shop, copied string) {
	t.Helper()
	live, folder := fullBench(t), t.TempDir()
	shop, copied = filepath.Join(folder, "shop.db"), filepath.Join(folder, "copy.db")
	require.NoError(t, backup(t, live, copied))
	_, err := pool(live).Exec(`PRAGMA wal_checkpoint(TRUNCATE)`)
	require.NoError(t, err)
	for n := range changes {
		_, err := live.PutClient(ctx(t), Client{Name: "Tern Lighting", Note: fmt.Sprint("after the backup ", n)}, Replace)
		require.NoError(t, err)
	}
	for _, tail := range []string{"", "-wal"} {
		copyFile(t, shop+tail, live.Path()+tail)
	}
	return shop, copied
}

func noteOf(t testing.TB, path string) string {
	t.Helper()
	b, err := Open(ctx(t), path, options())
	require.NoError(t, err)
	verified(t, b)
	all, err := b.Clients(ctx(t))
	require.NoError(t, err)
	require.NoError(t, b.Close())
	return all[0].Note
}

// The log of the bench that was there is not replayed onto a copy that is put in
// its place by hand, and Restore then mends it.
func TestCopyOverABenchWithALog(t *testing.T) {
	for _, changes := range []int{1, 2, 12, 200} {
		shop, backup := crashed(t, changes)
		copyFile(t, shop, backup)
		_, err := Open(ctx(t), shop, options())
		require.ErrorIs(t, err, ErrDamaged, "%d changes", changes)
		assert.Contains(t, err.Error(), engine.RestoreVerb)
		assert.NotContains(t, err.Error(), "\n")
		done, err := Restore(ctx(t), shop, backup, options())
		require.NoError(t, err)
		assert.FileExists(t, done.Replaced+"-wal")
		assert.Equal(t, "Łódź, käme", noteOf(t, shop))
	}
}

// A file copied by other means than Backup has the mark of the bench: then the log
// may hold all that came after it, and what opens is the bench, whole.
func TestCopyWithoutBackup(t *testing.T) {
	for _, later := range []bool{false, true} {
		live, folder := fullBench(t), t.TempDir()
		shop := filepath.Join(folder, "shop.db")
		note := func(n int) {
			_, err := live.PutClient(ctx(t), Client{Name: "Tern Lighting", Note: fmt.Sprint("later ", n)}, Replace)
			require.NoError(t, err)
		}
		checkpoint := func() {
			_, err := pool(live).Exec(`PRAGMA wal_checkpoint(TRUNCATE)`)
			require.NoError(t, err)
		}
		checkpoint()
		copyFile(t, shop, live.Path())
		note(1)
		if later { // what the copy lacks is not in the log any more
			checkpoint()
			note(2)
		}
		copyFile(t, shop+"-wal", live.Path()+"-wal")
		if !later {
			assert.Equal(t, "later 1", noteOf(t, shop))
			continue
		}
		_, err := Open(ctx(t), shop, options())
		require.ErrorIs(t, err, ErrDamaged)
	}
}

func TestRestore(t *testing.T) {
	shop, backup := crashed(t, 3)
	whole, err := os.ReadFile(shop)
	require.NoError(t, err)
	log, err := os.ReadFile(shop + "-wal")
	require.NoError(t, err)
	done, err := Restore(ctx(t), shop, backup, options())
	require.NoError(t, err)
	assert.Equal(t, filepath.Join(filepath.Dir(shop), "shop.replaced.20260331T120000.db"), done.Replaced)
	assert.Positive(t, done.Records)
	kept, err := os.ReadFile(done.Replaced)
	require.NoError(t, err)
	assert.Equal(t, whole, kept)
	kept, err = os.ReadFile(done.Replaced + "-wal")
	require.NoError(t, err)
	assert.Equal(t, log, kept)
	assert.Equal(t, "Łódź, käme", noteOf(t, shop))
	assert.Equal(t, "after the backup 2", noteOf(t, done.Replaced), "what was replaced is whole, with its log")

	// Again: another name. And where there is no bench, none is replaced.
	again, err := Restore(ctx(t), shop, backup, options())
	require.NoError(t, err)
	assert.Contains(t, again.Replaced, "20260331T120000-2.db")
	fresh, err := Restore(ctx(t), filepath.Join(t.TempDir(), "new.db"), backup, options())
	require.NoError(t, err)
	assert.Empty(t, fresh.Replaced)

	// A bench that is no database any more is replaced as well.
	require.NoError(t, os.WriteFile(shop, []byte(strings.Repeat("gone", 5000)), 0o600))
	_, err = Restore(ctx(t), shop, backup, options())
	require.NoError(t, err)
	assert.Equal(t, "Łódź, käme", noteOf(t, shop))
	left, err := filepath.Glob(filepath.Join(filepath.Dir(shop), "*part*"))
	require.NoError(t, err)
	assert.Empty(t, left)
}

func TestRestoreRefuses(t *testing.T) {
	shop, backup := crashed(t, 1)
	before, err := os.ReadFile(shop)
	require.NoError(t, err)
	refused := func(backup string, is error, says string) {
		t.Helper()
		_, err := Restore(ctx(t), shop, backup, options())
		require.ErrorIs(t, err, is)
		assert.Contains(t, err.Error(), says)
		assert.NotContains(t, err.Error(), "\n")
		assert.NotContains(t, err.Error(), ".part")
		after, err := os.ReadFile(shop)
		require.NoError(t, err)
		assert.Equal(t, before, after)
		assert.FileExists(t, shop+"-wal")
		left, err := filepath.Glob(filepath.Join(filepath.Dir(shop), "*part*"))
		require.NoError(t, err)
		assert.Empty(t, left)
	}
	refused(filepath.Join(t.TempDir(), "none.db"), ErrNoBench, "no such file")
	refused(shop, ErrInvalid, "is the bench itself")
	text := filepath.Join(t.TempDir(), "chips.csv")
	require.NoError(t, os.WriteFile(text, []byte("chip,backing\n"), 0o600))
	refused(text, ErrNotBench, "chips.csv")
	hurt := altered(t, `UPDATE recipe SET doc = replace(doc, '1.02', '0.02')`)
	require.NoError(t, hurt.Close())
	refused(hurt.Path(), ErrDamaged, "recipe 1: its content was altered")
	mixed, older := crashed(t, 3) // a copy beside the log of another
	copyFile(t, mixed, older)
	refused(mixed, ErrDamaged, filepath.Base(mixed))

	// in use by another program
	b, err := Open(ctx(t), shop, options())
	require.NoError(t, err)
	_, err = b.PutPigment(ctx(t), Pigment{Code: "WH", CIName: "PW6"}, Replace)
	require.NoError(t, err)
	require.NoError(t, b.Close())
	cmd, lines := startChild(t, "import x 1000000", shop)
	for lines.Scan() && lines.Text() != "done 1" {
	}
	_, err = Restore(ctx(t), shop, backup, options())
	require.ErrorIs(t, err, ErrBusy)
	assert.Contains(t, err.Error(), "close it")
	require.NoError(t, cmd.Process.Kill())
	for lines.Scan() {
	}
	cmd.Wait()
	_, err = Restore(ctx(t), shop, backup, options())
	require.NoError(t, err)
}

// A backup of an older schema is restored as a bench of this one; the backup stays
// as it is.
func TestRestoreAnOldBackup(t *testing.T) {
	old, err := filepath.Abs(filepath.Join("testdata", "archives", "schema5.db"))
	require.NoError(t, err)
	before, err := os.ReadFile(old)
	require.NoError(t, err)
	shop, _ := crashed(t, 1)
	_, err = Restore(ctx(t), shop, old, options())
	require.NoError(t, err)
	assert.Equal(t, "Łódź, käme", noteOf(t, shop))
	after, err := os.ReadFile(old)
	require.NoError(t, err)
	assert.Equal(t, before, after)
	assert.Empty(t, beside(t, shop))

	// The same by hand, onto a log of this program: refused.
	shop, _ = crashed(t, 3)
	copyFile(t, shop, old)
	_, err = Open(ctx(t), shop, options())
	require.ErrorIs(t, err, ErrDamaged)
}

func TestBackupWithoutAName(t *testing.T) {
	_, err := newShop(t).Backup(ctx(t), "")
	require.EqualError(t, err, "backup: impossible value: the name of the file to write is empty; name a file")
}

// Programs that open the bench while a copy takes its place wait for that, and then
// work on the copy: what they are told is stored is there.
func TestOpenedWhileRestoring(t *testing.T) {
	var children []*exec.Cmd
	shop, backup := crashed(t, 3)
	var open sync.WaitGroup
	begin := func(name string) func() {
		return func() {
			cmd, lines := startChild(t, "import "+name+" 1", shop)
			children = append(children, cmd)
			ended := make(chan bool)
			open.Go(func() {
				for lines.Scan() {
				}
				close(ended)
			})
			select {
			case <-ended:
			case <-time.After(500 * time.Millisecond): // it waits, or is not that far yet
			}
		}
	}
	o := options()
	o.locked, o.renamed = begin("before"), begin("after")
	done, err := Restore(ctx(t), shop, backup, o)
	require.NoError(t, err)
	open.Wait()
	for _, c := range children {
		require.NoError(t, c.Wait())
	}
	assert.Equal(t, "Łódź, käme", noteOf(t, shop))
	assert.Equal(t, "after the backup 2", noteOf(t, done.Replaced))
	b, err := Open(ctx(t), shop, options())
	require.NoError(t, err)
	defer b.Close()
	for _, name := range []string{"before", "after"} {
		assert.Equal(t, map[int]bool{0: true}, changes(t, b, "import", name), name)
	}
}

// What goes wrong with a file that a copy took the place of while it was opened says
// nothing of the bench: the copy is opened.
func TestOpensTheCopyThatTookItsPlace(t *testing.T) {
	shop, copied := crashed(t, 0)
	old, err := filepath.Abs(filepath.Join("testdata", "archives", "schema5.db"))
	require.NoError(t, err)
	noLog := func() {
		for _, tail := range []string{"-wal", "-shm"} {
			os.Remove(shop + tail)
		}
	}
	noLog()
	copyFile(t, shop, old)
	tried := 0
	link := func(context.Context, *sql.Tx, engine.DB) error {
		tried++
		require.NoError(t, os.Rename(copied, shop))
		noLog()
		return errors.New("looks like damage")
	}
	db, err := sqlite.Open(ctx(t), shop, engine.Options{Wait: 10 * time.Second, Now: time.Now, Link: link})
	require.NoError(t, err)
	require.NoError(t, db.Close())
	require.Equal(t, 1, tried)
	assert.Equal(t, "Łódź, käme", noteOf(t, shop))
}

// Programs come and go while the bench is restored again and again: whatever they were
// told is stored is on the bench or on one that was kept, each of them whole.
func TestManyComeWhileRestoring(t *testing.T) {
	shop, backup := crashed(t, 3)
	const visiting, each = 2, 6
	var visitors sync.WaitGroup
	errs := make(chan error, visiting)
	for who := range visiting {
		cmd, lines := startChild(t, fmt.Sprintf("visit v%d %d", who, each*trials(2)), shop)
		visitors.Go(func() {
			for lines.Scan() {
			}
			errs <- cmd.Wait()
		})
	}
	gone := make(chan bool)
	go func() { visitors.Wait(); close(errs); close(gone) }()
	var restored, busy int
	for here := true; here; {
		select {
		case <-gone:
			here = false
		case <-time.After(time.Duration(rand.N(30)) * time.Millisecond):
		}
		if _, err := Restore(ctx(t), shop, backup, options()); errors.Is(err, ErrBusy) {
			busy++
		} else {
			require.NoError(t, err)
			restored++
		}
	}
	for err := range errs {
		require.NoError(t, err)
	}
	files, err := filepath.Glob(filepath.Join(filepath.Dir(shop), "shop*.db"))
	require.NoError(t, err)
	there := map[string]bool{}
	for _, path := range files {
		b, err := Open(ctx(t), path, options())
		require.NoError(t, err, path)
		verified(t, b)
		for who := range visiting {
			for i := range changes(t, b, "import", fmt.Sprint("v", who)) {
				there[fmt.Sprint(who, "-", i)] = true
			}
		}
		require.NoError(t, b.Close())
	}
	assert.Len(t, there, visiting*each*trials(2))
	t.Logf("%d restored, %d times in use", restored, busy)
}
