package archive

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"masstone/color/remedy"
	"math/rand/v2"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// What can go wrong, for errors.Is. The error's own text says where and what
// to do.
var (
	ErrNoBench   = errors.New("no bench")
	ErrNotBench  = errors.New("not a bench")
	ErrNewer     = errors.New("made by a newer program")
	ErrExists    = errors.New("already there")
	ErrNotFound  = errors.New("unknown")
	ErrConflict  = errors.New("differs from what the bench holds")
	ErrAmbiguous = errors.New("ambiguous name")
	ErrInvalid   = errors.New("impossible value")
	ErrBusy      = errors.New("bench is busy")
	ErrDamaged   = errors.New("bench is damaged")
)

// Options of an open bench.
type Options struct {
	Now     func() time.Time // clock for the stamps; time.Now if nil
	Who     string           // who is at the bench; "unknown" if empty
	Program string           // name and version of the program; "masstone" if empty
	Wait    time.Duration    // how long to queue for a file in use; 10 s if 0
}

// A Bench is an open bench file. Its methods may be called from any goroutine.
type Bench struct {
	db      *sql.DB
	path    string
	options Options
	within  *change // the transaction of Together; nil outside of one
}

// Create makes a bench at path, with the backings white (0.90) and black (0.03)
// on it, and opens it. The error is ErrExists if path holds anything.
func Create(ctx context.Context, path string, o Options) (*Bench, error) {
	return open(ctx, path, o, true)
}

// Open opens the bench at path. A bench of an older schema is copied to a
// file beside it and migrated first; a newer one is refused with ErrNewer.
func Open(ctx context.Context, path string, o Options) (*Bench, error) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil, fmt.Errorf("%s: %w here; make one with %s", path, ErrNoBench, remedy.Verb("init", remedy.InputAs("bench", path)))
	case err != nil:
		return nil, fmt.Errorf("bench %w", err)
	case info.IsDir():
		return nil, fmt.Errorf("%s: %w: it is a folder; name a file in it", path, ErrNotBench)
	}
	return open(ctx, path, o, false)
}

func open(ctx context.Context, path string, o Options, create bool) (*Bench, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Who == "" {
		o.Who = "unknown"
	}
	if o.Program == "" {
		o.Program = "masstone"
	}
	if o.Wait <= 0 {
		o.Wait = 10 * time.Second
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("bench %s: %w", path, err)
	}
	// Of programs that start at once two may each hold what the other needs, to
	// begin the log or to migrate; SQLite refuses one of them without waiting. The
	// one refused lets go of all it holds, waits a random time, longer on average
	// than before, and begins again.
	end, pause := time.Now().Add(o.Wait), 40*time.Millisecond
	for {
		b, err := attempt(ctx, abs, path, o, create)
		if !errors.Is(err, ErrBusy) || time.Now().After(end) {
			return b, err
		}
		select {
		case <-ctx.Done():
			return nil, ctx.Err()
		case <-time.After(rand.N(pause)):
		}
		pause = min(2*pause, time.Second)
	}
}

// attempt opens once; the error is ErrBusy where another program is in the way.
func attempt(ctx context.Context, abs, path string, o Options, create bool) (*Bench, error) {
	if err := migrate(ctx, abs, path, o, create); err != nil {
		return nil, err
	}
	db, err := sql.Open("sqlite", dsn(abs, o.Wait, "mode=rw", "_txlock=immediate", "_pragma=journal_mode(WAL)"))
	if err != nil {
		return nil, fmt.Errorf("bench %s: %w", path, err)
	}
	db.SetMaxOpenConns(8) // each has a page cache of its own
	if err := db.PingContext(ctx); err != nil {
		db.Close()
		return nil, explain(path, err)
	}
	return &Bench{db: db, path: path, options: o}, nil
}

// Close closes the bench file.
func (b *Bench) Close() error { return b.db.Close() }

// Path returns the path the bench was opened under.
func (b *Bench) Path() string { return b.path }

// dsn carries the pragmas, so that every pooled connection has them.
// recursive_triggers makes INSERT OR REPLACE fire the triggers that forbid
// deleting. The pragmas in more come first: the locking mode counts only if
// nothing was read from the file before, and the others read from it.
func dsn(abs string, wait time.Duration, mode string, more ...string) string {
	slashed := filepath.ToSlash(abs)
	if !strings.HasPrefix(slashed, "/") { // C:/... on Windows
		slashed = "/" + slashed
	}
	query := append([]string{mode, fmt.Sprintf("_busy_timeout=%d", wait.Milliseconds()), "_dqs=0", "_error_rc=1"}, more...)
	query = append(query, "_pragma=foreign_keys(1)", "_pragma=recursive_triggers(1)", "_pragma=synchronous(FULL)")
	return (&url.URL{Scheme: "file", Path: slashed, RawQuery: strings.Join(query, "&")}).String()
}

// A change is one writing transaction and the stamp its records get.
type change struct {
	*sql.Tx
	stamp   Stamp
	colored bool                       // records with colours were added
	ready   map[string]*sql.Stmt       // statements prepared in this transaction
	names   map[string]map[string]bool // names known to this transaction, by table
}

// write runs fn in one transaction and commits it.
func write[T any](ctx context.Context, b *Bench, fn func(*change) (T, error)) (T, error) {
	var none T
	if b.within != nil {
		return step(ctx, b, fn)
	}
	tx, err := b.db.BeginTx(ctx, nil)
	if err != nil {
		return none, b.explain(err)
	}
	defer tx.Rollback()
	at := b.options.Now().UTC().Truncate(time.Millisecond)
	c := &change{
		Tx:    tx,
		stamp: Stamp{At: at, Who: b.options.Who, Program: b.options.Program},
		ready: map[string]*sql.Stmt{},
		names: map[string]map[string]bool{},
	}
	v, err := fn(c)
	if err == nil && c.colored {
		err = c.packColors(ctx)
	}
	if err != nil {
		return none, b.explain(err)
	}
	if err := tx.Commit(); err != nil {
		return none, b.explain(err)
	}
	return v, nil
}

// read runs fn on one snapshot of the bench.
func read[T any](ctx context.Context, b *Bench, fn func(*sql.Tx) (T, error)) (T, error) {
	var none T
	if b.within != nil {
		v, err := fn(b.within.Tx)
		if err != nil {
			return none, b.explain(err)
		}
		return v, nil
	}
	tx, err := b.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return none, b.explain(err)
	}
	defer tx.Rollback()
	v, err := fn(tx)
	if err != nil {
		return none, b.explain(err)
	}
	return v, nil
}

// explain turns what SQLite reports into a line that says what to do. Errors
// of this package pass through.
func (b *Bench) explain(err error) error { return explain(b.path, err) }

func explain(path string, err error) error {
	var s *sqlite.Error
	if err == nil || !errors.As(err, &s) {
		return err
	}
	switch s.Code() & 0xff {
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
		return fmt.Errorf("%s: %w: another program is writing or has it open; wait for it or close it and try again", path, ErrBusy)
	case sqlite3.SQLITE_NOTADB:
		return fmt.Errorf("%s: %w file; name another file or restore a backup", path, ErrNotBench)
	case sqlite3.SQLITE_CORRUPT:
		return fmt.Errorf("%s: %w (%v); keep the file and restore a backup", path, ErrDamaged, err)
	case sqlite3.SQLITE_FULL:
		return fmt.Errorf("%s: the disk is full; make room and try again, nothing was changed", path)
	case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM:
		return fmt.Errorf("%s: cannot be opened for writing (%v); check that its folder is there, and the permissions of both", path, err)
	}
	return fmt.Errorf("%s: %w", path, err)
}
