package main

import (
	"context"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"masstone/recipes/archive"
	"masstone/recipes/batch"
)

type resinOptions struct {
	code, name, note                 string
	mix                              batch.Ratio
	side                             batch.Side
	densityA, densityB, densityCured float64
	potLife                          time.Duration
	maxPHR                           float64
	replace                          bool
}

// resinView is a resin in JSON.
type resinView struct {
	Code         string `json:"resin"`
	Name         string `json:"name,omitempty"`
	Mix          string `json:"mix"`
	DensityA     *fig   `json:"density_a,omitempty"`
	DensityB     *fig   `json:"density_b,omitempty"`
	DensityCured *fig   `json:"density_cured,omitempty"`
	PotLife      *fig   `json:"pot_life_minutes,omitempty"`
	PigmentSide  string `json:"pigment_side"`
	MaxPHR       *fig   `json:"max_phr,omitempty"`
	Note         string `json:"note,omitempty"`
}

func viewResin(r archive.Resin) resinView {
	return resinView{r.Code, r.Name, mixOf(r).String(), optional(r.DensityA), optional(r.DensityB), optional(r.DensityCured),
		optional(r.PotLife.Minutes()), r.PigmentSide, optional(r.MaxPHR), r.Note}
}

func mixOf(r archive.Resin) batch.Ratio { return batch.Ratio{A: r.MixA, B: r.MixB} }

func newResinCommand(env *Env) *cobra.Command {
	return newFamily("resin", "Two-part resins: add, list", newResinAddCommand(env), newResinListCommand(env))
}

func newResinAddCommand(env *Env) *cobra.Command {
	var o resinOptions
	cmd := &cobra.Command{
		Use:   "add CODE --mix A:B --pigment-side A|B",
		Short: "Add a resin, or replace its card",
		Long: `Adds a two-part resin as its data sheet states it. The same card twice changes
nothing; another card of the same code needs --replace, and the old one is kept.

  masstone resin add CLR --name "clear casting urethane" --mix 100:90 \
      --density-a 1.05 --density-b 1.00 --pot-life 7m --pigment-side B --max-phr 4

JSON keys: outcome (added, unchanged, changed), resin, name, mix, density_a,
density_b, density_cured (g/ml), pot_life_minutes, pigment_side, max_phr, note.`,
		Args: needs("CODE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.code = args[0]
			return runResinAdd(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.name, "name", "", "plain name, such as \"clear casting urethane\"")
	f.Var(ratioFlag(&o.mix), "mix", "mix ratio A:B by mass, such as 100:90")
	f.Var(sideFlag(&o.side), "pigment-side", "side that takes the pigments, A or B")
	numberVar(f, &o.densityA, "density-a", perML, 0, "density of side A in g/ml")
	numberVar(f, &o.densityB, "density-b", perML, 0, "density of side B in g/ml")
	numberVar(f, &o.densityCured, "density-cured", perML, 0, "density when cured in g/ml")
	f.Var(minutes{&o.potLife}, "pot-life", "pot life, such as 7m; a bare number is minutes")
	numberVar(f, &o.maxPHR, "max-phr", inPHR, 0, "most paste in all, g per 100 g of mixed resin")
	f.StringVar(&o.note, "note", "", "remark kept with the card")
	f.BoolVar(&o.replace, "replace", false, "replace the card of this code")
	return cmd
}

func runResinAdd(ctx context.Context, env *Env, o resinOptions) error {
	if o.mix == (batch.Ratio{}) {
		return misusef("resin %s: --mix is missing; give A:B by mass, such as --mix 100:90", o.code)
	}
	if o.side == "" {
		return misusef("resin %s: --pigment-side is missing; give A or B, the side that takes the pigments", o.code)
	}
	r := archive.Resin{Code: o.code, Name: o.name, MixA: o.mix.A, MixB: o.mix.B, DensityA: o.densityA, DensityB: o.densityB,
		DensityCured: o.densityCured, PotLife: o.potLife, PigmentSide: string(o.side), MaxPHR: o.maxPHR, Note: o.note}
	return withBench(ctx, env, func(b *archive.Bench) error {
		outcome, err := b.PutResin(ctx, r, onChange(o.replace))
		if err != nil {
			return advise(err, "add --replace to replace the card")
		}
		if env.JSON {
			return env.emit(struct {
				Outcome archive.Outcome `json:"outcome"`
				resinView
			}{outcome, viewResin(r)})
		}
		env.print("resin %s %s: %s, pigments go into side %s", tidy(r.Code), outcome, mixText(r), r.PigmentSide)
		if !(r.DensityA > 0 && r.DensityB > 0) {
			env.say("without both densities a batch can be ordered in grams only; add --density-a and --density-b with --replace")
		}
		return nil
	})
}

func mixText(r archive.Resin) string {
	text := fmt.Sprintf("%s by mass", mixOf(r))
	if r.PotLife > 0 {
		text += ", pot life " + clock(r.PotLife)
	}
	return text
}

func newResinListCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "list",
		Short: "List the resins",
		Long: `Lists the resins.

JSON keys: resins, a list with the keys of "resin add".`,
		Args: needs(),
		RunE: func(cmd *cobra.Command, args []string) error { return runResinList(cmd.Context(), env) },
	}
}

func runResinList(ctx context.Context, env *Env) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		resins, err := b.Resins(ctx)
		if err != nil {
			return err
		}
		if env.JSON {
			views := make([]resinView, len(resins))
			for i, r := range resins {
				views[i] = viewResin(r)
			}
			return env.emit(struct {
				Resins []resinView `json:"resins"`
			}{views})
		}
		if len(resins) == 0 {
			env.say("no resin yet; masstone resin add CODE --mix A:B --pigment-side B")
			return nil
		}
		printResins(env, resins)
		return nil
	})
}

func printResins(env *Env, resins []archive.Resin) {
	t := newTable("resin", "name", "mix A:B", ">density A", ">density B", ">pot life", "pigments in", ">max phr")
	for _, r := range resins {
		t.add(r.Code, r.Name, mixOf(r).String(), known(r.DensityA, ""), known(r.DensityB, ""), potLife(r), r.PigmentSide, known(r.MaxPHR, ""))
	}
	t.print(env.Stdout)
}

func potLife(r archive.Resin) string {
	if r.PotLife == 0 {
		return "-"
	}
	return clock(r.PotLife)
}
