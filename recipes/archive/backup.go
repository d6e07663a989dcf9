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
// To go back to a copy, Restore it, or open it where it is.
// It returns the head of the copy's log, which may be newer than the bench's was.
func (b *Bench) Backup(ctx context.Context, path string) (Head, error) {
	if path == "" {
		return "", fmt.Errorf("backup: %w: the name of the file to write is empty; name a file", ErrInvalid)
	}
	if InDatabase(b.path) {
		return "", notFile("backup", b.path, "backed up by pg_dump")
	}
	err := copyTo(ctx, b.db, path)
	var full *sqlite.Error
	switch {
	case err == nil:
		return headIn(ctx, path)
	case errors.Is(err, os.ErrExist):
		return "", fmt.Errorf("backup %s: %w; name a new file", path, ErrExists)
	case errors.As(err, &full) && full.Code()&0xff == sqlite3.SQLITE_FULL:
		return "", fmt.Errorf("backup %w", explain(path, err)) // no fault of the bench
	}
	return "", fmt.Errorf("backup %w", b.explain(err))
}

// headIn reads the head of a copy, which nobody writes to.
func headIn(ctx context.Context, path string) (Head, error) {
	db, err := sql.Open("sqlite", dsn(absolute(path), 0, "mode=ro", "immutable=1"))
	if err != nil {
		return "", err
	}
	defer db.Close()
	return headAt(ctx, db, newestLink)
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
		copied, err := sql.Open("sqlite", dsn(absolute(part), 0, "mode=rw"))
		if err != nil {
			return err
		}
		return errors.Join(brand(ctx, copied), copied.Close())
	})
	if errors.Is(err, outfile.ErrExists) {
		return os.ErrExist
	}
	return err
}
