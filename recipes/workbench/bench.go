package workbench

import (
	"context"
	"path"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"masstone/recipes/archive"
)

// Options of a bench.
type Options struct {
	Now     func() time.Time // clock; time.Now if nil, and for stamps in a database the server's
	Who     string           // who is at the bench
	Program string           // name and version of the program
	// Progress hears how far long work is; nil for nobody. It may be called from
	// several goroutines.
	Progress func(Progress)
	// LeftOut hears, once each, of records that verbs leave out because they break
	// the rules; nil for nobody.
	LeftOut func(error)
	// Damaged opens a bench whose pages or indexes are damaged all the same, for
	// the verbs that verify it or save the rest.
	Damaged bool
	// Stored hears what a verb stored, as soon as it is sure to stay: pour P3 (B1).
	// It is nil for nobody.
	Stored func(what []string)
}

// A Progress is how far long work is.
type Progress struct {
	Step        string // what is being done, "" where only the count moves
	Done, Total int    // Total 0: the end is not known; another Total: another piece of work
}

// A Bench is an open bench and the surroundings its verbs work in.
type Bench struct {
	archive *archive.Bench // nil without a file
	program string
	now     func() time.Time
	tell    func(Progress)
}

// Open opens the bench file at path.
func Open(ctx context.Context, path string, o Options) (*Bench, error) {
	return o.around(archive.Open(ctx, path, o.archive()))
}

// Create makes a bench file at path and opens it.
func Create(ctx context.Context, path string, o Options) (*Bench, error) {
	return o.around(archive.Create(ctx, path, o.archive()))
}

// WithoutFile is a bench without a file, for verbs that look at files and need
// none.
func WithoutFile(o Options) *Bench {
	b, _ := o.around(nil, nil)
	return b
}

func (o Options) archive() archive.Options {
	told := map[string]bool{}
	var one sync.Mutex
	a := archive.Options{Now: o.Now, Who: o.Who, Program: o.Program, Damaged: o.Damaged, LeftOut: func(err error) {
		one.Lock()
		defer one.Unlock()
		if line := err.Error(); o.LeftOut != nil && !told[line] {
			told[line] = true
			o.LeftOut(err)
		}
	}}
	if o.Progress != nil {
		a.Progress = func(done, total int) { o.Progress(Progress{Done: done, Total: total}) }
	}
	if o.Stored != nil {
		a.Stored = func(lines []archive.LogLine) { o.Stored(storedText(lines)) }
	}
	return a
}

// storedText says what lines of the log are about.
func storedText(lines []archive.LogLine) []string {
	var what []string
	for _, l := range lines {
		text := l.Verb
		if l.Subject != "" {
			text += " " + l.Subject
		}
		what = append(what, text)
	}
	return what
}

func (o Options) around(a *archive.Bench, err error) (*Bench, error) {
	if err != nil {
		return nil, err
	}
	b := &Bench{archive: a, program: o.Program, now: o.Now, tell: o.Progress}
	if b.now == nil {
		b.now = time.Now
	}
	if b.tell == nil {
		b.tell = func(Progress) {}
	}
	return b, nil
}

// With is the same open bench with another at it, where several people work at
// once in one program. Closing either closes both.
func (b *Bench) With(o Options) *Bench {
	other, _ := o.around(b.archive.With(o.archive()), nil)
	return other
}

// Path is the file the bench was opened under.
func (b *Bench) Path() string { return b.archive.Path() }

// Name is a short name of the bench: of its file, or its database.
func (b *Bench) Name() string {
	if InDatabase(b.Path()) {
		address, _, _ := strings.Cut(b.Path(), "?")
		return path.Base(address)
	}
	return filepath.Base(b.Path())
}

// InDatabase tells whether the name of a bench is the address of a database.
func InDatabase(path string) bool { return archive.InDatabase(path) }

// Shown is the name of a bench as it may be shown: an address without its password.
func Shown(path string) string { return archive.Shown(path) }

// Close closes the bench file.
func (b *Bench) Close() error {
	if b.archive == nil {
		return nil
	}
	return b.archive.Close()
}

// step tells what is being done.
func (b *Bench) step(text string) { b.tell(Progress{Step: text}) }

// count tells how much of the whole is done.
func (b *Bench) count(done, total int) { b.tell(Progress{Done: done, Total: total}) }
