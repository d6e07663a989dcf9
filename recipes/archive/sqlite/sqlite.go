// Package sqlite keeps a bench in one file, an SQLite database: how it is opened,
// migrated, copied and replaced, and what SQLite's complaints come to. What a record
// is it does not know.
//
// # Transactions
//
// One that writes takes SQLite's lock as it begins, so that any number of processes
// may use a file; they queue for as long as the options say. When a commit returns
// its change is in the write-ahead log and synced (synchronous=FULL): it survives the
// death of the process and of the machine.
//
// # Migrations
//
// The files under migrations/ are numbered and never edited. A file of an older
// schema is copied beside itself before the first step, under SQLite's
// exclusive lock, so a program that has the file open keeps others from
// changing its schema. A newer schema is refused.
package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"masstone/recipes/archive/engine"
)

// A DB is an open bench.
type DB struct {
	db    *sql.DB
	path  string
	fixed bool // opened where it cannot be written
}

// Over is the bench in an open file, of whatever schema.
func Over(db *sql.DB, path string) *DB { return &DB{db: db, path: path} }

// Pool is the connections that transactions are made on.
func (f *DB) Pool() *sql.DB { return f.db }

func (f *DB) Close() error { return f.db.Close() }

// Begin waits for other writers as the file's busy timeout says: a transaction that
// writes begins with the lock.
func (f *DB) Begin(ctx context.Context, write bool) (tx *sql.Tx, end func(), err error) {
	if write && f.fixed {
		return nil, nil, fmt.Errorf("%s: %w here; copy it to a folder that you can write to and work there", f.path, engine.ErrReadOnly)
	}
	conn, err := f.db.Conn(ctx)
	if err != nil {
		return nil, nil, err
	}
	if write {
		conn.Raw(guard)
	}
	if tx, err = conn.BeginTx(ctx, &sql.TxOptions{ReadOnly: !write}); err != nil {
		conn.Close()
		return nil, nil, err
	}
	return tx, func() {
		tx.Rollback()
		conn.Raw(unguard)
		conn.Close()
	}, nil
}

// guard has a connection refuse to store anything once SQLite has taken back a
// transaction by itself, as it does where the disk fails in the middle of one: it
// would store each statement that comes after as a transaction of its own.
func guard(conn any) error {
	undone := false
	hooks := conn.(sqlite.HookRegisterer)
	hooks.RegisterRollbackHook(func() { undone = true })
	hooks.RegisterCommitHook(func() (refuse int32) {
		if undone {
			refuse = 1
		}
		return refuse
	})
	return nil
}

func unguard(conn any) error {
	hooks := conn.(sqlite.HookRegisterer)
	hooks.RegisterRollbackHook(nil)
	hooks.RegisterCommitHook(nil)
	return nil
}

func (*DB) Dialect(query string) string { return query }

func (*DB) Now(context.Context, *sql.Tx) (time.Time, error) { return time.Now(), nil }

func (*DB) Words(words []string) (condition, parameter string) {
	return `word_index MATCH ?`, `"` + strings.Join(words, `"* "`) + `"*`
}

func (*DB) Defer(ctx context.Context, tx *sql.Tx) error {
	_, err := tx.ExecContext(ctx, `PRAGMA defer_foreign_keys = ON`)
	return err
}

// Seal gives the change its mark.
func (*DB) Seal(ctx context.Context, tx *sql.Tx) error {
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
func (*DB) Watch(context.Context, func()) error { return errors.ErrUnsupported }

// Committed is for a commit whose context ended. Where only the sync failed all of it
// was written, and the next program to open the file may find it there.
func (f *DB) Committed(failed error, count string, args ...any) error {
	found := 0
	if err := f.db.QueryRow(count, args...).Scan(&found); err == nil && found == 1 {
		return nil
	}
	var s *sqlite.Error
	if errors.As(failed, &s) && (s.Code() == sqlite3.SQLITE_IOERR_FSYNC || s.Code() == sqlite3.SQLITE_IOERR_DIR_FSYNC) {
		return fmt.Errorf("%s: %w, which may be there or not (%v); look at the disk, then at %s, before you do it again", f.path, engine.ErrUnsure, failed, engine.LogVerb)
	}
	return f.Explain(failed)
}

func (*DB) Tables() string { return `SELECT name FROM sqlite_schema` }

func (*DB) Pages(ctx context.Context, tx *sql.Tx, fault func(line string)) error {
	return engine.EachRow(ctx, tx, func(rows *sql.Rows) error {
		var line string
		err := rows.Scan(&line)
		if line != "ok" {
			fault(line)
		}
		return err
	}, `PRAGMA integrity_check(100)`)
}

func (*DB) Dangling(ctx context.Context, tx *sql.Tx, found func(table string, row int64, parent string)) error {
	return engine.EachRow(ctx, tx, func(rows *sql.Rows) error {
		var table, parent string
		var row sql.NullInt64
		var n int
		err := rows.Scan(&table, &row, &parent, &n)
		found(table, row.Int64, parent)
		return err
	}, `PRAGMA foreign_key_check`)
}

func (*DB) Place() (name, back string) { return "file", engine.KeepFile }

// Explain is for what SQLite reports of the bench.
func (f *DB) Explain(err error) error { return explain(f.path, err) }

// explain is for what SQLite reports of the file at path.
func explain(path string, err error) error {
	var s *sqlite.Error
	if err == nil || !errors.As(err, &s) {
		return err
	}
	if s.Code() == sqlite3.SQLITE_CONSTRAINT_COMMITHOOK { // see guard
		return fmt.Errorf("%s: the disk failed amid a change; look at the disk, its room and its cable, and try again, nothing was changed", path)
	}
	switch s.Code() & 0xff {
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
		return fmt.Errorf("%s: %w: another program is writing or has it open; wait for it or close it and try again", path, engine.ErrBusy)
	case sqlite3.SQLITE_NOTADB:
		return fmt.Errorf("%s: %w file; name another file or run %s", path, engine.ErrNotBench, engine.RestoreVerb)
	case sqlite3.SQLITE_CORRUPT:
		return fmt.Errorf("%s: %w (%v); %s", path, engine.ErrDamaged, err, engine.KeepFile)
	case sqlite3.SQLITE_FULL:
		return fmt.Errorf("%s: the disk is full; make room and try again, nothing was changed", path)
	case sqlite3.SQLITE_IOERR:
		return fmt.Errorf("%s: the disk cannot be read or written (%v); look at the disk, its room and its cable, and try again, nothing was changed", path, err)
	case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM:
		if lockedShared(absolute(path)) {
			return fmt.Errorf("%s: %w: the file %s-shm beside it is read-only; make it writable, or remove it while no program has the bench open", path, engine.ErrReadOnly, path)
		}
		return fmt.Errorf("%s: %w (%v); check that its folder is there, and the permissions of both", path, engine.ErrReadOnly, err)
	}
	return fmt.Errorf("%s: %w", path, err)
}
