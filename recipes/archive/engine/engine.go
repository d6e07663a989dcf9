// Package engine says what a bench is kept by, whichever it is: a file of SQLite's
// (package sqlite) or a database of PostgreSQL's (package postgres). What a record
// is, and what may become of it, is the archive's; an engine knows nothing of it.
package engine

import (
	"context"
	"database/sql"
	"time"
)

// A DB is an open bench: all that differs between the engines.
type DB interface {
	// Begin starts a transaction that sees the bench as of one moment; one that
	// writes waits for its turn. end lets go of it, and takes back what was not
	// committed.
	Begin(ctx context.Context, write bool) (tx *sql.Tx, end func(), err error)
	// Dialect is a query with parameters ? and ?1 as the engine takes it.
	Dialect(query string) string
	// Now is the time for the stamps of a transaction, where nobody said by which clock.
	Now(ctx context.Context, tx *sql.Tx) (time.Time, error)
	// Words is a condition with one parameter, and that, for rows of word_index that
	// hold a word beginning with each of those.
	Words(words []string) (condition, parameter string)
	// Defer readies a transaction that adds many records: what they name is looked for
	// at its end.
	Defer(ctx context.Context, tx *sql.Tx) error
	// Seal ends a transaction that wrote, before its commit.
	Seal(ctx context.Context, tx *sql.Tx) error
	// Committed tells, of a commit that failed, whether it took place all the same,
	// by a query that counts what it stored; the error is for one that is not there,
	// or nobody knows.
	Committed(failed error, count string, args ...any) error

	// Watch calls told when it begins to watch, and whenever something was stored by
	// anybody, until the context ends or it can watch no longer.
	Watch(ctx context.Context, told func()) error
	// Backup writes a copy of the bench, as of one moment, to a file that is not there
	// yet, and lets look see it.
	Backup(ctx context.Context, path string, look func(Queryer) error) error

	// Tables names the tables there are.
	Tables() (query string)
	// Pages checks what lies under the tables.
	Pages(ctx context.Context, tx *sql.Tx, fault func(line string)) error
	// Dangling finds rows that refer to a row of parent that is not there.
	Dangling(ctx context.Context, tx *sql.Tx, found func(table string, row int64, parent string)) error
	// Schema is the schema as the migrations make it, and as it is: definitions by
	// sort and name. want is nil where it cannot be told.
	Schema(ctx context.Context, q Queryer) (want, have map[string]string, err error)

	// Place is what the bench stands in, and back what to do about damage to it: KeepFile,
	// or what that is elsewhere.
	Place() (name, back string)
	// Explain turns what the engine reports into a line that says what to do, for
	// errors.Is with those of this package. Other errors pass through.
	Explain(err error) error
	Close() error
}

// Options are how an engine opens a bench.
type Options struct {
	Create bool             // make it, where none may be
	Wait   time.Duration    // how long to queue for a bench in use
	Now    func() time.Time // clock for the names of copies
	// Link links the log that an older program left, as the step of the schema does
	// from which on logs are linked.
	Link func(ctx context.Context, tx *sql.Tx, on DB) error

	// Of a file only:
	Damaged bool // open it all the same if its pages or indexes are damaged
	Spare   bool // it is a copy, which is migrated without another
}

// A Queryer is a transaction or a database, for reading.
type Queryer interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// EachRow calls fn for every row of a query.
func EachRow(ctx context.Context, q Queryer, fn func(*sql.Rows) error, query string, args ...any) error {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := fn(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}
