package engine

import (
	"errors"
	"fmt"

	"masstone/color/remedy"
)

// What can go wrong with a bench, for errors.Is. The error's own text says where and
// what to do.
var (
	ErrNoBench  = errors.New("no bench")
	ErrNotBench = errors.New("not a bench")
	ErrNewer    = errors.New("made by a newer program")
	ErrExists   = errors.New("already there")
	ErrInvalid  = errors.New("impossible value")
	ErrBusy     = errors.New("bench is busy")
	ErrDamaged  = errors.New("bench is damaged")
	ErrReadOnly = errors.New("cannot be written")
	ErrUnsure   = errors.New("the disk failed while a change was stored")
	ErrAway     = errors.New("cannot be reached")
	ErrLost     = errors.New("the connection was lost")
	ErrFull     = errors.New("there is no room")
)

// Reword is an error that reads otherwise.
func Reword(err error, text string) error { return reworded{err, text} }

type reworded struct {
	error
	text string
}

func (r reworded) Error() string { return r.text }
func (r reworded) Unwrap() error { return r.error }

// Undo is the error of a transaction that the engine undid for the sake of another
// one: done again it may well come through.
func Undo(err error) error { return undone{err} }

// Undone tells whether an error is such a one, or came of one.
func Undone(err error) bool {
	var u undone
	return errors.As(err, &u)
}

type undone struct{ error }

func (u undone) Unwrap() error { return u.error }

// What to do about a bench.
var (
	RestoreVerb = remedy.Verb("restore", "BACKUP")
	RestVerb    = remedy.Verb("export", "--rest", "--out", "FILE")
	LogVerb     = remedy.Verb("log")
	// KeepFile is how a damaged file goes back to its backup.
	KeepFile = "keep the file and run " + RestoreVerb
)

// InitVerb makes a bench of that name.
func InitVerb(name string) string { return remedy.Verb("init", remedy.InputAs("bench", name)) }

// NotFile refuses what is done to a file; shown is the address of a database.
func NotFile(verb, shown, instead string) error {
	return fmt.Errorf("%s %s: %w: the bench is in a database, which is %s; or keep a bundle of it with %s",
		verb, shown, ErrInvalid, instead, remedy.Verb("export", "--out", "FILE"))
}
