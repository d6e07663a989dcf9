package main

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/spf13/cobra"

	"masstone/calibrate/layer"
	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes/archive"
)

// backingView is a backing in JSON.
type backingView struct {
	Name        string            `json:"backing"`
	Reflectance *fig              `json:"reflectance,omitempty"`
	Spectrum    *archive.Spectrum `json:"spectrum,omitempty"`
	Source      string            `json:"source,omitempty"`
}

func viewBacking(k archive.Backing) backingView {
	v := backingView{Name: k.Name, Spectrum: k.Spectrum, Source: k.Source}
	if k.Constant != nil {
		c := fig(*k.Constant)
		v.Reflectance = &c
	}
	return v
}

func viewBackings(backings []archive.Backing) []backingView {
	views := make([]backingView, len(backings))
	for i, k := range backings {
		views[i] = viewBacking(k)
	}
	return views
}

func backingText(k archive.Backing) string {
	text := "spectrum"
	if k.Constant != nil {
		text = fmt.Sprintf("%.2f", *k.Constant)
	} else if k.Spectrum != nil {
		text = fmt.Sprintf("spectrum %d-%d nm by %d", k.Spectrum.FirstNM, k.Spectrum.Color().LastNM(), k.Spectrum.StepNM)
	}
	if k.Source != "" {
		text += " (" + tidy(k.Source) + ")"
	}
	return text
}

func newBackingCommand(env *Env) *cobra.Command {
	return newFamily("backing", "Backings under chips and parts: add, list", newBackingAddCommand(env), newBackingListCommand(env))
}

type backingOptions struct {
	name        string
	reflectance float64
	given       bool
	file, row   string
	lab         string
	reading     readingFlags
	replace     bool
	dry         bool
	index       float64
	indexed     bool
}

func newBackingAddCommand(env *Env) *cobra.Command {
	var o backingOptions
	cmd := &cobra.Command{
		Use:   "add NAME (--reflectance R | --file FILE | --lab L,a,b)",
		Short: "Add a backing, or replace one",
		Long: `Adds a backing: what a chip or a part lies on while it is read. Its reflectance
is a constant, or a spectrum from a file of readings, or, for a grey, a Lab
reading, which gives a constant.

A backing is taken to touch what lies on it, as under a part that was cast or
wetted onto it. Under one laid down dry there is a gap of air: of the light that
reaches it some 60 % turns back before it meets the card, and black is far from
black. --dry says so, and the backing is what the part sees across the gap.

A backing stated from memory (white and black of a new bench) is replaced at
once; a reading is replaced with --replace only. The old card is kept.

  masstone backing add white --reflectance 0.88
  masstone backing add "bench tile" --file tile.csv
  masstone backing add "black card, dry" --reflectance 0.04 --dry

JSON keys: outcome (added, unchanged, changed), backing, reflectance or
spectrum (first_nm, step_nm, r), source.`,
		Args: needs("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.name = args[0]
			o.given, o.indexed = cmd.Flags().Changed("reflectance"), cmd.Flags().Changed("index")
			return runBackingAdd(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	numberVar(f, &o.reflectance, "reflectance", aFactor, 0, "constant reflectance factor, 0 to 1")
	f.StringVar(&o.file, "file", "", "`FILE` with a reading of the backing")
	f.StringVar(&o.row, "row", "", "`NAME` of the reading in the file, if it has several")
	f.StringVar(&o.lab, "lab", "", "reading of a grey backing, L,a,b with --illuminant")
	f.BoolVar(&o.replace, "replace", false, "replace a backing that was read")
	f.BoolVar(&o.dry, "dry", false, "parts and chips lie dry on it, across a gap of air")
	numberVar(f, &o.index, "index", anIndex, 1.5, "refractive index of the resin, for --dry")
	o.reading.addConditions(f)
	o.reading.addLayout(f)
	o.reading.addPercent(f)
	return cmd
}

func runBackingAdd(ctx context.Context, env *Env, o backingOptions) error {
	given := 0
	for _, is := range []bool{o.given, o.file != "", o.lab != ""} {
		if is {
			given++
		}
	}
	if given != 1 {
		return misusef("backing %s: give one of --reflectance R, --file FILE and --lab L,a,b", o.name)
	}
	if o.indexed && !o.dry {
		return misusef("backing %s: --index is for --dry; leave it out, or add --dry", o.name)
	}
	card := archive.Backing{Name: o.name}
	switch {
	case o.given:
		card.Constant, card.Source = &o.reflectance, "stated"
	case o.lab != "":
		if err := greyBacking(&card, o); err != nil {
			return err
		}
	default:
		rows, err := readSamples(env, o.file, o.row, &o.reading)
		if err != nil {
			return err
		}
		piece, err := onePiece(o.file, rows)
		if err != nil {
			return err
		}
		if piece.Spectrum == nil {
			return fmt.Errorf("%s: holds no spectrum of %s; export bands R400...R700, or say --lab for a grey", o.file, piece.Name)
		}
		s := archive.SpectrumOf(*piece.Spectrum)
		card.Spectrum, card.Source = &s, "reading in "+title(o.file)
	}
	if o.dry {
		layDry(&card, o.index)
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		replace := o.replace
		if old, err := b.Backing(ctx, o.name); err == nil && old.Source == "from memory" {
			replace = true
		}
		outcome, err := b.PutBacking(ctx, card, onChange(replace))
		if err != nil {
			return advise(err, "add --replace to replace the card")
		}
		if env.JSON {
			return env.emit(struct {
				Outcome archive.Outcome `json:"outcome"`
				backingView
			}{outcome, viewBacking(card)})
		}
		env.print("backing %s %s: %s", tidy(card.Name), outcome, backingText(card))
		if outcome == archive.Changed {
			env.say("calibrations keep the backing they were fitted with; run masstone fit again to use the new one")
		}
		return nil
	})
}

// layDry makes a card's reflectance what a part of a resin of that index sees of
// it across a gap of air.
func layDry(card *archive.Backing, index float64) {
	across := func(r float64) float64 { return math.Round(layer.Surface(index).AcrossGap(r)*1e4) / 1e4 }
	if card.Constant != nil {
		c := across(*card.Constant)
		card.Constant = &c
	}
	if card.Spectrum != nil {
		s := *card.Spectrum
		s.R = slices.Clone(s.R)
		for i, r := range s.R {
			s.R[i] = across(r)
		}
		card.Spectrum = &s
	}
	card.Source += fmt.Sprintf(", across a gap of air (index %.3g)", index)
}

// grey is the chroma up to which a constant stands for a backing (common
// practice, no source).
const grey = 5

func greyBacking(card *archive.Backing, o backingOptions) error {
	if o.reading.illuminant == "" {
		return misusef("backing %s: --illuminant is missing; say under which light --lab was read, such as --illuminant D65", o.name)
	}
	lab, err := readings.Typed(o.lab, o.reading.condition())
	if err != nil {
		return misuse{fmt.Errorf("--lab %w", err)}
	}
	return greyOf(card, lab)
}

// greyOf makes a Lab reading of a grey the constant of a backing.
func greyOf(card *archive.Backing, lab color.Lab) error {
	if c := lab.LCh().C; c > grey {
		return fmt.Errorf("backing %s: chroma %.1f is no grey; give its spectrum with --file", card.Name, c)
	}
	xyz, err := lab.XYZ()
	if err != nil {
		return err
	}
	factor := math.Round(xyz.Y*10) / 1000 // Y runs to 100
	card.Constant, card.Source = &factor, "reading "+labText(lab)+" "+lab.Under.String()
	return nil
}

// readSamples reads a file of readings and keeps those of one name.
func readSamples(env *Env, file, name string, flags *readingFlags) ([]readings.Row, error) {
	options, err := flags.options(file, nil)
	if err != nil {
		return nil, err
	}
	t, err := readTable(env, file, options, readings.Samples)
	if err != nil {
		return nil, err
	}
	var names []string
	byName := map[string][]readings.Row{}
	for _, r := range t.Rows {
		if byName[r.Name] == nil {
			names = append(names, r.Name)
		}
		byName[r.Name] = append(byName[r.Name], r)
	}
	switch {
	case name != "" && byName[name] == nil:
		return nil, fmt.Errorf("%s: no reading is named %q; it has %s", options.File, name, listed(names[:min(len(names), 40)]))
	case name != "":
		return byName[name], nil
	case len(names) != 1:
		return nil, misusef("%s: holds readings of %d pieces; say which with --row, one of %s", options.File, len(names), listed(names[:min(len(names), 40)]))
	}
	return t.Rows, nil
}

// onePiece brings several readings of one piece together.
func onePiece(file string, rows []readings.Row) (readings.Piece, error) {
	pieces, err := readings.Pieces(title(file), rows)
	if err != nil {
		return readings.Piece{}, err
	}
	return pieces[0], nil
}

func newBackingListCommand(env *Env) *cobra.Command {
	return &cobra.Command{
		Use:   "list",
		Short: "List the backings",
		Long: `Lists the backings.

JSON keys: backings, a list of backing, reflectance or spectrum (first_nm,
step_nm, r), source.`,
		Args: needs(),
		RunE: func(cmd *cobra.Command, args []string) error { return runBackingList(cmd.Context(), env) },
	}
}

func runBackingList(ctx context.Context, env *Env) error {
	return withBench(ctx, env, func(b *archive.Bench) error {
		backings, err := b.Backings(ctx)
		if err != nil {
			return err
		}
		if env.JSON {
			return env.emit(struct {
				Backings []backingView `json:"backings"`
			}{viewBackings(backings)})
		}
		t := newTable("backing", "reflectance")
		for _, k := range backings {
			t.add(k.Name, backingText(k))
		}
		t.print(env.Stdout)
		return nil
	})
}

// reflectanceOf is a backing on the model's bands.
func reflectanceOf(k archive.Backing) (color.Reflectance, error) {
	if k.Constant != nil {
		return color.Constant(*k.Constant), nil
	}
	r, err := k.Spectrum.Color().Reflectance()
	if err != nil {
		return r, fmt.Errorf("backing %s: %w", k.Name, err)
	}
	return r, nil
}
