package main

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"masstone/color/readings"
)

type readingConvertOptions struct {
	in, out, to string
	descriptor  string
	pigments    []string
	overwrite   bool
	reading     readingFlags
}

func newReadingConvertCommand(env *Env) *cobra.Command {
	var o readingConvertOptions
	cmd := &cobra.Command{
		Use:   "convert IN OUT",
		Short: "Write the readings of a file in another format",
		Long: `Reads a file of any format (CSV, XLSX, ISO 28178 text, ISO 17972-1 XML) and writes
its readings to another: .csv, or .txt for ISO 28178 text. "-" is standard input
or, with --to, standard output. Both formats read back as the same numbers.

Pigment columns are those of the bench, where there is one, and of --pigments.

  masstone reading convert export.cxf readings.csv
  masstone reading convert chips.csv chips.txt

JSON keys: in, out, format (csv or text), kind (chips, mixtures, readings), rows.`,
		Args: needs("IN", "OUT"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.in, o.out = args[0], args[1]
			return runReadingConvert(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.to, "to", "", "`FORMAT` to write, csv or text (else by the ending of OUT)")
	f.StringVar(&o.descriptor, "descriptor", "", "what the readings are of, for the head of ISO 28178 text")
	f.StringSliceVar(&o.pigments, "pigments", nil, "`CODES` of pigments whose columns are loadings")
	f.BoolVar(&o.overwrite, "overwrite", false, "write over a file that is there already")
	o.reading.addPiece(f, "", 0)
	o.reading.addConditions(f)
	o.reading.addLayout(f)
	o.reading.addPercent(f)
	return cmd
}

// format is what is written: csv or text.
func (o readingConvertOptions) format() (string, error) {
	ending := strings.ToLower(filepath.Ext(o.out))
	switch {
	case o.to == "csv" || o.to == "text":
		return o.to, nil
	case o.to != "":
		return "", misusef("--to %q: is no format this writes; give csv or text", o.to)
	case ending == ".csv":
		return "csv", nil
	case ending == ".txt":
		return "text", nil
	}
	return "", misusef("%s: which format? end the name in .csv or .txt, or say --to csv or --to text", title(o.out))
}

func runReadingConvert(ctx context.Context, env *Env, o readingConvertOptions) error {
	format, err := o.format()
	if err != nil {
		return err
	}
	if o.out != "-" {
		if err := env.free(o.out, o.overwrite); err != nil {
			return err
		}
	}
	o.reading.repeats = true
	options, err := asSaid(&o.reading, o.in, benchPigments(ctx, env, o.pigments))
	if err != nil {
		return err
	}
	got, err := readFile(env, o.in, options)
	if err != nil {
		return err
	}
	if got.Kind == readings.PigmentsKind {
		return fmt.Errorf("%s: is a pigment list; only readings are converted", options.File)
	}
	for _, n := range got.Table.Notes {
		env.say("%s: %s", options.File, n)
	}
	fill := func(w io.Writer) error {
		if format == "csv" {
			return readings.WriteCSV(w, got.Table)
		}
		return readings.WriteText(w, got.Table, readings.ExchangeHeader{Originator: "masstone " + version,
			Descriptor: firstText(o.descriptor, kindText(got.Kind)+" of "+options.File), Created: env.Now().Format(time.DateOnly)})
	}
	if o.out == "-" {
		return fill(env.Stdout)
	}
	if err := env.write(o.out, fill); err != nil {
		return err
	}
	if env.JSON {
		return env.emit(struct {
			In     string        `json:"in"`
			Out    string        `json:"out"`
			Format string        `json:"format"`
			Kind   readings.Kind `json:"kind"`
			Rows   int           `json:"rows"`
		}{options.File, o.out, format, got.Kind, len(got.Table.Rows)})
	}
	env.print("%s of %s written to %s", plural(len(got.Table.Rows), "row"), tidy(options.File), tidy(o.out))
	return nil
}
