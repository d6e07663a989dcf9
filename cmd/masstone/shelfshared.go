// What commands that do not go by verbs yet use of the shelf; it goes with the
// last of them.

package main

import (
	"fmt"
	"math"

	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
)

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

// grey is the chroma up to which a constant stands for a backing (common
// practice, no source).
const grey = 5

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

// outcomes are those of a report by name.
func outcomes(r archive.Report) map[string]archive.Outcome {
	out := map[string]archive.Outcome{}
	for outcome, names := range map[archive.Outcome][]string{archive.Added: r.Added, archive.Changed: r.Changed, archive.Unchanged: r.Unchanged} {
		for _, n := range names {
			out[n] = outcome
		}
	}
	return out
}

func mixOf(r archive.Resin) batch.Ratio { return batch.Ratio{A: r.MixA, B: r.MixB} }

func mixText(r archive.Resin) string {
	text := fmt.Sprintf("%s by mass", mixOf(r))
	if r.PotLife > 0 {
		text += ", pot life " + clock(r.PotLife)
	}
	return text
}

func firstKnown(values ...float64) float64 {
	for _, v := range values {
		if v != 0 {
			return v
		}
	}
	return 0
}
