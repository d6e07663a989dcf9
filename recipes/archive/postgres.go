package archive

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"

	"masstone/color/remedy"
	"masstone/recipes/archive/postgres"
)

// InDatabase tells whether the name of a bench is the address of a database rather
// than a file.
func InDatabase(path string) bool { return postgres.Names(path) }

// Shown is the name of a bench as it may be shown: an address without its password.
func Shown(path string) string {
	if !InDatabase(path) {
		return path
	}
	return postgres.Shown(path)
}

// database is the engine of a bench in a PostgreSQL database.
type database struct {
	*postgres.DB
	shown string
}

// openDatabase opens, or makes, the bench at an address.
func openDatabase(ctx context.Context, address string, o Options, create bool) (*Bench, error) {
	o.fill()
	d := database{shown: Shown(address)}
	var err error
	if d.DB, err = postgres.Connect(address, o.Wait); err != nil {
		return nil, d.worded(err)
	}
	err = d.Migrate(ctx, func(version, newest int) error {
		if version == 0 && !create {
			return fmt.Errorf("%s: %w here; make one with %s", d.shown, ErrNoBench, initVerb(d.shown))
		}
		return fits(version, newest, d.shown, create)
	})
	if err != nil {
		return nil, d.Explain(err)
	}
	if err := d.Open(ctx); err != nil {
		d.Close()
		return nil, d.Explain(err)
	}
	return &Bench{db: d.Pool(), on: d, path: d.shown, options: o, made: newMakings()}, nil
}

func (d database) Committed(failed error, count string, args ...any) error {
	return d.worded(d.DB.Committed(failed, count, args...))
}

func (d database) Explain(err error) error { return d.worded(d.DB.Explain(err)) }

// Schema is told in the archive's words where the server refuses it.
func (d database) Schema(ctx context.Context, tx *sql.Tx) (want, have map[string]string, err error) {
	want, have, err = d.DB.Schema(ctx, tx)
	return want, have, d.Explain(err)
}

// worded gives what the server says the archive's kinds, for errors.Is.
func (d database) worded(err error) error {
	var f postgres.Fault
	if !errors.As(err, &f) {
		if errors.Is(err, ErrDamaged) { // what is damaged was found by the archive, which knows files
			if text := fileRemedies.Replace(err.Error()); text != err.Error() {
				return reworded{err, text}
			}
		}
		return err
	}
	kind := map[postgres.Kind]error{
		postgres.Invalid: ErrInvalid, postgres.Away: ErrAway, postgres.None: ErrNoBench, postgres.Foreign: ErrNotBench, postgres.Busy: ErrBusy,
		postgres.ReadOnly: ErrReadOnly, postgres.Lost: ErrLost, postgres.Full: ErrFull, postgres.Damaged: ErrDamaged,
		postgres.Unsure: reworded{ErrUnsure, "the connection was lost while a change was stored"},
	}[f.Kind]
	joint := ": "
	if f.Kind == postgres.Unsure {
		joint = ", "
	}
	return fmt.Errorf("%s: %w%s%s", d.shown, kind, joint, f.Text)
}

// fileRemedies are those for files, and what they are in a database.
var fileRemedies = strings.NewReplacer("keep the file and run "+restoreVerb, inBase, "run "+restoreVerb, inBase)

// notFile refuses what is done to a file.
func notFile(verb, path, instead string) error {
	return fmt.Errorf("%s %s: %w: the bench is in a database, which is %s; or keep a bundle of it with %s",
		verb, Shown(path), ErrInvalid, instead, remedy.Verb("export", "--out", "FILE"))
}
