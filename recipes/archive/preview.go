package archive

import (
	"context"
	"errors"
)

// PreviewChips says what ImportChips would do with Replace, and does nothing:
// the same checks, the same report.
func (b *Bench) PreviewChips(ctx context.Context, resin string, chips []Chip) (Report, error) {
	return preview(ctx, b, func(c *change) (Report, error) { return c.importChips(ctx, resin, chips, Replace) })
}

// PreviewPigments says what ImportPigments would do, and does nothing.
func (b *Bench) PreviewPigments(ctx context.Context, pigments []Pigment) (Report, error) {
	if err := checkPigments(pigments); err != nil {
		return Report{}, err
	}
	return preview(ctx, b, func(c *change) (Report, error) { return c.importPigments(ctx, pigments) })
}

// errPreview takes a change back that was made to see what it comes to.
var errPreview = errors.New("preview")

// preview runs fn in a transaction and takes back what it did.
func preview[T any](ctx context.Context, b *Bench, fn func(*change) (T, error)) (T, error) {
	var got T
	none, err := write(ctx, b, func(c *change) (v T, err error) {
		if got, err = fn(c); err == nil {
			err = errPreview
		}
		return got, err
	})
	if errors.Is(err, errPreview) {
		return got, nil
	}
	return none, err
}
