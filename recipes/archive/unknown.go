package archive

import "fmt"

// An UnknownName is an error about a name that is not on the bench: it says which was
// asked for.
type UnknownName struct {
	Name string
	Err  error
}

func (u *UnknownName) Error() string { return u.Err.Error() }
func (u *UnknownName) Unwrap() error { return u.Err }

// notFound is an ErrNotFound for a name; the text goes on after "unknown ".
func notFound(name, format string, a ...any) error {
	return &UnknownName{name, fmt.Errorf("%w "+format, append([]any{ErrNotFound}, a...)...)}
}
