package main

import (
	"bytes"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"

	"masstone/recipes/figure"
)

// manual is what was written of it.
type manual struct {
	Folder string   `json:"folder"`
	Pages  []string `json:"pages" doc:"names of the files written"`
}

func newManualCommand(env *Env) *cobra.Command {
	var over bool
	cmd := &cobra.Command{
		Use:   "manual FOLDER",
		Short: "Write the manual pages, one for each command",
		Long: `Writes the help of every command as a page of the manual (section 1) into a folder,
for man to show: man -l FOLDER/masstone-match.1.

` + jsonKeys(manual{}),
		Args: needs("FOLDER"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runManual(env, cmd.Root(), args[0], over)
		},
	}
	cmd.Flags().BoolVar(&over, "overwrite", false, "write over pages that are there already")
	return cmd
}

func runManual(env *Env, root *cobra.Command, folder string, over bool) error {
	root.InitDefaultCompletionCmd()
	root.InitDefaultVersionFlag()
	v := manual{Folder: folder}
	if err := os.MkdirAll(env.path(folder), 0o755); err != nil {
		return misusef("manual: %s: %v; name a folder that can be made", folder, reason(err))
	}
	// the date is today's, or that of SOURCE_DATE_EPOCH for the same bytes twice
	header := doc.GenManHeader{Section: "1", Source: "masstone " + version, Manual: "masstone"}
	var write func(cmd *cobra.Command) error
	write = func(cmd *cobra.Command) error {
		cmd.DisableAutoGenTag = true
		var page bytes.Buffer
		h := header // GenMan fills it in
		if err := doc.GenMan(cmd, &h, &page); err != nil {
			return err
		}
		name := strings.ReplaceAll(cmd.CommandPath(), " ", "-") + ".1"
		f := env.file(folder+"/"+name, over)
		if err := f.Write(func(w io.Writer) error { _, err := page.WriteTo(w); return err }); err != nil {
			return err
		}
		v.Pages = append(v.Pages, name)
		for _, c := range cmd.Commands() {
			if c.IsAvailableCommand() {
				if err := write(c); err != nil {
					return err
				}
			}
		}
		return nil
	}
	if err := write(root); err != nil {
		return err
	}
	if env.JSON {
		return env.emit(v)
	}
	env.print("%s written to %s", figure.Count(len(v.Pages), "page"), tidy(folder))
	return nil
}
