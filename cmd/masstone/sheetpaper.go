package main

import (
	"context"

	"masstone/recipes/archive"
)

// pigmentNames are the plain names of the pigments by code.
func pigmentNames(ctx context.Context, b *archive.Bench) (map[string]string, error) {
	pigments, err := b.Pigments(ctx)
	names := map[string]string{}
	for _, p := range pigments {
		names[p.Code] = p.Name
	}
	return names, err
}
