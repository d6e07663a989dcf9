package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"

	"github.com/spf13/cobra"

	"masstone/recipes/archive"
)

type exportOptions struct {
	client, recipe, out string
	overwrite           bool
}

func newExportCommand(env *Env) *cobra.Command {
	var o exportOptions
	cmd := &cobra.Command{
		Use:   "export [--client NAME | --recipe RECIPE] --out FILE",
		Short: "Write a client, a recipe or the whole bench as a bundle",
		Long: `Writes a bundle: plain text, one JSON object per line, every record with its
checksum and the whole with another, for "masstone import" on another bench. A
client or a recipe comes with everything it was made from; without either it is
the whole bench. "--out -" is standard output.

  masstone export --client "Tern Lighting" --out tern.masstone

JSON keys: file, holds, records.`,
		Args: needs(),
		RunE: func(cmd *cobra.Command, args []string) error { return runExport(cmd.Context(), env, o) },
	}
	f := cmd.Flags()
	f.StringVar(&o.client, "client", "", "a client with all parts, targets, recipes, pours and approvals")
	f.StringVar(&o.recipe, "recipe", "", "a `RECIPE` with its batches, pours and approvals")
	f.StringVar(&o.out, "out", "", "`FILE` to write, - for standard output")
	f.BoolVar(&o.overwrite, "overwrite", false, "write over FILE if it is there already")
	return cmd
}

func runExport(ctx context.Context, env *Env, o exportOptions) error {
	if o.out == "" {
		return misusef("export: --out is missing; give the file to write, such as --out shop.masstone")
	}
	if o.client != "" && o.recipe != "" {
		return misusef("export: give either --client or --recipe")
	}
	if o.out == "-" && env.JSON {
		return misusef("export: --json and --out - would both write to standard output; give a file")
	}
	if o.out != "-" {
		if err := env.free(o.out, o.overwrite); err != nil {
			return err
		}
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		write, holds := b.Export, "the whole bench"
		switch {
		case o.client != "":
			holds = "client " + o.client
			write = func(ctx context.Context, w io.Writer) (int, error) { return b.ExportClient(ctx, w, o.client) }
		case o.recipe != "":
			holds = "recipe " + o.recipe
			write = func(ctx context.Context, w io.Writer) (int, error) { return b.ExportRecipe(ctx, w, o.recipe) }
		}
		if o.out == "-" {
			n, err := write(ctx, env.Stdout)
			if err == nil {
				env.say("%s: %s", holds, plural(n, "record"))
			}
			return err
		}
		n := 0
		if err := env.write(o.out, func(w io.Writer) (err error) { n, err = write(ctx, w); return err }); err != nil {
			return err
		}
		if env.JSON {
			return env.emit(struct {
				File    string `json:"file"`
				Holds   string `json:"holds"`
				Records int    `json:"records"`
			}{o.out, holds, n})
		}
		env.print("%s: %s, %s", tidy(o.out), tidy(holds), plural(n, "record"))
		return nil
	})
}

type importOptions struct {
	file               string
	keepMine, useTheir bool
}

func newImportCommand(env *Env) *cobra.Command {
	var o importOptions
	cmd := &cobra.Command{
		Use:   "import FILE",
		Short: "Take in a bundle from another bench",
		Long: `Takes in a bundle that "masstone export" wrote: all of it, or nothing if anything in
it is damaged or missing. The same bundle twice changes nothing. "-" is standard
input.

Where a name stands for one thing here and for another in the bundle nothing is
taken in, unless you say which counts; the other is kept behind it. Numbers such as
R12 may differ here; the answer says so.

JSON keys: holds, added (records by kind), unchanged (records), changed (names that
stand for something else now), numbered.`,
		Args: needs("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.file = args[0]
			return runImport(cmd.Context(), env, o)
		},
	}
	cmd.Flags().BoolVar(&o.keepMine, "keep-mine", false, "where a name stands for two things, this bench's counts")
	cmd.Flags().BoolVar(&o.useTheir, "take-theirs", false, "where a name stands for two things, the bundle's counts")
	return cmd
}

func runImport(ctx context.Context, env *Env, o importOptions) error {
	on := archive.RefuseConflicts
	switch {
	case o.keepMine && o.useTheir:
		return misusef("import: give either --keep-mine or --take-theirs")
	case o.keepMine:
		on = archive.KeepMine
	case o.useTheir:
		on = archive.TakeTheirs
	}
	f, err := env.read(o.file)
	if err != nil {
		return err
	}
	defer f.Close()
	return withBench(ctx, env, func(b *archive.Bench) error {
		got, err := b.Import(ctx, f, on)
		if err != nil {
			if errors.Is(err, archive.ErrConflict) && on == archive.RefuseConflicts {
				return fmt.Errorf("%s: %w; --keep-mine or --take-theirs says so", title(o.file), err)
			}
			return fmt.Errorf("%s: %w", title(o.file), err)
		}
		if env.JSON {
			if got.Changed == nil {
				got.Changed = []string{}
			}
			if got.Numbered == nil {
				got.Numbered = []string{}
			}
			return env.emit(got)
		}
		n := 0
		for _, k := range got.Added {
			n += k
		}
		env.print("%s: %s; %s added, %d unchanged", tidy(title(o.file)), tidy(got.Holds), plural(n, "record"), got.Unchanged)
		for _, kind := range slices.Sorted(maps.Keys(got.Added)) {
			env.print("  %s %d", kind, got.Added[kind])
		}
		for _, line := range got.Numbered {
			env.print("  %s", tidy(line))
		}
		for _, name := range got.Changed {
			env.print("  changed: %s", tidy(name))
		}
		return nil
	})
}
