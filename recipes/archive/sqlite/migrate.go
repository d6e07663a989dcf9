package sqlite

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/pressly/goose/v3"

	"masstone/recipes/archive/engine"
)

// Migrations are the steps of the schema that are written in SQL.
//
//go:embed migrations/*.sql
var Migrations embed.FS

// linked is the number of the step that links a log.
const linked = 7

// Steps are all steps of the schema.
func Steps(db *sql.DB, o engine.Options) (*goose.Provider, error) {
	files, err := fs.Sub(Migrations, "migrations")
	if err != nil {
		return nil, err
	}
	link := goose.NewGoMigration(linked, &goose.GoFunc{RunTx: func(ctx context.Context, tx *sql.Tx) error {
		if o.Link == nil {
			return nil
		}
		return o.Link(ctx, tx, &DB{})
	}}, nil)
	return engine.Steps(goose.DialectSQLite3, db, files, link)
}

// applicationID is what migrations/0001_shelf.sql writes into the file's header.
const applicationID = 0x4d53544e // "MSTN"

// migrate brings the file at abs to the schema of this program; shown is its
// path in errors. Steps run on one connection with SQLite's exclusive lock,
// which dies with the process: two programs never migrate at once, and none migrates
// a file that another has open. The error is ErrBusy where another is at it.
func migrate(ctx context.Context, abs, shown string, o engine.Options) error {
	// Most files need no step. Find that out without the exclusive lock, and
	// without touching a file that is not ours.
	if _, err := os.Stat(abs); err == nil {
		version, newest, err := Version(ctx, abs, o.Wait, "mode=rw")
		if err != nil {
			return explain(shown, err)
		}
		if err := engine.Fits(version, newest, shown, o.Create); err != nil || version == newest {
			return err
		}
	}
	mode := "mode=rw"
	if o.Create {
		mode = "mode=rwc"
	}
	// In write-ahead mode the first read takes the exclusive lock, and waits for
	// it; in the other modes the first write would, too late to wait. Setting
	// both on one connection loses the lock.
	if _, _, err := Version(ctx, abs, o.Wait, mode, "_pragma=journal_mode(WAL)"); err != nil {
		return explain(shown, err)
	}
	there, err := os.Stat(abs)
	if err != nil {
		return fmt.Errorf("bench %w", err)
	}
	db, version, newest, err := exclusive(ctx, abs)
	if err != nil {
		return explain(shown, err)
	}
	defer db.Close()
	if err := unmoved(abs, shown, there); err != nil {
		return err
	}
	// Another process may have made or migrated the bench while this one waited.
	if err := engine.Fits(version, newest, shown, o.Create); err != nil || version == newest {
		return err
	}
	if version > 0 && !o.Spare {
		if err := copyBefore(ctx, db, abs, version, o.Now()); err != nil {
			return fmt.Errorf("cannot copy the bench before changing its schema: %w", explain(shown, err))
		}
	}
	steps, err := Steps(db, o)
	if err != nil {
		return err
	}
	if _, err := steps.Up(ctx); err != nil {
		return fmt.Errorf("schema step failed and was undone: %w", explain(shown, err))
	}
	return explain(shown, db.Close())
}

// exclusive opens the file at abs with SQLite's exclusive lock, which the
// returned connection holds until it is closed. SQLite takes a shared lock first
// and does not let go of it while it waits for the exclusive one; of two that wait
// so none would ever get it, so this one hardly waits.
func exclusive(ctx context.Context, abs string) (db *sql.DB, version, newest int, err error) {
	db, err = sql.Open("sqlite", DSN(abs, 20*time.Millisecond, "mode=rw", "_txlock=immediate", "_pragma=locking_mode(EXCLUSIVE)"))
	if err != nil {
		return nil, 0, 0, err
	}
	db.SetMaxOpenConns(1)
	if version, newest, err = schema(ctx, db); err != nil {
		db.Close()
		return nil, 0, 0, err
	}
	return db, version, newest, nil
}

// Version returns the version of the schema of the file at abs, and the newest known.
func Version(ctx context.Context, abs string, wait time.Duration, mode string, more ...string) (version, newest int, err error) {
	db, err := sql.Open("sqlite", DSN(abs, wait, mode, more...))
	if err != nil {
		return 0, 0, err
	}
	defer db.Close()
	return schema(ctx, db)
}

// schema returns the version of the schema in db (0 when nothing was made in it yet,
// -1 when another program's tables are there), and the newest known.
func schema(ctx context.Context, db *sql.DB) (version, newest int, err error) {
	steps, err := Steps(db, engine.Options{})
	if err != nil {
		return 0, 0, err
	}
	newest = engine.Newest(steps)
	var id, tables, counted int
	err = db.QueryRowContext(ctx, `SELECT (SELECT application_id FROM pragma_application_id),
		(SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name NOT IN ('goose_db_version', 'sqlite_sequence')),
		(SELECT count(*) FROM sqlite_schema WHERE name = 'goose_db_version')`).Scan(&id, &tables, &counted)
	switch {
	case err != nil:
		return 0, 0, err
	case id == 0 && tables == 0:
		return 0, newest, nil
	case id != applicationID || counted == 0:
		return -1, newest, nil
	}
	version, err = engine.Version(ctx, db, steps)
	return version, newest, err
}

// copyBefore writes the bench as it is to a file beside it that names the
// schema and the time, and syncs it, before a migration touches anything.
func copyBefore(ctx context.Context, db *sql.DB, abs string, version int, now time.Time) error {
	ext := filepath.Ext(abs)
	stem := fmt.Sprintf("%s.schema%d.%s", strings.TrimSuffix(abs, ext), version, now.UTC().Format("20060102T150405"))
	for n := 1; ; n++ {
		name := stem + ext
		if n > 1 {
			name = fmt.Sprintf("%s-%d%s", stem, n, ext)
		}
		err := copyTo(ctx, db, name)
		if !errors.Is(err, os.ErrExist) {
			return err
		}
	}
}

// Schema compares with what the migrations make in an empty file.
func (*DB) Schema(ctx context.Context, q engine.Queryer) (want, have map[string]string, err error) {
	if want, err = schemaMade(); err != nil {
		return nil, nil, err
	}
	have, err = described(ctx, q)
	return want, have, err
}

// schemaMade is the schema that the migrations make in an empty file.
var schemaMade = sync.OnceValues(func() (map[string]string, error) {
	fresh, err := sql.Open("sqlite", ":memory:")
	if err != nil {
		return nil, err
	}
	defer fresh.Close()
	fresh.SetMaxOpenConns(1) // a second connection would see another memory
	steps, err := Steps(fresh, engine.Options{})
	if err != nil {
		return nil, err
	}
	ctx := context.Background()
	if _, err := steps.Up(ctx); err != nil {
		return nil, err
	}
	return described(ctx, fresh)
})

// described is what a file's schema consists of.
func described(ctx context.Context, q engine.Queryer) (map[string]string, error) {
	all := map[string]string{}
	return all, engine.EachRow(ctx, q, func(rows *sql.Rows) error {
		var kind, name, text string
		err := rows.Scan(&kind, &name, &text)
		all[kind+" "+name] = text
		return err
	}, `SELECT type, name, sql FROM sqlite_schema WHERE sql IS NOT NULL AND name <> 'sqlite_sequence'`)
}
