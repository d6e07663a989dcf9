package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"masstone/recipes/archive/engine"
)

// Open opens the bench at path, or makes it. One of an older schema is copied to a
// file beside it and migrated first.
func Open(ctx context.Context, path string, o engine.Options) (engine.DB, error) {
	info, err := os.Stat(path)
	switch {
	case o.Create:
	case errors.Is(err, os.ErrNotExist):
		return nil, fmt.Errorf("%s: %w here; make one with %s", path, engine.ErrNoBench, engine.InitVerb(path))
	case err != nil:
		return nil, fmt.Errorf("bench %w", err)
	case info.IsDir():
		return nil, fmt.Errorf("%s: %w: it is a folder; name a file in it", path, engine.ErrNotBench)
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("bench %s: %w", path, err)
	}
	// Of programs that start at once two may each hold what the other needs, to
	// begin the log or to migrate; SQLite refuses one of them without waiting. The
	// one refused lets go of all it holds, waits a random time, longer on average
	// than before, and begins again.
	end, pause := time.Now().Add(o.Wait), 40*time.Millisecond
	for {
		before, _ := os.Stat(abs) // nothing yet where it is to be made
		f, err := attempt(ctx, abs, path, o)
		if errors.Is(err, engine.ErrReadOnly) && !o.Create {
			f, err = readOnly(ctx, abs, path, o, err)
		}
		if err == nil && !o.Create && !o.Damaged {
			if err = f.sound(ctx); err != nil {
				f.Close()
			}
		}
		// Who waited for a file that a copy took the place of meanwhile has it beside the
		// log of the copy, which looks like damage.
		if err != nil && before != nil {
			if moved := unmoved(abs, path, before); moved != nil {
				err = moved
			}
		}
		switch {
		case err == nil:
			return f, nil
		case !errors.Is(err, engine.ErrBusy) || time.Now().After(end):
			return nil, err
		}
		select {
		case <-ctx.Done():
			return nil, ctx.Err()
		case <-time.After(rand.N(pause)):
		}
		pause = min(2*pause, time.Second)
	}
}

// attempt opens once; the error is ErrBusy where another program is in the way.
func attempt(ctx context.Context, abs, path string, o engine.Options) (*DB, error) {
	freeShared(abs)
	if err := ownLog(ctx, abs, path); err != nil {
		return nil, err
	}
	if err := migrate(ctx, abs, path, o); err != nil {
		return nil, err
	}
	there, err := os.Stat(abs)
	if err != nil {
		return nil, fmt.Errorf("bench %w", err)
	}
	db, err := sql.Open("sqlite", DSN(abs, o.Wait, "mode=rw", "_txlock=immediate", "_pragma=journal_mode(WAL)"))
	if err != nil {
		return nil, fmt.Errorf("bench %s: %w", path, err)
	}
	db.SetMaxOpenConns(8) // each has a page cache of its own
	if err := db.PingContext(ctx); err != nil {
		db.Close()
		return nil, explain(path, err)
	}
	if err := unmoved(abs, path, there); err != nil {
		db.Close()
		return nil, err
	}
	return Over(db, path), nil
}

// sound has SQLite check every page of the file, and every index against its
// table, before anything that is read of it is believed: records have checksums,
// an index has none, and a fault there would hide a record without a word. It
// takes some 12 microseconds a record. What is damaged is refused.
func (f *DB) sound(ctx context.Context) error {
	var first string
	err := f.db.QueryRowContext(ctx, `PRAGMA integrity_check(1)`).Scan(&first)
	switch {
	case err != nil:
		return f.Explain(err)
	case first != "ok":
		return fmt.Errorf("%s: %w (%s); %s, or save the rest with %s", f.path, engine.ErrDamaged, strings.Join(strings.Fields(first), " "), engine.KeepFile, engine.RestVerb)
	}
	return nil
}

// absolute is a path as DSN takes it; the working folder is known if a file in it
// was just written.
func absolute(path string) string {
	if abs, err := filepath.Abs(path); err == nil {
		return abs
	}
	return path
}

// DSN is what database/sql opens the file at abs by. It carries the pragmas, so that
// every pooled connection has them.
// recursive_triggers makes INSERT OR REPLACE fire the triggers that forbid
// deleting. The pragmas in more come first: the locking mode counts only if
// nothing was read from the file before, and the others read from it.
func DSN(abs string, wait time.Duration, mode string, more ...string) string {
	slashed := filepath.ToSlash(abs)
	if !strings.HasPrefix(slashed, "/") { // C:/... on Windows
		slashed = "/" + slashed
	}
	query := append([]string{mode, fmt.Sprintf("_busy_timeout=%d", wait.Milliseconds()), "_dqs=0", "_error_rc=1"}, more...)
	query = append(query, "_pragma=foreign_keys(1)", "_pragma=recursive_triggers(1)", "_pragma=synchronous(FULL)")
	return (&url.URL{Scheme: "file", Path: slashed, RawQuery: strings.Join(query, "&")}).String()
}
