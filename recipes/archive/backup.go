package archive

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// Backup writes a copy of the bench, as of one moment, to path while the bench
// stays in use. The copy is complete and synced when Backup returns; path must
// not exist yet, and never holds half a copy.
//
// To go back to a copy, Restore it, or open it where it is.
// It returns the head of the copy's log, which may be newer than the bench's was.
func (b *Bench) Backup(ctx context.Context, path string) (Head, error) {
	err := copyTo(ctx, b.db, path)
	if errors.Is(err, os.ErrExist) {
		return "", fmt.Errorf("backup %s: %w; name a new file", path, ErrExists)
	}
	var place *os.PathError
	if errors.As(err, &place) {
		return "", fmt.Errorf("backup %s: cannot be written (%w); check the name, the folder and its permissions", path, place.Err)
	}
	if err != nil {
		return "", fmt.Errorf("backup %s: %w", path, b.explain(err))
	}
	return headIn(ctx, path)
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

// copyTo writes a compact copy of db to a temporary file beside path, syncs it
// and links it to path, which must be free: os.ErrExist otherwise.
func copyTo(ctx context.Context, db *sql.DB, path string) error {
	if _, err := os.Lstat(path); err == nil {
		return os.ErrExist
	}
	folder := filepath.Dir(path)
	f, err := os.CreateTemp(folder, filepath.Base(path)+".part-*")
	if err != nil {
		return err
	}
	part := f.Name()
	f.Close()
	defer os.Remove(part)
	// VACUUM INTO accepts an existing file only if it is empty.
	if _, err := db.ExecContext(ctx, `VACUUM INTO ?`, part); err != nil {
		return err
	}
	copied, err := sql.Open("sqlite", dsn(absolute(part), 0, "mode=rw"))
	if err != nil {
		return err
	}
	if err := errors.Join(brand(ctx, copied), copied.Close()); err != nil {
		return err
	}
	if err := flush(part); err != nil {
		return err
	}
	// A link fails where the name is taken; a rename would replace it. Some
	// file systems have no links.
	if err := os.Link(part, path); errors.Is(err, os.ErrExist) {
		return os.ErrExist
	} else if err != nil {
		if err := os.Rename(part, path); err != nil {
			return err
		}
	}
	return flush(folder)
}

// flush syncs a file or a folder to the disk.
func flush(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	if err := f.Sync(); err != nil {
		if info, e := f.Stat(); e == nil && info.IsDir() {
			return nil // folders cannot be synced everywhere
		}
		return err
	}
	return nil
}
