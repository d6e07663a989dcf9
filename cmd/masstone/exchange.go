package main

import (
	"context"
	"io"
	"maps"
	"slices"

	"github.com/spf13/cobra"

	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func newExportCommand(env *Env) *cobra.Command {
	var r workbench.ExportRequest
	var out string
	var overwrite bool
	cmd := &cobra.Command{
		Use:   "export [--client NAME | --recipe RECIPE | --rest] --out FILE",
		Short: "Write a client, a recipe or the whole bench as a bundle",
		Long: `Writes a bundle: plain text, one JSON object per line, every record with its
checksum and the whole with another, for "masstone import" on another bench. A
client or a recipe comes with everything it was made from; without either it is
the whole bench. "--out -" is standard output.

  masstone export --client "Tern Lighting" --out tern.masstone

` + jsonKeys(workbench.Exported{}),
		Args: needs(),
		RunE: func(cmd *cobra.Command, args []string) error { return runExport(cmd.Context(), env, r, out, overwrite) },
	}
	f := cmd.Flags()
	f.StringVar(&r.Client, "client", "", "a client with all parts, targets, recipes, pours and approvals")
	f.StringVar(&r.Recipe, "recipe", "", "a `RECIPE` with its batches, pours and approvals")
	f.BoolVar(&r.Rest, "rest", false, "leave out what is damaged and what came from it, and name it")
	f.StringVar(&out, "out", "", "`FILE` to write, - for standard output")
	f.BoolVar(&overwrite, "overwrite", false, "write over FILE if it is there already")
	return cmd
}

func runExport(ctx context.Context, env *Env, r workbench.ExportRequest, out string, overwrite bool) error {
	switch {
	case out == "":
		return misusef("export: --out is missing; give the file to write, such as --out shop.masstone")
	case out == "-" && env.JSON:
		return misusef("export: --json and --out - would both write to standard output; give a file")
	}
	file := env.file(out, overwrite)
	file.Owner, file.Holds = true, r.Holds()
	if out != "-" {
		if err := file.Check(); err != nil {
			return err
		}
	}
	env.damaged = r.Rest
	return withBench(ctx, env, func(b *workbench.Bench) error {
		if out == "-" {
			v, err := workbench.Export(ctx, b, env.Stdout, r)
			if err == nil {
				env.say("%s: %s", v.Holds, figure.Count(v.Records, "record"))
				env.leftOut(v.Left)
			}
			return err
		}
		var v workbench.Exported
		err := file.Write(func(w io.Writer) (err error) { v, err = workbench.Export(ctx, b, w, r); return err })
		if err != nil {
			return err
		}
		env.leftOut(v.Left)
		if v.File = out; env.JSON {
			return env.emit(v)
		}
		env.print("%s: %s, %s", tidy(out), tidy(v.Holds), figure.Count(v.Records, "record"))
		return nil
	})
}

// leftOut says what a bundle or a bench lacks.
func (e *Env) leftOut(lines []string) {
	for _, line := range lines {
		e.say("left out: %s", line)
	}
}

func newImportCommand(env *Env) *cobra.Command {
	var r workbench.ImportRequest
	cmd := &cobra.Command{
		Use:   "import FILE",
		Short: "Take in a bundle from another bench",
		Long: `Takes in a bundle that "masstone export" wrote: all of it, or nothing if anything in
it is damaged or missing. The same bundle twice changes nothing. "-" is standard
input.

Where a name stands for one thing here and for another in the bundle nothing is
taken in, unless you say which counts; the other is kept behind it. Numbers such as
R12 may differ here; the answer says so.

` + jsonKeys(workbench.Imported{}),
		Args: needs("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runImport(cmd.Context(), env, args[0], r)
		},
	}
	cmd.Flags().BoolVar(&r.KeepMine, "keep-mine", false, "where a name stands for two things, this bench's counts")
	cmd.Flags().BoolVar(&r.TakeTheirs, "take-theirs", false, "where a name stands for two things, the bundle's counts")
	return cmd
}

func runImport(ctx context.Context, env *Env, file string, r workbench.ImportRequest) error {
	f, size, done, err := env.large(ctx, file, mostBundle)
	if err != nil {
		return err
	}
	defer done()
	r.Name, r.Data, r.Size = title(file), f, size
	return tell(ctx, env, func(b *workbench.Bench) (workbench.Imported, error) { return workbench.Import(ctx, b, r) }, func(v workbench.Imported) {
		env.print("%s: %s; %s added, %d unchanged", tidy(r.Name), tidy(v.Holds), figure.Count(v.Records, "record"), v.Unchanged)
		for _, kind := range slices.Sorted(maps.Keys(v.Added)) {
			env.print("  %s %d", kind, v.Added[kind])
		}
		for _, line := range v.Numbered {
			env.print("  %s", tidy(line))
		}
		for _, name := range v.Changed {
			env.print("  changed: %s", tidy(name))
		}
	})
}
