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
		Long: `Writes a complete copy of the bench, as of one moment, to a new file.

` + jsonKeys(workbench.Copied{}),
		Args: needs("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error { return runBackup(cmd.Context(), env, args[0]) },
	}
}

func runBackup(ctx context.Context, env *Env, file string) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.Copied, error) { return workbench.Backup(ctx, b, env.path(file)) }, func(v workbench.Copied) {
		env.print("%s copied to %s", tidy(v.Bench), tidy(v.Backup))
	})
}

func newVerifyCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "verify",
		Short: "Re-read the whole bench and check it",
		Long: `Re-reads the whole bench and checks every page, reference and checksum. Exit code
1 if anything is wrong.

` + jsonKeys(workbench.Checked{}),
		Args: needs(),
		RunE: func(cmd *cobra.Command, args []string) error { return runVerify(cmd.Context(), env) },
	}
}

func runVerify(ctx context.Context, env *Env) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := workbench.Verify(ctx, b)
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
	f.IntVar(&r.Limit, "limit", 50, "most lines to show, the newest; 0 for all")
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
