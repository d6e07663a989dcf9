package archive

import (
	"cmp"
	"context"
	"maps"
)

// Together runs fn in one transaction. What fn does with the bench it is given
// is stored as a whole when Together returns nil; when fn or Together returns an
// error, or the process dies, nothing of it is. What fn reads includes what it
// has written.
//
// fn must use the bench it is given, from one goroutine, and not after it has
// returned: the bench outside waits for the transaction like any other program.
//
// fn may be run more than once. A database undoes a transaction that cannot have come
// before or after one of somebody else's, which is then done again from the beginning,
// and is there once. So fn must begin with what was before, and change nothing else
// outside that it could not change again.
func (b *Bench) Together(ctx context.Context, fn func(*Bench) error) error {
	_, err := write(ctx, b, func(c *change) (struct{}, error) {
		inside := *b
		inside.within = c
		return struct{}{}, fn(&inside)
	})
	return err
}

// step runs fn within the transaction of Together, and takes back what it did
// if it fails, so that one method is all or nothing there too.
func step[T any](ctx context.Context, b *Bench, fn func(*change) (T, error)) (v T, err error) {
	err = b.within.attempt(ctx, func() error {
		v, err = fn(b.within)
		return err
	})
	if err != nil {
		var none T
		return none, b.explain(err)
	}
	return v, nil
}

// attempt takes back what do did if it fails.
func (c *change) attempt(ctx context.Context, do func() error) error {
	if _, err := c.ExecContext(ctx, "SAVEPOINT step"); err != nil {
		return err
	}
	pending := maps.Clone(c.pending)
	err, end := do(), "RELEASE step"
	if err != nil {
		end = "ROLLBACK TO step; RELEASE step"
		clear(c.names) // may hold names that go
		clear(c.found)
		c.pending = pending
	}
	if _, lost := c.ExecContext(ctx, end); lost != nil { // the engine has taken back the whole of it
		c.broken = cmp.Or(c.broken, err, lost)
		c.Rollback()
		return c.broken
	}
	return err
}
