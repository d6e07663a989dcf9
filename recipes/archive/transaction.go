package archive

import (
	"context"
	"database/sql"

	"masstone/recipes/archive/engine"
)

// A transaction of an engine.
type transaction struct {
	*sql.Tx
	on engine.DB
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
