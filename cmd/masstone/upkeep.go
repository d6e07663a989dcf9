package main

import (
	"context"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"masstone/recipes/archive"
)

// day is a moment as results print it.
func day(t time.Time) string { return t.UTC().Format(time.RFC3339) }

func newBackupCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "backup FILE",
		Short: "Copy the bench to a new file while it stays in use",
		Long: `Writes a complete copy of the bench, as of one moment, to a new file.

JSON keys: bench, backup.`,
		Args: needs("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error { return runBackup(cmd.Context(), env, args[0]) },
	}
}

func runBackup(ctx context.Context, env *Env, file string) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		if err := b.Backup(ctx, env.path(file)); err != nil {
			return err
		}
		if env.JSON {
			return env.emit(struct {
				Bench  string `json:"bench"`
				Backup string `json:"backup"`
			}{b.Path(), file})
		}
		env.print("%s copied to %s", tidy(b.Path()), tidy(file))
		return nil
	})
}

func newVerifyCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "verify",
		Short: "Re-read the whole bench and check it",
		Long: `Re-reads the whole bench and checks every page, reference and checksum. Exit code
1 if anything is wrong.

JSON keys: records, problems (a list of where, what, do).`,
		Args: needs(),
		RunE: func(cmd *cobra.Command, args []string) error { return runVerify(cmd.Context(), env) },
	}
}

func runVerify(ctx context.Context, env *Env) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		checked, err := b.Verify(ctx)
		if err != nil {
			return err
		}
		if env.JSON {
			if checked.Problems == nil {
				checked.Problems = []archive.Problem{}
			}
			if err := env.emit(checked); err != nil {
				return err
			}
		} else {
			for _, p := range checked.Problems {
				env.print("%s", tidy(p.String()))
			}
			env.print("%s: %s checked, %s", tidy(b.Path()), plural(checked.Records, "record"), plural(len(checked.Problems), "problem"))
		}
		if n := len(checked.Problems); n > 0 {
			return fmt.Errorf("%s: %s found; keep the file and restore a backup", b.Path(), plural(n, "problem"))
		}
		return nil
	})
}

type logOptions struct {
	about, who string
	limit      int
}

func newLogCommand(env *Env) *cobra.Command {
	var o logOptions
	cmd := &cobra.Command{
		Use:   "log",
		Short: "Show who changed what on the bench, and when",
		Long: `Shows the changes to the bench, the newest last.

JSON keys: log, a list of id, at, who, program, verb, subject, detail.`,
		Args: needs(),
		RunE: func(cmd *cobra.Command, args []string) error { return runLog(cmd.Context(), env, o) },
	}
	f := cmd.Flags()
	f.StringVar(&o.about, "about", "", "only lines with these words")
	f.StringVar(&o.who, "who", "", "only changes by this person")
	f.IntVar(&o.limit, "limit", 50, "most lines to show, the newest; 0 for all")
	return cmd
}

func runLog(ctx context.Context, env *Env, o logOptions) error {
	if o.limit < 0 {
		return misusef("--limit %d: is out of range; give 0 or more", o.limit)
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		lines, err := b.Log(ctx, archive.LogFilter{About: o.about, Who: o.who, Limit: o.limit})
		if err != nil {
			return err
		}
		if env.JSON {
			if lines == nil {
				lines = []archive.LogLine{}
			}
			return env.emit(struct {
				Log []archive.LogLine `json:"log"`
			}{lines})
		}
		t := newTable("at", "who", "what", "", "")
		for _, l := range lines {
			t.add(l.At.Format("2006-01-02 15:04"), l.Who, l.Verb, l.Subject, l.Detail)
		}
		t.print(env.Stdout)
		return nil
	})
}
