package main

import (
	"context"
	"errors"

	"github.com/spf13/cobra"

	"masstone/color/readings"
	"masstone/recipes/workbench"
)

func newReadingCommand(env *Env) *cobra.Command {
	return newFamily("reading", "Readings: type them in, check a file, convert one", newReadingAddCommand(env), newReadingCheckCommand(env), newReadingConvertCommand(env))
}

// kindText says what a file holds.
func kindText(k readings.Kind) string {
	if k == readings.PigmentsKind {
		return "a pigment list"
	}
	return string(k)
}

// atAnyBench opens the bench where there is one: a file can be looked at
// without.
func atAnyBench(ctx context.Context, env *Env, do func(*workbench.Bench) error) error {
	p := env.progress()
	defer p.end()
	b := workbench.WithoutFile(env.workbenchOptions(p))
	if path, _, err := env.benchPath(); err == nil {
		if at, err := workbench.Open(ctx, path, env.workbenchOptions(p)); err == nil {
			b = at
		}
	}
	return errors.Join(do(b), b.Close())
}
