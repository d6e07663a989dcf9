package postgres

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"
)

// channel is what the server tells of changes on, to whoever listens in the database.
func (d *DB) channel() string { return "masstone " + d.schema }

// Seal has the server tell of the change once it is committed.
func (d *DB) Seal(ctx context.Context, tx *sql.Tx) error {
	_, err := tx.ExecContext(ctx, `SELECT pg_notify($1, '')`, d.channel())
	return err
}

// A listener that hears nothing for so long asks whether the server is still there.
const quiet = 30 * time.Second

// Watch listens on a connection of its own. It calls told when it begins to, and
// whenever somebody stored something, until the context or the connection ends.
func (d *DB) Watch(ctx context.Context, told func()) error {
	conn, err := pgx.ConnectConfig(ctx, d.config.Copy())
	if err != nil {
		return err
	}
	defer conn.Close(context.WithoutCancel(ctx))
	if _, err := conn.Exec(ctx, "LISTEN "+pgx.Identifier{d.channel()}.Sanitize()); err != nil {
		return err
	}
	told()
	for {
		waiting, end := context.WithTimeout(ctx, quiet)
		_, err := conn.WaitForNotification(waiting)
		end()
		switch {
		case err == nil:
			told()
		case ctx.Err() != nil:
			return ctx.Err()
		case errors.Is(err, context.DeadlineExceeded):
			asking, end := context.WithTimeout(ctx, d.wait)
			err := conn.Ping(asking)
			end()
			if err != nil {
				return err
			}
		default:
			return err
		}
	}
}
