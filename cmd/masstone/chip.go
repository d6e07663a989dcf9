package main

import (
	"context"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"masstone/color/readings"
	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func newChipCommand(env *Env) *cobra.Command {
	return newFamily("chip", "Calibration chips: import, list, withdraw", newChipImportCommand(env), newChipListCommand(env), newChipWithdrawCommand(env))
}

func newChipImportCommand(env *Env) *cobra.Command {
	var r workbench.ImportChipsRequest
	var instrument string
	var reading readingFlags
	cmd := &cobra.Command{
		Use:   "import FILE --resin CODE",
		Short: "Take in readings of chips of known loading",
		Long: `Takes in chips: castings of known loading and what was read on them. "-" is
standard input. Columns: chip, backing, thickness_mm, one per pigment code (phr:
grams of paste per 100 g of mixed resin), and readings as L_D65,a_D65,b_D65 (any
known light, several sets), as L,a,b with --illuminant, or as R400...R700.
Optional: casting, chip_grams, scale_g, geometry, specular, aperture, note. "-" in
all cells of a reading: not taken.

casting names the cup that several chips are views of, as over white and over black:
what was in it, and how thick it came out, counts once for all of them. Of chips that
are as a plan has them it is the plan's where the file does not say it.

--readings names an instrument file with readings of the same chips, by name; FILE
then needs no reading, only what was poured. Every reading must have its chip, and
rows of one name there are readings of one chip.

--preview shows what would be stored, and stores nothing.

--chip-grams and --scale say how the chips were weighed, so that the fit knows
how far the loadings can be trusted; --thickness-sd-mm says how far their thickness
can be. Where it is not said that is 0.09 mm, as was seen within cast plates of 3.3 mm.

If anything in the file is wrong, nothing of it is taken in. The same file twice
changes nothing; a chip whose content changed needs --replace, and the old card
is kept.

  masstone chip import chips.csv --resin CLR --chip-grams 50 --scale 0.01
  masstone chip import loadings.csv --readings instrument.txt --over white

` + jsonKeys(workbench.ImportedChips{}),
		Args: needs("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if args[0] == "-" && instrument == "-" {
				return misusef("chip import: standard input holds one file; name the other")
			}
			return reading.opened(cmd.Context(), env, args[0], func(chips *workbench.File) error {
				r.Chips = *chips
				if instrument == "" {
					return runChipImport(cmd.Context(), env, r)
				}
				return reading.opened(cmd.Context(), env, instrument, func(read *workbench.File) error {
					r.Readings = read
					return runChipImport(cmd.Context(), env, r)
				})
			})
		},
	}
	f := cmd.Flags()
	f.StringVar(&r.Resin, "resin", "", "`CODE` of the resin the chips were cast in")
	numberVar(f, &r.ChipGrams, "chip-grams", inGrams, 0, "mixed resin in the cup of each chip, such as 50g")
	numberVar(f, &r.ScaleGrams, "scale", inGrams, 0, "step of the scale the chips were weighed on, such as 0.01g")
	thicknessSDVar(f, &r.ThicknessSDMM, "a chip", usualMisses)
	f.StringVar(&instrument, "readings", "", "instrument `FILE` with the readings of the chips, - for standard input")
	f.BoolVar(&r.Preview, "preview", false, "show what would be stored, store nothing")
	f.BoolVar(&r.Replace, "replace", false, "replace chips whose content changed")
	f.BoolVar(&reading.repeats, "repeats", false, "rows of one name are readings of one piece")
	reading.addPiece(f, "", 0)
	reading.addConditions(f)
	reading.addSight(f)
	reading.addLayout(f)
	reading.addPercent(f)
	return cmd
}

func runChipImport(ctx context.Context, env *Env, r workbench.ImportChipsRequest) error {
	return withBench(ctx, env, func(b *workbench.Bench) error {
		v, err := workbench.ImportChips(ctx, b, r)
		if err != nil {
			return err
		}
		env.remark(v.Remarks)
		switch {
		case env.JSON:
			return env.emit(v)
		case !v.Preview:
			env.print("chips of %s from %s: %s", v.Resin, tidy(r.Chips.Name), v.CardReport)
			return nil
		}
		t := newChipTable(slices.ContainsFunc(v.Chips, func(c workbench.PreviewedChip) bool { return c.Casting != "" }), "would be")
		for _, c := range v.Chips {
			t.add(env, c.Chip, c.Outcome)
		}
		t.print(env.Stdout)
		env.print("would be %s; nothing was stored", v.CardReport)
		return nil
	})
}

func newChipListCommand(env *Env) *cobra.Command {
	var resin string
	cmd := &cobra.Command{
		Use:   "list --resin CODE",
		Short: "List the chips of a resin",
		Long:  "Lists the chips of a resin that are fitted.\n\n" + jsonKeys(workbench.ChipList{}),
		Args:  needs(),
		RunE:  func(cmd *cobra.Command, args []string) error { return runChipList(cmd.Context(), env, resin) },
	}
	cmd.Flags().StringVar(&resin, "resin", "", "`CODE` of the resin")
	return cmd
}

func runChipList(ctx context.Context, env *Env, resin string) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.ChipList, error) { return workbench.Chips(ctx, b, resin) }, func(v workbench.ChipList) {
		if len(v.Chips) == 0 {
			env.say("no chip of %s yet; masstone chip import FILE --resin %s", v.Resin, v.Resin)
			return
		}
		t := newChipTable(slices.ContainsFunc(v.Chips, func(c workbench.Chip) bool { return c.Casting != "" }))
		for _, c := range v.Chips {
			t.add(env, c)
		}
		t.print(env.Stdout)
		env.print("%s of %s", figure.Count(len(v.Chips), "chip"), v.Resin)
	})
}

// A chipTable lists chips, with their castings where some share one.
type chipTable struct {
	*table
	castings bool
}

// newChipTable is a table of chips, with columns of its own behind the others.
func newChipTable(castings bool, more ...string) chipTable {
	heads := []string{"chip", "loadings (phr)", "over", ">mm"}
	if castings {
		heads = append(heads, "casting")
	}
	return chipTable{newTable(slices.Concat(heads, []string{"read"}, more)...), castings}
}

func (t chipTable) add(env *Env, c workbench.Chip, more ...string) {
	cells := []string{c.Name, figure.Loadings(c.Loadings), c.Over, figure.Short(float64(c.ThicknessMM))}
	if t.castings {
		cells = append(cells, c.Casting)
	}
	t.table.add(slices.Concat(cells, []string{readText(c.Mean)}, more)...)
	switch r := c.Mean.SpectrumRepeat; {
	case len(c.Mean.Labs) > 0:
		t.paint(env.swatch(c.Mean.Labs[0]))
	case r != nil:
		t.paint(env.swatch(r.Mean))
	}
}

// readText says in short what was read of a piece.
func readText(p readings.Piece) string {
	var parts []string
	if len(p.Labs) > 0 {
		text := figure.LabText(p.Labs[0]) + " " + p.Labs[0].Under.String()
		if more := len(p.Labs) - 1; more > 0 {
			text += fmt.Sprintf(" and %s", figure.Count(more, "light"))
		}
		parts = append(parts, text)
	}
	switch r := p.SpectrumRepeat; {
	case r != nil && len(p.Labs) == 0:
		parts = append(parts, "spectrum, "+figure.LabText(r.Mean)+" "+r.Mean.Under.String())
	case p.Spectrum != nil:
		parts = append(parts, "spectrum")
	}
	return figure.List(parts)
}

func newChipWithdrawCommand(env *Env) *cobra.Command {
	var r workbench.WithdrawChipRequest
	cmd := &cobra.Command{
		Use:   "withdraw NAME --resin CODE --why TEXT",
		Short: "Take a bad chip out of what is fitted",
		Long: `Takes a chip out of what is fitted and keeps it, its readings and the reason.
Importing it again with --replace brings it back.

` + jsonKeys(workbench.WithdrawnChip{}),
		Args: needs("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			r.Chip = args[0]
			return runChipWithdraw(cmd.Context(), env, r)
		},
	}
	cmd.Flags().StringVar(&r.Resin, "resin", "", "`CODE` of the resin")
	cmd.Flags().StringVar(&r.Why, "why", "", "the reason, such as \"poured from the wrong cup\"")
	return cmd
}

func runChipWithdraw(ctx context.Context, env *Env, r workbench.WithdrawChipRequest) error {
	return tell(ctx, env, func(b *workbench.Bench) (workbench.WithdrawnChip, error) { return workbench.WithdrawChip(ctx, b, r) }, func(v workbench.WithdrawnChip) {
		env.print("chip %s of %s withdrawn: %s", tidy(v.Chip), v.Resin, tidy(v.Why))
	})
}
