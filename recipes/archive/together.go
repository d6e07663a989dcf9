package archive

import (
	"context"
	"slices"
)

// Together runs fn in one transaction. What fn does with the bench it is given
// is stored as a whole when Together returns nil; when fn or Together returns an
// error, or the process dies, nothing of it is. What fn reads includes what it
// has written.
//
// fn must use the bench it is given, from one goroutine, and not after it has
// returned: the bench outside waits for the transaction like any other program.
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
func step[T any](ctx context.Context, b *Bench, fn func(*change) (T, error)) (T, error) {
	var none T
	if _, err := b.within.ExecContext(ctx, "SAVEPOINT step"); err != nil {
		return none, b.explain(err)
	}
	pending := slices.Clone(b.within.pending)
	v, err := fn(b.within)
	if err == nil {
		if _, err := b.within.ExecContext(ctx, "RELEASE step"); err != nil {
			return none, b.explain(err)
		}
		return v, nil
	}
	clear(b.within.names) // may hold names that go
	b.within.pending = pending
	if _, back := b.within.ExecContext(ctx, "ROLLBACK TO step; RELEASE step"); back != nil {
		return none, b.explain(back)
	}
	return none, b.explain(err)
}
