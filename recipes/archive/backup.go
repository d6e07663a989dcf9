package archive

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"masstone/recipes/outfile"
)

// Backup writes a copy of the bench, as of one moment, to path while the bench
// stays in use. The copy is complete and synced when Backup returns; path must
// not exist yet, and never holds half a copy.
//
// To go back to a copy, open it where it is. Before putting it in the place of
// the bench, close every program that has the bench open and remove the files
// beside it that end in -wal and -shm: they belong to the old file.
func (b *Bench) Backup(ctx context.Context, path string) error {
	err := copyTo(ctx, b.db, path)
	var full *sqlite.Error
	switch {
	case err == nil:
		return nil
	case errors.Is(err, os.ErrExist):
		return fmt.Errorf("backup %s: %w; name a new file", path, ErrExists)
	case errors.As(err, &full) && full.Code()&0xff == sqlite3.SQLITE_FULL:
		return fmt.Errorf("backup %w", explain(path, err)) // no fault of the bench
	}
	return fmt.Errorf("backup %w", b.explain(err))
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
		_, err := db.ExecContext(ctx, `VACUUM INTO ?`, part)
		return err
	})
	if errors.Is(err, outfile.ErrExists) {
		return os.ErrExist
	}
	return err
}
