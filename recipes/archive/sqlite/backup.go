package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"masstone/recipes/archive/engine"
	"masstone/recipes/outfile"
)

// Backup writes a copy, which is complete and synced when it returns; path must not
// exist yet, and never holds half a copy.
func (f *DB) Backup(ctx context.Context, path string, look func(engine.Queryer) error) error {
	err := copyTo(ctx, f.db, path)
	var full *sqlite.Error
	switch {
	case err == nil:
		return lookAt(absolute(path), look)
	case errors.Is(err, os.ErrExist):
		return fmt.Errorf("backup %s: %w; name a new file", path, engine.ErrExists)
	case errors.As(err, &full) && full.Code()&0xff == sqlite3.SQLITE_FULL:
		return fmt.Errorf("backup %w", explain(path, err)) // no fault of the bench
	}
	return fmt.Errorf("backup %w", f.Explain(err))
}

// lookAt lets look see a file that nobody writes to.
func lookAt(abs string, look func(engine.Queryer) error) error {
	db, err := sql.Open("sqlite", DSN(abs, 0, "mode=ro", "immutable=1"))
	if err != nil {
		return err
	}
	defer db.Close()
	return look(db)
}

// copyTo writes a compact copy of db to path, which must be free: os.ErrExist
// otherwise.
func copyTo(ctx context.Context, db *sql.DB, path string) error {
	if _, err := os.Lstat(path); err == nil {
		return os.ErrExist
	}
	for _, end := range []string{"-wal", "-journal"} { // SQLite would take it for the copy's own
		if _, err := os.Lstat(path + end); err == nil {
			return fmt.Errorf("%s: %s%s lies there, of a bench that is gone; name a new file, or remove that one", path, filepath.Base(path), end)
		}
	}
	err := outfile.File{Path: path, Owner: true}.WriteTo(func(part string) error {
		// VACUUM INTO accepts an existing file only if it is empty.
		if _, err := db.ExecContext(ctx, `VACUUM INTO ?`, part); err != nil {
			return err
		}
		return brand(ctx, part)
	})
	if errors.Is(err, outfile.ErrExists) {
		return os.ErrExist
	}
	return err
}

// brand gives a file a mark of its own, so that no other file's log is taken for
// its.
func brand(ctx context.Context, path string) error {
	db, err := sql.Open("sqlite", DSN(absolute(path), 0, "mode=rw"))
	if err != nil {
		return err
	}
	return errors.Join(setMark(ctx, db, newMark()), db.Close())
}
