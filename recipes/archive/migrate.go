package archive

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
	"time"

	"github.com/pressly/goose/v3"
)

//go:embed migrations/*.sql
var migrationFiles embed.FS

// applicationID is what migrations/0001_shelf.sql writes into the file's header.
const applicationID = 0x4d53544e // "MSTN"

// migrate brings the file at abs to the schema of this program; shown is its
// path in errors. Steps run on one connection with SQLite's exclusive lock,
// which dies with the process: two programs never migrate at once, and none migrates
// a file that another has open. The error is ErrBusy where another is at it.
func migrate(ctx context.Context, abs, shown string, o Options, create bool) error {
	// Most files need no step. Find that out without the exclusive lock, and
	// without touching a file that is not ours.
	if _, err := os.Stat(abs); err == nil {
		version, newest, err := inspect(ctx, abs, o.Wait, "mode=rw")
		if err != nil {
			return explain(shown, err)
		}
		if err := fits(version, newest, shown, create); err != nil || version == newest {
			return err
		}
	}
	mode := "mode=rw"
	if create {
		mode = "mode=rwc"
	}
	// In write-ahead mode the first read takes the exclusive lock, and waits for
	// it; in the other modes the first write would, too late to wait. Setting
	// both on one connection loses the lock.
	if _, _, err := inspect(ctx, abs, o.Wait, mode, "_pragma=journal_mode(WAL)"); err != nil {
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
	if err := fits(version, newest, shown, create); err != nil || version == newest {
		return err
	}
	if version > 0 && !o.spare {
		if err := copyBefore(ctx, db, abs, version, o); err != nil {
			return fmt.Errorf("cannot copy the bench before changing its schema: %w", explain(shown, err))
		}
	}
	steps, err := provider(db, o)
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
	db, err = sql.Open("sqlite", dsn(abs, 20*time.Millisecond, "mode=rw", "_txlock=immediate", "_pragma=locking_mode(EXCLUSIVE)"))
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

// fits refuses a file that cannot be created or opened at its version.
func fits(version, newest int, shown string, create bool) error {
	switch {
	case create && version > 0:
		return fmt.Errorf("%s: %w: it holds a bench; use it as it is or name another file", shown, ErrExists)
	case create && version < 0:
		return fmt.Errorf("%s: %w: it holds another program's data; name another file", shown, ErrExists)
	case version < 0:
		return fmt.Errorf("%s: %w: it holds another program's data; name another file", shown, ErrNotBench)
	case !create && version == 0:
		return fmt.Errorf("%s: %w yet: it is empty; run %s", shown, ErrNotBench, initVerb(shown))
	case version > newest:
		return fmt.Errorf("%s: %w: it has schema %d and this program knows %d; use the newer program", shown, ErrNewer, version, newest)
	}
	return nil
}

func provider(db *sql.DB, o Options) (*goose.Provider, error) {
	files, err := fs.Sub(migrationFiles, "migrations")
	if err != nil {
		return nil, err
	}
	return goose.NewProvider(goose.DialectSQLite3, db, files,
		goose.WithDisableGlobalRegistry(true), goose.WithGoMigrations(linkOld(o)), goose.WithLogger(goose.NopLogger()),
		goose.WithAllowOutofOrder(true)) // a step may come to a program after one with a higher number
}

// inspect returns the schema version of the file at abs and the newest known.
func inspect(ctx context.Context, abs string, wait time.Duration, mode string, more ...string) (version, newest int, err error) {
	db, err := sql.Open("sqlite", dsn(abs, wait, mode, more...))
	if err != nil {
		return 0, 0, err
	}
	defer db.Close()
	return schema(ctx, db)
}

// schema returns the version of the schema in db, up to which all steps were
// taken (0 when nothing was made in it yet, -1 when another program's tables are
// there), or a newer one that it has, and the newest known.
func schema(ctx context.Context, db *sql.DB) (version, newest int, err error) {
	steps, err := provider(db, Options{})
	if err != nil {
		return 0, 0, err
	}
	sources := steps.ListSources()
	newest = int(sources[len(sources)-1].Version)
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
	taken := map[int]bool{}
	if err := eachRow(ctx, db, func(rows *sql.Rows) error {
		var n int
		err := rows.Scan(&n)
		taken[n] = true
		version = max(version, n)
		return err
	}, `SELECT version_id FROM goose_db_version`); err != nil {
		return 0, 0, err
	}
	if version > newest {
		return version, newest, nil
	}
	version = 0
	for _, s := range sources {
		if !taken[int(s.Version)] {
			break
		}
		version = int(s.Version)
	}
	return version, newest, nil
}

// copyBefore writes the bench as it is to a file beside it that names the
// schema and the time, and syncs it, before a migration touches anything.
func copyBefore(ctx context.Context, db *sql.DB, abs string, version int, o Options) error {
	ext := filepath.Ext(abs)
	stem := fmt.Sprintf("%s.schema%d.%s", strings.TrimSuffix(abs, ext), version, o.Now().UTC().Format("20060102T150405"))
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
