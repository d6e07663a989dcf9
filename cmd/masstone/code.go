package main

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"masstone/recipes/papers"
)

// codeKinds are the kinds of thing that codes on labels and papers lead to.
var codeKinds = []string{papers.BatchRef, papers.RecipeRef, papers.PourRef, papers.PlanRef, papers.RunRef, papers.TargetRef, papers.ChipRef, papers.PigmentRef, papers.ResinRef}

// readCodes puts in the place of codes among the arguments the names they stand
// for, so that a code can be scanned wherever a name is typed. A code that says
// more than the name, the client of a target or the resin of a chip, sets the
// flag for it. An argument called WHAT takes codes of any kind as they are.
func readCodes(cmd *cobra.Command, names, args []string) error {
	for i, word := range args {
		if !papers.IsRef(word) || names[i] == "WHAT" {
			continue
		}
		ref, err := papers.ParseRef(word)
		if err != nil {
			return misuse{err}
		}
		wanted := strings.ToLower(names[i])
		if !slices.Contains(codeKinds, wanted) && cmd.HasParent() {
			wanted = cmd.Parent().Name() // target show NAME
		}
		if slices.Contains(codeKinds, wanted) && wanted != ref.Kind {
			return misusef("%s: %s is a %s, but a %s is wanted; masstone open %s shows it", cmd.CommandPath(), word, tidy(ref.Kind), wanted, word)
		}
		args[i] = ref.Names[len(ref.Names)-1]
		within := map[string]string{papers.TargetRef: "client", papers.ChipRef: "resin"}[ref.Kind]
		if flag := cmd.Flags().Lookup(within); len(ref.Names) > 1 && flag != nil && !flag.Changed {
			if err := cmd.Flags().Set(within, ref.Names[0]); err != nil {
				return misuse{err}
			}
		}
	}
	return nil
}
