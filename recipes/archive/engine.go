package archive

import (
	"context"
	"database/sql"
	"time"
)

// An engine is what a bench is kept by: all that differs between a file of
// SQLite's and a database of PostgreSQL's. What a record is, and what may become
// of it, is the same on both.
type engine interface {
	// Begin starts a transaction that sees the bench as of one moment; one that
	// writes waits for its turn and has the bench to itself until it ends.
	Begin(ctx context.Context, write bool) (*sql.Tx, error)
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

	// Tables names the tables there are.
	Tables() (query string)
	// Pages checks what lies under the tables.
	Pages(ctx context.Context, tx *sql.Tx, fault func(line string)) error
	// Dangling finds rows that refer to a row of parent that is not there.
	Dangling(ctx context.Context, tx *sql.Tx, found func(table string, row int64, parent string)) error
	// Schema is the schema as the migrations make it, and as it is: definitions by
	// sort and name. want is nil where it cannot be told.
	Schema(ctx context.Context, tx *sql.Tx) (want, have map[string]string, err error)

	// Explain turns what the engine reports into a line that says what to do. Other
	// errors pass through.
	Explain(err error) error
	Close() error
}

// A transaction of an engine.
type transaction struct {
	*sql.Tx
	on engine
}

func (t *transaction) QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	return t.Tx.QueryContext(ctx, t.on.Dialect(query), args...)
}

func (t *transaction) QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row {
	return t.Tx.QueryRowContext(ctx, t.on.Dialect(query), args...)
}

func (t *transaction) ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error) {
	return t.Tx.ExecContext(ctx, t.on.Dialect(query), args...)
}

func (t *transaction) PrepareContext(ctx context.Context, query string) (*sql.Stmt, error) {
	return t.Tx.PrepareContext(ctx, t.on.Dialect(query))
}
