package main

import (
	"context"

	"github.com/spf13/cobra"

	"masstone/recipes/workbench"
)

func newPigmentCommand(env *Env) *cobra.Command {
	return newFamily("pigment", "Pigment pastes: import, list", newPigmentImportCommand(env), newPigmentListCommand(env))
}

func newPigmentImportCommand(env *Env) *cobra.Command {
	var r workbench.ImportPigmentsRequest
	var layout readingFlags
	cmd := &cobra.Command{
		Use:   "import FILE",
		Short: "Take in a pigment list",
		Long: `Takes in a pigment list, CSV or XLSX, "-" for standard input. Columns: code,
ci_name, name, supplier, lot, density (g/ml), max_phr, price_per_kg, stock_g,
heat_class, light_class, strength_percent, note; all but code may be missing.

What a line leaves out keeps what the bench knew. If anything in the file is
wrong, nothing of it is taken in; the same file twice changes nothing. --preview shows
what would be stored, and stores nothing.

` + jsonKeys(workbench.ImportedPigments{}),
		Args: needs("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return layout.opened(cmd.Context(), env, args[0], func(f *workbench.File) error {
				r.File = *f
				return runPigmentImport(cmd.Context(), env, r)
			})
		},
	}
	cmd.Flags().BoolVar(&r.Preview, "preview", false, "show what would be stored, store nothing")
	layout.addLayout(cmd.Flags())
	return cmd
}

func runPigmentImport(ctx context.Context, env *Env, r workbench.ImportPigmentsRequest) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := workbench.ImportPigments(ctx, b, r)
		switch {
		case err != nil:
			return err
		case env.JSON:
			return env.emit(v)
		case !v.Preview:
			env.print("pigments from %s: %s", tidy(r.File.Name), v.CardReport)
			return nil
		}
		t := newTable("code", "CI name", "name", ">density", ">max phr", ">price/kg", "would be")
		for _, p := range v.Pigments {
			t.add(p.Code, p.CIName, p.Name, shown(p.Density), shown(p.MaxPHR), shown(p.PricePerKG), p.Outcome)
		}
		t.print(env.Stdout)
		env.print("would be %s; nothing was stored", v.CardReport)
		return nil
	})
}

func newPigmentListCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "list",
		Short: "List the pigments",
		Long:  "Lists the pigments; what is not known of one is left out.\n\n" + jsonKeys(workbench.PigmentList{}),
		Args:  needs(),
		RunE:  func(cmd *cobra.Command, args []string) error { return runPigmentList(cmd.Context(), env) },
	}
}

func runPigmentList(ctx context.Context, env *Env) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.PigmentList, error) { return workbench.Pigments(ctx, b) }, func(v workbench.PigmentList) {
		if len(v.Pigments) == 0 {
			env.say("no pigment yet; masstone pigment import FILE")
			return
		}
		printPigments(env, v.Pigments)
	})
}

func printPigments(env *Env, pigments []workbench.Pigment) {
	t := newTable("code", "CI name", "name", ">density", ">max phr", ">price/kg", ">stock g")
	for _, p := range pigments {
		t.add(p.Code, p.CIName, p.Name, shown(p.Density), shown(p.MaxPHR), shown(p.PricePerKG), shown(p.StockG))
	}
	t.print(env.Stdout)
}
