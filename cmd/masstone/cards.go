package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"masstone/recipes/archive"
)

// onChange says what --replace means to the archive.
func onChange(replace bool) archive.OnChange {
	if replace {
		return archive.Replace
	}
	return archive.Refuse
}

// advise adds what to do to the refusal of a card that says something else.
func advise(err error, what string) error {
	if !errors.Is(err, archive.ErrConflict) {
		return err
	}
	between := "; "
	if strings.Contains(err.Error(), "\n") {
		between = "\n" // several cards, a line each
	}
	return fmt.Errorf("%w%s%s; nothing was changed", err, between, what)
}

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

// pigmentCodes lists the codes of the shelf.
func pigmentCodes(ctx context.Context, b *archive.Bench) ([]string, error) {
	pigments, err := b.Pigments(ctx)
	codes := make([]string, len(pigments))
	for i, p := range pigments {
		codes[i] = p.Code
	}
	return codes, err
}
