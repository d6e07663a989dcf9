package sqlite

import (
	"context"
	"database/sql"
	"fmt"
	"os"

	"masstone/recipes/archive/engine"
)

// readOnly opens a bench that cannot be written, such as one on read-only media,
// for reading. SQLite needs files beside a bench in write-ahead mode; told that
// the file does not change, it does without. It would not see a log then, so a
// log that holds anything is refused. why is what opening to write said.
func readOnly(ctx context.Context, abs, shown string, o engine.Options, why error) (*DB, error) {
	if lockedShared(abs) {
		return nil, why
	}
	if info, err := os.Stat(abs + "-wal"); err == nil && info.Size() > 0 {
		return nil, fmt.Errorf("%s: %w, and the file %s-wal beside it holds changes that only writing takes in; copy both to a folder that you can write to", shown, engine.ErrReadOnly, shown)
	}
	if _, err := os.ReadFile(abs); err != nil {
		return nil, why
	}
	db, err := sql.Open("sqlite", DSN(abs, o.Wait, "mode=ro", "immutable=1"))
	if err != nil {
		return nil, fmt.Errorf("bench %s: %w", shown, err)
	}
	version, newest, err := schema(ctx, db)
	switch {
	case err != nil:
		err = explain(shown, err)
	case version > 0 && version < newest:
		err = fmt.Errorf("%s: %w here, and is of an older program; copy it to a folder that you can write to, to be brought to this one", shown, engine.ErrReadOnly)
	default:
		err = engine.Fits(version, newest, shown, false)
	}
	if err != nil {
		db.Close()
		return nil, err
	}
	return &DB{db: db, path: shown, fixed: true}, nil
}

// lockedShared tells whether the file of shared memory beside a bench is there and
// read-only.
func lockedShared(abs string) bool {
	info, err := os.Stat(abs + "-shm")
	return err == nil && info.Mode().Perm()&0o222 == 0
}

// freeShared removes a read-only file of shared memory that a killed program left,
// if nobody has the bench open: it holds nothing.
func freeShared(abs string) {
	if !lockedShared(abs) {
		return
	}
	if lock, err := lockAll(abs); err == nil {
		os.Remove(abs + "-shm")
		lock.Close()
	}
}
