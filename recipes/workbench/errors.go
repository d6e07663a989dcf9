package workbench

import (
	"errors"
	"fmt"

	"masstone/color/remedy"
	"masstone/recipes/archive"
)

// A Kind is what sort of fault an error is, which a face may answer each in its
// way: a command by its exit code, a page by its status.
type Kind int

// The kinds.
const (
	Failed     Kind = iota // anything else: a file, a fit, a bench in use
	Invalid                // the request itself: something missing, out of range, contradictory
	NotFound               // what the request names is not on the bench
	Conflict               // the bench says something else, or was changed meanwhile
	OutOfReach             // no mixture under these limits
	Repeated               // the same was recorded a moment ago
)

// An Error is a fault of a known kind.
type Error struct {
	Kind  Kind
	Field string // input of the request at fault, "" for none in particular
	err   error
}

func (e *Error) Error() string { return e.err.Error() }
func (e *Error) Unwrap() error { return e.err }

// invalid is a fault of the request, at an input ("" for several).
func invalid(field, format string, a ...any) error {
	return &Error{Invalid, field, fmt.Errorf(format, a...)}
}

// outOfRange is a number that an input does not take.
func outOfRange(field string, value any, allowed string) error {
	return invalid(field, "%s: is out of range; give %s", remedy.InputAs(field, fmt.Sprint(value)), allowed)
}

// missing is an input that is needed, with an example of it.
func missing(what, field, why, example string) error {
	return invalid(field, "%s: %s is missing; %s, such as %s", what, remedy.Input(field), why, remedy.InputAs(field, example))
}

// outOfReach is a request that no mixture fulfils.
func outOfReach(format string, a ...any) error {
	return &Error{OutOfReach, "", fmt.Errorf(format, a...)}
}

// UnknownName is the name that the bench does not know, empty where an error is of
// something else.
func UnknownName(err error) string {
	var unknown *archive.UnknownName
	if errors.As(err, &unknown) {
		return unknown.Name
	}
	return ""
}

// KindOf is what sort of fault an error of a verb is.
func KindOf(err error) Kind {
	var e *Error
	switch {
	case errors.As(err, &e):
		return e.Kind
	case errors.Is(err, archive.ErrNotFound), errors.Is(err, archive.ErrNoBench):
		return NotFound
	case errors.Is(err, archive.ErrConflict), errors.Is(err, archive.ErrExists), errors.Is(err, archive.ErrAmbiguous):
		return Conflict
	case errors.Is(err, archive.ErrInvalid):
		return Invalid
	}
	return Failed
}
