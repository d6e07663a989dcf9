package archive

import "context"

// Watch calls told when it begins to watch the bench, and then whenever something was
// stored on it by anybody, until the context ends or it can watch no longer. A file
// tells nobody: errors.ErrUnsupported.
func (b *Bench) Watch(ctx context.Context, told func()) error {
	return b.explain(b.on.Watch(ctx, told))
}
