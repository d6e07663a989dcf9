package main

import (
	"context"
	"io"

	"github.com/spf13/cobra"

	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func newReadingConvertCommand(env *Env) *cobra.Command {
	var r workbench.ConvertFileRequest
	var reading readingFlags
	var overwrite bool
	cmd := &cobra.Command{
		Use:   "convert IN OUT",
		Short: "Write the readings of a file in another format",
		Long: `Reads a file of any format (see "masstone reading check") and writes
its readings to another: .csv, .txt for ISO 28178 text, .cxf for ISO 17972-1. "-"
is standard input or, with --to, standard output. All read back as the same numbers;
what a format has no place for is said: ISO 28178 text leaves out rows that lack a
reading, ISO 17972-1 holds no loadings.

Pigment columns are those of the bench, where there is one, and of --pigments.

  masstone reading convert export.cxf readings.csv
  masstone reading convert chips.csv chips.txt

` + jsonKeys(workbench.ConvertedFile{}),
		Args: needs("IN", "OUT"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Out = args[1]
			return reading.opened(cmd.Context(), env, args[0], func(f *workbench.File) error {
				r.File = *f
				return runReadingConvert(cmd.Context(), env, r, overwrite)
			})
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.To, "to", "", "`FORMAT` to write, csv, text or cxf (else by the ending of OUT)")
	f.StringVar(&r.Descriptor, "descriptor", "", "what the readings are of, for the head of the file")
	f.StringSliceVar(&r.Pigments, "pigments", nil, "`CODES` of pigments whose columns are loadings")
	f.BoolVar(&overwrite, "overwrite", false, "write over a file that is there already")
	reading.addPiece(f, "", 0)
	reading.addConditions(f)
	reading.addLayout(f)
	reading.addPercent(f)
	return cmd
}

func runReadingConvert(ctx context.Context, env *Env, r workbench.ConvertFileRequest, overwrite bool) error {
	return atAnyBench(ctx, env, func(b *workbench.Bench) error {
		if r.Out != "-" {
			if err := env.file(r.Out, overwrite).Check(); err != nil {
				return err
			}
		}
		v, err := workbench.ConvertFile(ctx, b, r)
		if err != nil {
			return err
		}
		env.remark(v.Remarks)
		fill := func(w io.Writer) error {
			_, err := w.Write(v.Data)
			return err
		}
		if r.Out == "-" {
			return fill(env.Stdout)
		}
		if err := env.file(r.Out, overwrite).Write(fill); err != nil {
			return err
		}
		if env.JSON {
			return env.emit(v)
		}
		env.print("%s of %s written to %s", figure.Count(v.Rows, "row"), tidy(v.In), tidy(v.Out))
		return nil
	})
}
