package archive

import (
	"context"
	"database/sql"
	"errors"
	"math/rand/v2"
	"strings"
	"time"

	"masstone/recipes/archive/engine"
	"masstone/recipes/archive/postgres"
	"masstone/recipes/archive/sqlite"
)

// What can go wrong, for errors.Is. The error's own text says where and what
// to do.
var (
	ErrNoBench   = engine.ErrNoBench
	ErrNotBench  = engine.ErrNotBench
	ErrNewer     = engine.ErrNewer
	ErrExists    = engine.ErrExists
	ErrNotFound  = errors.New("unknown")
	ErrConflict  = errors.New("differs from what the bench holds")
	ErrAmbiguous = errors.New("ambiguous name")
	ErrInvalid   = engine.ErrInvalid
	ErrBusy      = engine.ErrBusy
	ErrDamaged   = engine.ErrDamaged
	ErrReadOnly  = engine.ErrReadOnly
	ErrUnsure    = engine.ErrUnsure
	ErrAway      = engine.ErrAway
	ErrLost      = engine.ErrLost
	ErrFull      = engine.ErrFull
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

// A Bench is an open bench. Its methods may be called from any goroutine.
type Bench struct {
	on      engine.DB
	path    string
	options Options
	within  *change // the transaction of Together; nil outside of one
	made    *makings
}

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

// Create makes a bench at path, with the backings white (0.90) and black (0.03)
// on it, and opens it. The error is ErrExists if path holds anything.
func Create(ctx context.Context, path string, o Options) (*Bench, error) {
	return open(ctx, path, o, true)
}

// Open opens the bench at path. A bench of an older schema is copied to a
// file beside it and migrated first; a newer one is refused with ErrNewer.
func Open(ctx context.Context, path string, o Options) (*Bench, error) {
	return open(ctx, path, o, false)
}

func open(ctx context.Context, path string, o Options, create bool) (*Bench, error) {
	o.fill()
	how := sqlite.Open
	if InDatabase(path) {
		how = postgres.Open
	}
	on, err := how(ctx, path, engine.Options{Create: create, Wait: o.Wait, Now: o.Now, Link: o.linkOld, Damaged: o.Damaged, Spare: o.spare})
	if err != nil {
		return nil, err
	}
	return benchOn(on, path, o), nil
}

// benchOn is a bench of what an engine opened.
func benchOn(on engine.DB, path string, o Options) *Bench {
	return &Bench{on: on, path: Shown(path), options: o, made: newMakings()}
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

// Through is the same open bench, reached through what around makes of its engine:
// for tests of what becomes of work that an engine refuses.
func (b *Bench) Through(around func(engine.DB) engine.DB) *Bench {
	other := *b
	other.on = around(b.on)
	return &other
}

// Path returns the path the bench was opened under.
func (b *Bench) Path() string { return b.path }

// Now is what the bench's clock shows.
func (b *Bench) Now() time.Time { return b.options.Now() }

// A change is one writing transaction and the stamp its records get.
type change struct {
	*transaction
	stamp   Stamp
	changed bool                       // anything was written
	broken  error                      // what ended the transaction before its time
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

// mostTries is how often a transaction is done that the engine undoes for the sake
// of others.
const mostTries = 10

// write runs fn in one transaction and commits it. Where the engine undoes that for
// the sake of another transaction it runs fn again, in a new one.
func write[T any](ctx context.Context, b *Bench, fn func(*change) (T, error)) (v T, err error) {
	if b.within != nil {
		return step(ctx, b, fn)
	}
	for try := range mostTries {
		v, err = once(ctx, b, fn)
		if !engine.Undone(err) || try == mostTries-1 {
			break
		}
		select {
		case <-ctx.Done():
			return v, ctx.Err()
		case <-time.After(rand.N(time.Millisecond << try)):
		}
	}
	return v, err
}

// once runs fn in one transaction and commits it.
func once[T any](ctx context.Context, b *Bench, fn func(*change) (T, error)) (T, error) {
	var none T
	tx, end, err := b.on.Begin(ctx, true)
	if err != nil {
		return none, b.explain(err)
	}
	defer end()
	c, err := newChange(ctx, &transaction{tx, b.on}, b.options)
	if err != nil {
		return none, b.explain(err)
	}
	newest, err := c.newestLine(ctx)
	if err != nil {
		return none, b.explain(err)
	}
	v, err := fn(c)
	if c.broken != nil {
		err = c.broken
	}
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
	err = tx.Commit()
	end()
	if err != nil {
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
	tx, end, err := b.on.Begin(ctx, false)
	if err != nil {
		return none, b.explain(err)
	}
	defer end()
	v, err := fn(&snapshot{&transaction{tx, b.on}, b.options.LeftOut})
	if err != nil {
		return none, b.explain(err)
	}
	return v, nil
}

// explain turns what the engine reports into a line that says what to do. Errors
// of this package pass through, but for what an engine calls otherwise.
func (b *Bench) explain(err error) error {
	err = b.on.Explain(err)
	if _, back := b.on.Place(); errors.Is(err, ErrDamaged) { // as the archive found, which knows files
		if text := strings.Replace(err.Error(), engine.KeepFile, back, 1); text != err.Error() {
			return engine.Reword(err, text)
		}
	}
	return err
}
