package main

import (
	"context"

	"github.com/spf13/cobra"

	"masstone/color/readings"
	"masstone/recipes/archive"
)

// pigmentView is a pigment in JSON.
type pigmentView struct {
	Code       string `json:"code"`
	CIName     string `json:"ci_name,omitempty"`
	Name       string `json:"name,omitempty"`
	Density    *fig   `json:"density,omitempty"`
	MaxPHR     *fig   `json:"max_phr,omitempty"`
	PricePerKG *fig   `json:"price_per_kg,omitempty"`
	StockG     *fig   `json:"stock_g,omitempty"`
	HeatClass  string `json:"heat_class,omitempty"`
	LightClass string `json:"light_class,omitempty"`
	Note       string `json:"note,omitempty"`
}

func viewPigment(p archive.Pigment) pigmentView {
	v := pigmentView{p.Code, p.CIName, p.Name, optional(p.Density), optional(p.MaxPHR), optional(p.PricePerKG), nil, p.HeatClass, p.LightClass, p.Note}
	if p.StockG != nil {
		stock := fig(*p.StockG)
		v.StockG = &stock
	}
	return v
}

func newPigmentCommand(env *Env) *cobra.Command {
	return newFamily("pigment", "Pigment pastes: import, list", newPigmentImportCommand(env), newPigmentListCommand(env))
}

type pigmentImportOptions struct {
	file    string
	preview bool
	layout  readingFlags
}

func newPigmentImportCommand(env *Env) *cobra.Command {
	var o pigmentImportOptions
	cmd := &cobra.Command{
		Use:   "import FILE",
		Short: "Take in a pigment list",
		Long: `Takes in a pigment list, CSV or XLSX, "-" for standard input. Columns: code,
ci_name, name, supplier, lot, density (g/ml), max_phr, price_per_kg, stock_g,
heat_class, light_class, strength_percent, note; all but code may be missing.

What a line leaves out keeps what the bench knew. If anything in the file is
wrong, nothing of it is taken in; the same file twice changes nothing. --preview shows
what would be stored, and stores nothing.

JSON keys: added, changed, unchanged (lists of codes); with --preview also preview
(true) and pigments (the cards in the file, keys of "pigment list", and outcome).`,
		Args: needs("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.file = args[0]
			return runPigmentImport(cmd.Context(), env, o)
		},
	}
	cmd.Flags().BoolVar(&o.preview, "preview", false, "show what would be stored, store nothing")
	o.layout.addLayout(cmd.Flags())
	return cmd
}

func runPigmentImport(ctx context.Context, env *Env, o pigmentImportOptions) error {
	options, err := o.layout.options(o.file, nil)
	if err != nil {
		return err
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		f, err := env.read(o.file)
		if err != nil {
			return err
		}
		defer f.Close()
		list, err := readings.Pigments(f, options)
		if err != nil {
			return err
		}
		pigments := make([]archive.Pigment, len(list))
		for i, p := range list {
			pigments[i] = cardOf(p)
		}
		if o.preview {
			return previewPigments(ctx, env, b, pigments)
		}
		report, err := b.ImportPigments(ctx, pigments)
		if err != nil {
			return err
		}
		if env.JSON {
			return env.emit(viewImport(report))
		}
		env.print("pigments from %s: %s", tidy(options.File), report)
		return nil
	})
}

func cardOf(p readings.Pigment) archive.Pigment {
	value := func(v *float64) float64 {
		if v == nil {
			return 0
		}
		return *v
	}
	return archive.Pigment{Code: p.Code, CIName: p.CIName, Name: p.Name, Density: value(p.DensityGML), MaxPHR: value(p.MaxPHR),
		PricePerKG: value(p.PricePerKg), StockG: p.StockG, HeatClass: p.HeatClass, LightClass: p.LightClass, Note: p.Note}
}

func newPigmentListCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "list",
		Short: "List the pigments",
		Long: `Lists the pigments.

JSON keys: pigments, a list of code, ci_name, name, density (g/ml), max_phr,
price_per_kg, stock_g, heat_class, light_class, note; unknown ones are left out.`,
		Args: needs(),
		RunE: func(cmd *cobra.Command, args []string) error { return runPigmentList(cmd.Context(), env) },
	}
}

func runPigmentList(ctx context.Context, env *Env) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		pigments, err := b.Pigments(ctx)
		if err != nil {
			return err
		}
		if env.JSON {
			views := make([]pigmentView, len(pigments))
			for i, p := range pigments {
				views[i] = viewPigment(p)
			}
			return env.emit(struct {
				Pigments []pigmentView `json:"pigments"`
			}{views})
		}
		if len(pigments) == 0 {
			env.say("no pigment yet; masstone pigment import FILE")
			return nil
		}
		printPigments(env, pigments)
		return nil
	})
}

func printPigments(env *Env, pigments []archive.Pigment) {
	t := newTable("code", "CI name", "name", ">density", ">max phr", ">price/kg", ">stock g")
	for _, p := range pigments {
		stock := "-"
		if p.StockG != nil {
			stock = short(*p.StockG)
		}
		t.add(p.Code, p.CIName, p.Name, known(p.Density, ""), known(p.MaxPHR, ""), known(p.PricePerKG, ""), stock)
	}
	t.print(env.Stdout)
}
