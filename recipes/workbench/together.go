package workbench

import (
	"context"

	"masstone/recipes/archive"
)

// together stores in one transaction what fn does, and says what came of it in v. A
// database may have fn run again, where others were in the way: each time it begins
// with v as it was, and what else it changes must be its own.
func together[V any](ctx context.Context, b *Bench, v *V, fn func(*archive.Bench) error) error {
	before := *v
	return b.archive.Together(ctx, func(a *archive.Bench) error {
		*v = before
		return fn(a)
	})
}
