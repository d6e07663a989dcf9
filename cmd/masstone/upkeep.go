package main

import (
	"context"
	"errors"

	"github.com/spf13/cobra"

	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func newBackupCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "backup FILE",
		Short: "Copy the bench to a new file while it stays in use",
		Long: `Writes a complete copy of the bench, as of one moment, to a new file. Write down the
head of the log that it answers with: "masstone verify --head" holds the bench or
the copy against it.

` + jsonKeys(workbench.Copied{}),
		Args: needs("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error { return runBackup(cmd.Context(), env, args[0]) },
	}
}

func runBackup(ctx context.Context, env *Env, file string) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.Copied, error) {
		v, err := workbench.Backup(ctx, b, env.path(file))
		if err == nil {
			env.noteWritten(file)
		}
		return v, err
	}, func(v workbench.Copied) {
		env.print("%s copied to %s", tidy(v.Bench), tidy(v.Backup))
		if v.Head != "" {
			env.print("head of its log %s", v.Head)
		}
	})
}

func newRestoreCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "restore BACKUP",
		Short: "Put a backup in the place of the bench",
		Long: `Checks a backup as "masstone verify" does, and puts a copy of it in the place of the
bench. No program may have the bench open. What was there is kept beside it, under
a name with the time. A backup of an older version is brought to this one.

Do not copy a backup over a bench by hand: changes waiting in the file beside it
that ends in -wal would go into the copy and damage it.

` + jsonKeys(workbench.Restored{}),
		Args: needs("BACKUP"),
		RunE: func(cmd *cobra.Command, args []string) error { return runRestore(cmd.Context(), env, args[0]) },
	}
}

func runRestore(ctx context.Context, env *Env, backup string) error {
	path, _, err := env.benchPath()
	if err != nil {
		return err
	}
	v, err := workbench.Restore(ctx, path, env.path(backup), env.workbenchOptions(env.progress()))
	if err != nil {
		return err
	}
	env.noteWritten(v.Bench + ", from " + backup)
	if v.Replaced != "" {
		env.noteWritten(v.Replaced + ", what was there before")
	}
	if env.JSON {
		return env.emit(v)
	}
	env.print("%s: %s of %s checked and put in its place", tidy(v.Bench), figure.Count(v.Records, "record"), tidy(v.Backup))
	if v.Replaced != "" {
		env.print("what was there is now %s", tidy(v.Replaced))
	}
	return nil
}

func newVerifyCommand(env *Env) *cobra.Command {
	var r workbench.VerifyRequest
	cmd := &cobra.Command{
		Use:   "verify [--head HEAD]",
		Short: "Re-read the whole bench and check it",
		Long: `Re-reads the whole bench and checks every page, reference, checksum and the chain
of the log, in which every line proves the one before and what it stored. Exit
code 1 if anything is wrong.

A chain that was cut off at its end, or made anew as a whole, shows only against a
head that was written down: certificates, cards of approved recipes, "masstone
approval show" and "masstone backup" carry one.

  masstone verify --head 57-3fa9c1d2e4b57a01

` + jsonKeys(workbench.Checked{}),
		Args: needs(),
		RunE: func(cmd *cobra.Command, args []string) error { return runVerify(cmd.Context(), env, r) },
	}
	cmd.Flags().StringSliceVar(&r.Heads, "head", nil, "`HEAD` of the log as a paper or a backup carries it (may be repeated)")
	return cmd
}

func runVerify(ctx context.Context, env *Env, r workbench.VerifyRequest) error {
	env.damaged = true
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := workbench.Verify(ctx, b, r)
		if err != nil {
			return err
		}
		if env.JSON {
			return errors.Join(env.emit(v), v.Err())
		}
		for _, p := range v.Problems {
			env.print("%s", tidy(p.String()))
		}
		env.print("%s: %s checked, %s", tidy(v.Bench), figure.Count(v.Records, "record"), figure.Count(len(v.Problems), "problem"))
		for _, line := range v.Unchecked {
			env.print("not checked: %s", tidy(line))
		}
		if v.LinkedFrom > 1 {
			env.print("the log is linked from line %d on, where an older bench was brought to this version", v.LinkedFrom)
		}
		if v.Head != "" {
			env.print("head of the log %s", v.Head)
		}
		return v.Err()
	})
}

func newLogCommand(env *Env) *cobra.Command {
	var r workbench.LogRequest
	cmd := &cobra.Command{
		Use:   "log",
		Short: "Show who changed what on the bench, and when",
		Long: `Shows the changes to the bench, the newest last.

` + jsonKeys(workbench.LogList{}),
		Args: needs(),
		RunE: func(cmd *cobra.Command, args []string) error { return runLog(cmd.Context(), env, r) },
	}
	f := cmd.Flags()
	f.StringVar(&r.About, "about", "", "only lines with these words")
	f.StringVar(&r.Who, "who", "", "only changes by this person")
	wholeVar(f, &r.Limit, "limit", 50, "most lines to show, the newest; 0 for all")
	return cmd
}

func runLog(ctx context.Context, env *Env, r workbench.LogRequest) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.LogList, error) { return workbench.Log(ctx, b, r) }, func(v workbench.LogList) {
		t := newTable("at", "who", "what", "", "")
		for _, l := range v.Log {
			t.add(l.At.Format("2006-01-02 15:04"), l.Who, l.Verb, l.Subject, l.Detail)
		}
		t.print(env.Stdout)
	})
}
