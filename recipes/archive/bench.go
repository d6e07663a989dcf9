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
	ErrReadOnly  = errors.New("cannot be written")
	ErrUnsure    = errors.New("the disk failed while a change was stored")
	ErrAway      = errors.New("cannot be reached")
	ErrLost      = errors.New("the connection was lost")
	ErrFull      = errors.New("there is no room")
)

// Options of an open bench.
type Options struct {
	Now     func() time.Time // clock for the stamps; if nil the server's, or time.Now for a file
	Who     string           // who is at the bench; "unknown" if empty
	Program string           // name and version of the program; "masstone" if empty
	Wait    time.Duration    // how long to queue for a file in use; 10 s if 0
	// LeftOut hears of each record that a list leaves out because it breaks the
	// rules, in a line that names it; nil for nobody.
	LeftOut func(error)

	// Damaged opens a bench whose pages or indexes are damaged all the same, to
	// verify it or to save the rest; else it is refused with ErrDamaged.
	Damaged bool

	// Stored, if not nil, is told of every transaction that was committed, by the
	// lines it added to the log.
	Stored func([]LogLine)

	// Progress, if not nil, hears how many records of an export were written, or of an
	// import checked, after all were stored.
	Progress func(done, total int)

	anyClock bool // nobody said which

	spare bool // the file is a copy, which is migrated without another

	// Restore calls these, if not nil, with the bench locked, and with the copy in
	// its place but the old log still beside it.
	locked, renamed func()
}

func (o *Options) fill() {
	if o.Now == nil {
		o.Now, o.anyClock = time.Now, true
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
}

// A Bench is an open bench file. Its methods may be called from any goroutine.
type Bench struct {
	db      *sql.DB
	on      engine
	path    string
	options Options
	within  *change // the transaction of Together; nil outside of one
	fixed   bool    // opened where it cannot be written
	made    *makings
}

// Create makes a bench at path, with the backings white (0.90) and black (0.03)
// on it, and opens it. The error is ErrExists if path holds anything.
func Create(ctx context.Context, path string, o Options) (*Bench, error) {
	if InDatabase(path) {
		return openDatabase(ctx, path, o, true)
	}
	return open(ctx, path, o, true)
}

// Open opens the bench at path. A bench of an older schema is copied to a
// file beside it and migrated first; a newer one is refused with ErrNewer.
func Open(ctx context.Context, path string, o Options) (*Bench, error) {
	if InDatabase(path) {
		return openDatabase(ctx, path, o, false)
	}
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
	o.fill()
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
		if errors.Is(err, ErrReadOnly) && !create {
			b, err = readOnly(ctx, abs, path, o, err)
		}
		if err == nil && !create {
			b, err = b.sound(ctx)
		}
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
	freeShared(abs)
	if err := ownLog(ctx, abs, path); err != nil {
		return nil, err
	}
	if err := migrate(ctx, abs, path, o, create); err != nil {
		return nil, err
	}
	there, err := os.Stat(abs)
	if err != nil {
		return nil, fmt.Errorf("bench %w", err)
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
	if err := unmoved(abs, path, there); err != nil {
		db.Close()
		return nil, err
	}
	return inFile(db, path, o, false), nil
}

// inFile is a bench in an open file.
func inFile(db *sql.DB, path string, o Options, fixed bool) *Bench {
	return &Bench{db: db, on: sqliteFile{db, path}, path: path, options: o, fixed: fixed, made: newMakings()}
}

// sound has SQLite check every page of the file, and every index against its
// table, before anything that is read of it is believed: records have checksums,
// an index has none, and a fault there would hide a record without a word. It
// takes some 12 microseconds a record. What is damaged is closed and refused.
func (b *Bench) sound(ctx context.Context) (*Bench, error) {
	if b.options.Damaged {
		return b, nil
	}
	var first string
	err := b.db.QueryRowContext(ctx, `PRAGMA integrity_check(1)`).Scan(&first)
	switch {
	case err != nil:
		err = b.explain(err)
	case first != "ok":
		err = fmt.Errorf("%s: %w (%s); keep the file and run %s, or save the rest with %s", b.path, ErrDamaged, strings.Join(strings.Fields(first), " "), restoreVerb, restVerb)
	default:
		return b, nil
	}
	b.Close()
	return nil, err
}

// Close closes the bench file.
func (b *Bench) Close() error { return b.on.Close() }

// With is the same open bench with another at it: who, program, clock and who
// hears are those of the options. Closing either closes both.
func (b *Bench) With(o Options) *Bench {
	o.fill()
	other := *b
	other.options = o
	return &other
}

// Path returns the path the bench was opened under.
func (b *Bench) Path() string { return b.path }

// Now is what the bench's clock shows.
func (b *Bench) Now() time.Time { return b.options.Now() }

// absolute is a path as dsn takes it; the working folder is known if a file in it
// was just written.
func absolute(path string) string {
	if abs, err := filepath.Abs(path); err == nil {
		return abs
	}
	return path
}

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
	*transaction
	stamp   Stamp
	changed bool                       // anything was written
	heard   func(error)                // hears of records left out
	pending map[string]numbers         // records stored since the last line of the log, by kind
	colored bool                       // records with colours were added
	ready   map[string]*sql.Stmt       // statements prepared in this transaction
	found   map[string]bool            // what was asked for and is there
	names   map[string]map[string]bool // names known to this transaction, by table
}

func newChange(ctx context.Context, tx *transaction, o Options) (*change, error) {
	o.fill()
	now, err := o.Now(), error(nil)
	if o.anyClock {
		now, err = tx.on.Now(ctx, tx.Tx)
	}
	return &change{
		transaction: tx,
		heard:       o.LeftOut,
		stamp:       Stamp{At: now.UTC().Truncate(time.Millisecond), Who: o.Who, Program: o.Program},
		pending:     map[string]numbers{},
		ready:       map[string]*sql.Stmt{},
		found:       map[string]bool{},
		names:       map[string]map[string]bool{},
	}, err
}

// write runs fn in one transaction and commits it.
func write[T any](ctx context.Context, b *Bench, fn func(*change) (T, error)) (T, error) {
	var none T
	if b.within != nil {
		return step(ctx, b, fn)
	}
	if b.fixed {
		return none, fmt.Errorf("%s: %w here; copy it to a folder that you can write to and work there", b.path, ErrReadOnly)
	}
	tx, err := b.on.Begin(ctx, true)
	if err != nil {
		return none, b.explain(err)
	}
	defer tx.Rollback()
	c, err := newChange(ctx, &transaction{tx, b.on}, b.options)
	if err != nil {
		return none, b.explain(err)
	}
	newest, err := c.newestLine(ctx)
	if err != nil {
		return none, b.explain(err)
	}
	v, err := fn(c)
	if err == nil && c.colored {
		err = c.packColors(ctx)
	}
	if err == nil && c.changed {
		err = b.on.Seal(ctx, tx)
	}
	var lines []LogLine
	if err == nil {
		lines, err = c.linesAfter(ctx, newest)
	}
	if err != nil {
		return none, b.explain(err)
	}
	if err := tx.Commit(); err != nil {
		if err := b.committed(err, lines); err != nil {
			return none, err
		}
	}
	if b.options.Stored != nil && len(lines) > 0 {
		b.options.Stored(lines)
	}
	return v, nil
}

// A snapshot is one reading transaction.
type snapshot struct {
	*transaction
	heard func(error)
}

func (s *snapshot) leaveOut(err error) { hear(s.heard, err) }
func (c *change) leaveOut(err error)   { hear(c.heard, err) }

func hear(by func(error), err error) {
	if by != nil {
		by(err)
	}
}

// read runs fn on one snapshot of the bench.
func read[T any](ctx context.Context, b *Bench, fn func(*snapshot) (T, error)) (T, error) {
	var none T
	if b.within != nil {
		v, err := fn(&snapshot{b.within.transaction, b.within.heard})
		if err != nil {
			return none, b.explain(err)
		}
		return v, nil
	}
	tx, err := b.on.Begin(ctx, false)
	if err != nil {
		return none, b.explain(err)
	}
	defer tx.Rollback()
	v, err := fn(&snapshot{&transaction{tx, b.on}, b.options.LeftOut})
	if err != nil {
		return none, b.explain(err)
	}
	return v, nil
}

// explain turns what the engine reports into a line that says what to do. Errors
// of this package pass through.
func (b *Bench) explain(err error) error { return b.on.Explain(err) }

// explain is for what SQLite reports of the file at path.
func explain(path string, err error) error {
	var s *sqlite.Error
	if err == nil || !errors.As(err, &s) {
		return err
	}
	switch s.Code() & 0xff {
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
		return fmt.Errorf("%s: %w: another program is writing or has it open; wait for it or close it and try again", path, ErrBusy)
	case sqlite3.SQLITE_NOTADB:
		return fmt.Errorf("%s: %w file; name another file or run %s", path, ErrNotBench, restoreVerb)
	case sqlite3.SQLITE_CORRUPT:
		return fmt.Errorf("%s: %w (%v); keep the file and run %s", path, ErrDamaged, err, restoreVerb)
	case sqlite3.SQLITE_FULL:
		return fmt.Errorf("%s: the disk is full; make room and try again, nothing was changed", path)
	case sqlite3.SQLITE_IOERR:
		return fmt.Errorf("%s: the disk cannot be read or written (%v); look at the disk, its room and its cable, and try again, nothing was changed", path, err)
	case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM:
		if lockedShared(absolute(path)) {
			return fmt.Errorf("%s: %w: the file %s-shm beside it is read-only; make it writable, or remove it while no program has the bench open", path, ErrReadOnly, path)
		}
		return fmt.Errorf("%s: %w (%v); check that its folder is there, and the permissions of both", path, ErrReadOnly, err)
	}
	return fmt.Errorf("%s: %w", path, err)
}
