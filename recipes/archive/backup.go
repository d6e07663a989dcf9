package archive

import (
	"context"
	"fmt"

	"masstone/color/remedy"
	"masstone/recipes/archive/engine"
	"masstone/recipes/archive/sqlite"
)

// Backup writes a copy of the bench, as of one moment, to path while the bench
// stays in use. The copy is complete and synced when Backup returns; path must
// not exist yet, and never holds half a copy.
//
// To go back to a copy, Restore it, or open it where it is.
// It returns the head of the copy's log, which may be newer than the bench's was.
func (b *Bench) Backup(ctx context.Context, path string) (head Head, err error) {
	if path == "" {
		return "", fmt.Errorf("backup: %w: the name of the file to write is empty; name a file", ErrInvalid)
	}
	err = b.on.Backup(ctx, path, func(q engine.Queryer) error {
		head, err = headAt(ctx, q, newestLink)
		return err
	})
	return head, err
}

// A Restored says what Restore did.
type Restored struct {
	Checked         // what the backup holds
	Replaced string // where the bench that was there is now; empty if none was
}

// Restore puts a copy of a backup in the place of the bench at path. The copy is
// checked as Verify does before anything is touched: if it has problems they are
// in the answer and the error is ErrDamaged. A bench in use is refused with
// ErrBusy. What is replaced, with its write-ahead log, is kept beside it under
// the name in the answer.
func Restore(ctx context.Context, path, backup string, o Options) (done Restored, err error) {
	if InDatabase(path) {
		return done, engine.NotFile("restore", Shown(path), "restored by pg_restore")
	}
	o.fill()
	check := func(copied string) error {
		o.spare = true
		b, err := open(ctx, copied, o, false)
		if err != nil && sqlite.BeginsWith(backup, bundleStart) {
			return fmt.Errorf("%w: it is a bundle that %s wrote; %s takes it in", ErrNotBench, remedy.Verb("export"), remedy.Verb("import", backup))
		}
		if err != nil {
			return err
		}
		defer b.Close()
		done.Checked, err = b.Verify(ctx)
		if n := len(done.Problems); err == nil && n > 0 {
			err = fmt.Errorf("%w: %d problems found, the first is %s: %s; name another backup, nothing was changed", ErrDamaged, n, done.Problems[0].Where, done.Problems[0].What)
		}
		return err
	}
	done.Replaced, err = sqlite.Restoring{Path: path, Backup: backup, Now: o.Now(), Check: check, Locked: o.locked, Renamed: o.renamed}.Do(ctx)
	return done, err
}

// bundleStart is how a bundle begins.
const bundleStart = `{"bundle":"masstone"`
