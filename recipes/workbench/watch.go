package workbench

import "context"

// Watch calls told when it begins to watch the bench, and then whenever something was
// stored on it by anybody, until the context ends or it can watch no longer. A bench
// in a file tells nobody: errors.ErrUnsupported.
func Watch(ctx context.Context, b *Bench, told func()) error { return b.archive.Watch(ctx, told) }
