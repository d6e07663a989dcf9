package main

import (
	"strings"

	"github.com/spf13/cobra"

	"masstone/cmd/masstone/licences"
)

// terms are what the program's parts are licensed under, as JSON.
type terms struct {
	Modules []licences.Module `json:"modules"`
}

func newLicencesCommand(env *Env) *cobra.Command {
	var texts bool
	cmd := &cobra.Command{
		Use:   "licences",
		Short: "What the program is made of, and under which terms",
		Long: `Lists the modules that are compiled into the program, with the terms each is under.

` + jsonKeys(terms{}),
		Args: needs(),
		RunE: func(*cobra.Command, []string) error { return runLicences(env, texts) },
	}
	cmd.Flags().BoolVar(&texts, "texts", false, "print the licences and notices in full")
	return cmd
}

func runLicences(env *Env, texts bool) error {
	all, err := licences.All()
	if err != nil {
		return err
	}
	if env.JSON {
		if !texts {
			for i := range all {
				all[i].Texts = nil
			}
		}
		return env.emit(terms{all})
	}
	if texts {
		for _, m := range all {
			for _, t := range m.Texts {
				env.print("%s %s, %s\n", m.Module, m.Version, t.File)
				for line := range strings.Lines(t.Text) {
					env.print("%s", strings.TrimRight(line, " \r\n"))
				}
				env.print("")
			}
		}
		return nil
	}
	t := newTable("module", "version", "terms")
	for _, m := range all {
		t.add(m.Module, m.Version, strings.Join(m.Licences, ", "))
	}
	t.print(env.Stdout)
	return nil
}
