package archive

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// sqliteFile is the engine of a bench in a file.
type sqliteFile struct {
	db   *sql.DB
	path string
}

func (f sqliteFile) Close() error { return f.db.Close() }

// Begin waits for other writers as the file's busy timeout says: a transaction that
// writes begins with the lock.
func (f sqliteFile) Begin(ctx context.Context, write bool) (*sql.Tx, error) {
	return f.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: !write})
}

func (sqliteFile) Dialect(query string) string { return query }

func (sqliteFile) Now(context.Context, *sql.Tx) (time.Time, error) { return time.Now(), nil }

func (sqliteFile) Words(words []string) (condition, parameter string) {
	return `word_index MATCH ?`, `"` + strings.Join(words, `"* "`) + `"*`
}

func (sqliteFile) Defer(ctx context.Context, tx *sql.Tx) error {
	_, err := tx.ExecContext(ctx, `PRAGMA defer_foreign_keys = ON`)
	return err
}

// Seal gives the change its mark.
func (sqliteFile) Seal(ctx context.Context, tx *sql.Tx) error {
	var m mark
	if err := tx.QueryRowContext(ctx, `PRAGMA user_version`).Scan(&m); err != nil {
		return err
	}
	if m == 0 {
		m = newMark()
	}
	return setMark(ctx, tx, m.next())
}

// Watch is for engines that tell.
func (sqliteFile) Watch(context.Context, func()) error { return errors.ErrUnsupported }

// Committed is for a commit whose context ended. Where only the sync failed all of it
// was written, and the next program to open the file may find it there.
func (f sqliteFile) Committed(failed error, count string, args ...any) error {
	found := 0
	if err := f.db.QueryRow(count, args...).Scan(&found); err == nil && found == 1 {
		return nil
	}
	var s *sqlite.Error
	if errors.As(failed, &s) && (s.Code() == sqlite3.SQLITE_IOERR_FSYNC || s.Code() == sqlite3.SQLITE_IOERR_DIR_FSYNC) {
		return fmt.Errorf("%s: %w, which may be there or not (%v); look at the disk, then at %s, before you do it again", f.path, ErrUnsure, failed, logVerb)
	}
	return explain(f.path, failed)
}

func (sqliteFile) Tables() string { return `SELECT name FROM sqlite_schema` }

func (sqliteFile) Pages(ctx context.Context, tx *sql.Tx, fault func(line string)) error {
	return eachRow(ctx, tx, func(rows *sql.Rows) error {
		var line string
		err := rows.Scan(&line)
		if line != "ok" {
			fault(line)
		}
		return err
	}, `PRAGMA integrity_check(100)`)
}

func (sqliteFile) Dangling(ctx context.Context, tx *sql.Tx, found func(table string, row int64, parent string)) error {
	return eachRow(ctx, tx, func(rows *sql.Rows) error {
		var table, parent string
		var row sql.NullInt64
		var n int
		err := rows.Scan(&table, &row, &parent, &n)
		found(table, row.Int64, parent)
		return err
	}, `PRAGMA foreign_key_check`)
}

func (sqliteFile) Schema(ctx context.Context, tx *sql.Tx) (want, have map[string]string, err error) {
	if want, err = schemaMade(); err != nil {
		return nil, nil, err
	}
	have, err = schemaSQL(ctx, tx)
	return want, have, err
}

func (f sqliteFile) Explain(err error) error { return explain(f.path, err) }
