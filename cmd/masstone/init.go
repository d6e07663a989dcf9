package main

import (
	"context"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"masstone/recipes/workbench"
)

func newInitCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "init",
		Short: "Make a new bench file",
		Long: `Makes a new bench file: one file that keeps resins, pigments, chips,
calibrations, targets, recipes and batches. It holds the backings white (0.90)
and black (0.03) from the start; replace them by readings with
"masstone backing add".

With --bench postgres://ROLE@HOST/DATABASE the bench is made in a database that is
there, in a schema of its own called masstone (?search_path=NAME for another). The
password comes from PGPASSWORD or the file .pgpass.

Without --bench and MASSTONE_BENCH the bench goes to the user data folder.

` + jsonKeys(workbench.NewBench{}),
		Args: needs(),
		RunE: func(cmd *cobra.Command, args []string) error { return runInit(cmd.Context(), env) },
	}
}

func runInit(ctx context.Context, env *Env) error {
	path := env.benchAt(env.Bench)
	if env.Bench == "" {
		path = env.benchAt(env.Getenv("MASSTONE_BENCH"))
		if env.Getenv("MASSTONE_BENCH") == "" {
			usual, err := env.usualBench()
			if err != nil {
				return err
			}
			if err := os.MkdirAll(filepath.Dir(usual), 0o755); err != nil {
				return err
			}
			path = usual
		}
	}
	v, err := workbench.Init(ctx, path, env.workbenchOptions(env.progress()))
	if err != nil {
		return err
	}
	if env.JSON {
		return env.emit(v)
	}
	env.print("new bench %s", tidy(v.Bench))
	for _, k := range v.Backings {
		env.print("  backing %s %s", k.Name, backingText(k))
	}
	return env.remindOf(path)
}

// remindOf says how later commands find the bench, where they would not.
func (e *Env) remindOf(path string) error {
	other := &Env{Getenv: e.Getenv, Dir: e.Dir}
	found, lying, err := other.benchPath()
	if workbench.InDatabase(path) {
		if shown := workbench.Shown(path); err != nil || found != path {
			e.say("commands use it with --bench %s, or after: export MASSTONE_BENCH=%s", quoted(shown), quoted(shown))
		}
		return nil
	}
	absolute, absErr := filepath.Abs(path)
	if absErr != nil {
		return absErr
	}
	reached, absErr := filepath.Abs(found)
	switch {
	case absErr != nil:
		return absErr
	case err == nil && reached == absolute && !lying:
	case err == nil && reached == absolute:
		e.say("commands in this folder use it; elsewhere say --bench %s, or set MASSTONE_BENCH=%s", quoted(absolute), quoted(absolute))
	default:
		e.say("commands use it with --bench %s, or after: export MASSTONE_BENCH=%s", quoted(path), quoted(absolute))
	}
	return nil
}
