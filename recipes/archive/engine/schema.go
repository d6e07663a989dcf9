package engine

import (
	"context"
	"database/sql"
	"fmt"
	"io/fs"

	"github.com/pressly/goose/v3"
)

// Steps are the numbered migrations of an engine, in files and in Go.
func Steps(dialect goose.Dialect, db *sql.DB, files fs.FS, more ...*goose.Migration) (*goose.Provider, error) {
	return goose.NewProvider(dialect, db, files, goose.WithDisableGlobalRegistry(true), goose.WithLogger(goose.NopLogger()), goose.WithGoMigrations(more...),
		goose.WithAllowOutofOrder(true)) // a step may come to a program after one with a higher number
}

// Version is the version of a schema that steps were counted in: the last up to which
// all were taken, or a newer one that it has.
func Version(ctx context.Context, db Queryer, steps *goose.Provider) (version int, err error) {
	taken := map[int]bool{}
	if err := EachRow(ctx, db, func(rows *sql.Rows) error {
		var n int
		err := rows.Scan(&n)
		taken[n] = true
		version = max(version, n)
		return err
	}, `SELECT version_id FROM goose_db_version`); err != nil || version > Newest(steps) {
		return version, err
	}
	version = 0
	for _, s := range steps.ListSources() {
		if !taken[int(s.Version)] {
			break
		}
		version = int(s.Version)
	}
	return version, nil
}

// Newest is the last version that the program knows.
func Newest(steps *goose.Provider) int {
	sources := steps.ListSources()
	return int(sources[len(sources)-1].Version)
}

// Fits refuses what cannot be made or opened at its version: 0 where there is nothing
// yet, -1 for another program's data.
func Fits(version, newest int, shown string, create bool) error {
	switch {
	case create && version > 0:
		return fmt.Errorf("%s: %w: it holds a bench; use it as it is or name another file", shown, ErrExists)
	case create && version < 0:
		return fmt.Errorf("%s: %w: it holds another program's data; name another file", shown, ErrExists)
	case version < 0:
		return fmt.Errorf("%s: %w: it holds another program's data; name another file", shown, ErrNotBench)
	case !create && version == 0:
		return fmt.Errorf("%s: %w yet: it is empty; run %s", shown, ErrNotBench, InitVerb(shown))
	case version > newest:
		return fmt.Errorf("%s: %w: it has schema %d and this program knows %d; use the newer program", shown, ErrNewer, version, newest)
	}
	return nil
}
