package main

import (
	"context"
	"errors"

	"masstone/recipes/archive"
)

// resinAt finds the resin a command means: the one named, or the only one.
func resinAt(ctx context.Context, b *archive.Bench, code string) (archive.Resin, error) {
	if code != "" {
		return b.Resin(ctx, code)
	}
	resins, err := b.Resins(ctx)
	switch {
	case err != nil:
		return archive.Resin{}, err
	case len(resins) == 1:
		return resins[0], nil
	case len(resins) == 0:
		return archive.Resin{}, errors.New("no resin on this bench; add one with masstone resin add")
	}
	var codes []string
	for _, r := range resins {
		codes = append(codes, r.Code)
	}
	return archive.Resin{}, misusef("which resin? say --resin with one of %s", listed(codes))
}
