package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"masstone/color/readings"
	"masstone/recipes/archive"
)

func newChipCommand(env *Env) *cobra.Command {
	return newFamily("chip", "Calibration chips: import, list, withdraw", newChipImportCommand(env), newChipListCommand(env), newChipWithdrawCommand(env))
}

type chipImportOptions struct {
	file, resin      string
	readings         string
	preview          bool
	chipGrams, scale float64
	reading          readingFlags
	replace          bool
}

func newChipImportCommand(env *Env) *cobra.Command {
	var o chipImportOptions
	cmd := &cobra.Command{
		Use:   "import FILE --resin CODE",
		Short: "Take in readings of chips of known loading",
		Long: `Takes in chips: castings of known loading and what was read on them. "-" is
standard input. Columns: chip, backing, thickness_mm, one per pigment code (phr:
grams of paste per 100 g of mixed resin), and readings as L_D65,a_D65,b_D65 (any
known light, several sets), as L,a,b with --illuminant, or as R400...R700.
Optional: chip_grams, scale_g, geometry, specular, note. "-" in all cells of a
reading: not taken.

--readings names an instrument file with readings of the same chips, by name; FILE
then needs no reading, only what was poured. Every reading must have its chip, and
rows of one name there are readings of one chip.

--preview shows what would be stored, and stores nothing.

--chip-grams and --scale say how the chips were weighed, so that the fit knows
how far the loadings can be trusted.

If anything in the file is wrong, nothing of it is taken in. The same file twice
changes nothing; a chip whose content changed needs --replace, and the old card
is kept.

  masstone chip import chips.csv --resin CLR --chip-grams 50 --scale 0.01
  masstone chip import loadings.csv --readings instrument.txt --over white

JSON keys: resin, added, changed, unchanged (lists of chip names); with --preview
also preview (true) and chips (a list with the keys of "chip list", and outcome).`,
		Args: needs("FILE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.file = args[0]
			return runChipImport(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.resin, "resin", "", "`CODE` of the resin the chips were cast in")
	numberVar(f, &o.chipGrams, "chip-grams", inGrams, 0, "mixed resin in the cup of each chip, such as 50g")
	numberVar(f, &o.scale, "scale", inGrams, 0, "step of the scale the chips were weighed on, such as 0.01g")
	f.StringVar(&o.readings, "readings", "", "instrument `FILE` with the readings of the chips, - for standard input")
	f.BoolVar(&o.preview, "preview", false, "show what would be stored, store nothing")
	f.BoolVar(&o.replace, "replace", false, "replace chips whose content changed")
	f.BoolVar(&o.reading.repeats, "repeats", false, "rows of one name are readings of one piece")
	o.reading.addPiece(f, "", 0)
	o.reading.addConditions(f)
	o.reading.addLayout(f)
	o.reading.addPercent(f)
	return cmd
}

func runChipImport(ctx context.Context, env *Env, o chipImportOptions) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		resin, err := resinAt(ctx, b, o.resin)
		if err != nil {
			return err
		}
		pigments, err := pigmentCodes(ctx, b)
		if err != nil {
			return err
		}
		options, err := o.reading.options(o.file, pigments)
		if err != nil {
			return err
		}
		pieces, err := castPieces(env, o, options)
		if err != nil {
			return err
		}
		chips := make([]archive.Chip, len(pieces))
		for i, p := range pieces {
			for _, w := range p.Warnings {
				env.say("warning: %s", w.Error())
			}
			chips[i] = archive.Chip{Resin: resin.Code, Name: p.Name, Loadings: p.Loadings, Backing: p.Backing, ThicknessMM: p.ThicknessMM,
				ChipGrams: firstKnown(p.ChipGrams, o.chipGrams), ScaleGrams: firstKnown(p.ScaleGrams, o.scale),
				Readings: readingsOf(p.Readings), Note: p.Note}
		}
		if o.preview {
			return previewChips(ctx, env, b, resin.Code, chips)
		}
		report, err := b.ImportChips(ctx, resin.Code, chips, onChange(o.replace))
		if err != nil {
			return advise(err, "add --replace to replace chips whose content changed")
		}
		if env.JSON {
			return env.emit(struct {
				Resin string `json:"resin"`
				importView
			}{resin.Code, viewImport(report)})
		}
		env.print("chips of %s from %s: %s", resin.Code, tidy(options.File), report)
		if len(pieces) > 0 && chips[0].ChipGrams == 0 {
			env.say("loadings are taken as exact; say --chip-grams and --scale so that the fit counts the weighing")
		}
		return nil
	})
}

func firstKnown(values ...float64) float64 {
	for _, v := range values {
		if v != 0 {
			return v
		}
	}
	return 0
}

func newChipListCommand(env *Env) *cobra.Command {
	var resin string
	cmd := &cobra.Command{
		Use:   "list --resin CODE",
		Short: "List the chips of a resin",
		Long: `Lists the chips of a resin that are fitted.

JSON keys: resin, chips, a list of chip, loadings_phr, backing, thickness_mm,
chip_grams, scale_g, readings (lab with illuminant and observer, or spectrum with
first_nm, step_nm, r; geometry, specular), note.`,
		Args: needs(),
		RunE: func(cmd *cobra.Command, args []string) error { return runChipList(cmd.Context(), env, resin) },
	}
	cmd.Flags().StringVar(&resin, "resin", "", "`CODE` of the resin")
	return cmd
}

// chipView is a chip in JSON.
type chipView struct {
	Outcome     archive.Outcome   `json:"outcome,omitempty"` // of a preview
	Name        string            `json:"chip"`
	Loadings    map[string]fig    `json:"loadings_phr"`
	Backing     string            `json:"backing"`
	ThicknessMM fig               `json:"thickness_mm"`
	ChipGrams   *fig              `json:"chip_grams,omitempty"`
	ScaleGrams  *fig              `json:"scale_g,omitempty"`
	Readings    []archive.Reading `json:"readings"`
	Note        string            `json:"note,omitempty"`
}

func runChipList(ctx context.Context, env *Env, code string) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		resin, err := resinAt(ctx, b, code)
		if err != nil {
			return err
		}
		chips, err := b.Chips(ctx, resin.Code)
		if err != nil {
			return err
		}
		if env.JSON {
			return env.emit(struct {
				Resin string     `json:"resin"`
				Chips []chipView `json:"chips"`
			}{resin.Code, viewChips(chips, nil)})
		}
		if len(chips) == 0 {
			env.say("no chip of %s yet; masstone chip import FILE --resin %s", resin.Code, resin.Code)
			return nil
		}
		if err := printChips(env, chips, nil); err != nil {
			return err
		}
		env.print("%s of %s", plural(len(chips), "chip"), resin.Code)
		return nil
	})
}

func viewChips(chips []archive.Chip, outcome map[string]archive.Outcome) []chipView {
	views := make([]chipView, len(chips))
	for i, c := range chips {
		views[i] = chipView{outcome[c.Name], c.Name, figures(c.Loadings), c.Backing, fig(c.ThicknessMM), optional(c.ChipGrams), optional(c.ScaleGrams), c.Readings, c.Note}
	}
	return views
}

// printChips lists chips, with what would become of each where that is known.
func printChips(env *Env, chips []archive.Chip, outcome map[string]archive.Outcome) error {
	heads := []string{"chip", "loadings (phr)", "over", ">mm", "read"}
	if outcome != nil {
		heads = append(heads, "would be")
	}
	t := newTable(heads...)
	for _, c := range chips {
		piece, err := pieceOf(c.Name, c.Readings)
		if err != nil {
			return err
		}
		cells := []string{c.Name, recipeText(c.Loadings, " ", ", "), c.Backing, short(c.ThicknessMM), readText(piece)}
		if outcome != nil {
			cells = append(cells, string(outcome[c.Name]))
		}
		t.add(cells...)
		if len(piece.Labs) > 0 {
			t.paint(env.swatch(piece.Labs[0]))
		}
	}
	t.print(env.Stdout)
	return nil
}

// readText says in short what was read of a piece.
func readText(p readings.Piece) string {
	var parts []string
	if len(p.Labs) > 0 {
		text := labText(p.Labs[0]) + " " + p.Labs[0].Under.String()
		if more := len(p.Labs) - 1; more > 0 {
			text += fmt.Sprintf(" and %s", plural(more, "light"))
		}
		parts = append(parts, text)
	}
	if p.Spectrum != nil {
		parts = append(parts, "spectrum")
	}
	return listed(parts)
}

func newChipWithdrawCommand(env *Env) *cobra.Command {
	var resin, why string
	cmd := &cobra.Command{
		Use:   "withdraw NAME --resin CODE --why TEXT",
		Short: "Take a bad chip out of what is fitted",
		Long: `Takes a chip out of what is fitted and keeps it, its readings and the reason.
Importing it again with --replace brings it back.

JSON keys: outcome (changed, unchanged), resin, withdrawn (chip), why.`,
		Args: needs("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runChipWithdraw(cmd.Context(), env, resin, args[0], why)
		},
	}
	cmd.Flags().StringVar(&resin, "resin", "", "`CODE` of the resin")
	cmd.Flags().StringVar(&why, "why", "", "the reason, such as \"poured from the wrong cup\"")
	return cmd
}

func runChipWithdraw(ctx context.Context, env *Env, code, name, why string) error {
	if why == "" {
		return misusef("chip %s: --why is missing; say why it is withdrawn", name)
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		resin, err := resinAt(ctx, b, code)
		if err != nil {
			return err
		}
		outcome, err := b.WithdrawChip(ctx, resin.Code, name, why)
		if err != nil {
			return err
		}
		if env.JSON {
			return env.emit(struct {
				Outcome archive.Outcome `json:"outcome"`
				Resin   string          `json:"resin"`
				Chip    string          `json:"withdrawn"`
				Why     string          `json:"why"`
			}{outcome, resin.Code, name, why})
		}
		env.print("chip %s of %s withdrawn: %s", tidy(name), resin.Code, tidy(why))
		return nil
	})
}
