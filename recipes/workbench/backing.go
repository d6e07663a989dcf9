package workbench

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"masstone/calibrate/layer"
	"masstone/color"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

const (
	// fromMemory is the source of the backings of a new bench, which give way
	// to any statement or reading.
	fromMemory = "from memory"
	// greyChroma is the chroma up to which a constant stands for a backing
	// (common practice, no source).
	greyChroma = 5
	// usualIndex is the refractive index of a resin that is not known (common
	// practice, no source).
	usualIndex = 1.5
)

// An AddBackingRequest adds what chips and parts lie on while they are read, or
// replaces its card: a stated reflectance, or readings.
type AddBackingRequest struct {
	Name        string
	Reflectance *float64 // constant reflectance factor, 0 to 1
	Readings    Readings // a spectrum in a file, or typed Lab of a grey
	Dry         bool     // pieces lie on it across a gap of air
	Index       float64  // refractive index of the resin, for Dry; 1.5 if 0
	Replace     bool     // a backing that was stated or read
	Seen        string   // Ref of the card this was made from; "" does not check
}

// A Backing is what a chip or a part lies on while it is read.
type Backing struct {
	Name        string            `json:"backing"`
	Reflectance *figure.Number    `json:"reflectance,omitempty" doc:"or spectrum"`
	Spectrum    *archive.Spectrum `json:"spectrum,omitempty"`
	Source      string            `json:"source,omitempty"`

	Ref string `json:"-"` // of the card
}

// A BackingOutcome is a backing, and what was done to its card.
type BackingOutcome struct {
	Outcome string `json:"outcome" doc:"added, unchanged, changed"`
	Backing
	Remarks Remarks `json:"-"`
}

// A BackingList is the backings of a bench by name.
type BackingList struct {
	Backings []Backing `json:"backings"`
}

func backingOf(k archive.Backing) Backing {
	v := Backing{Name: k.Name, Spectrum: k.Spectrum, Source: k.Source, Ref: k.Ref}
	if k.Constant != nil {
		v.Reflectance = figure.Of(*k.Constant)
	}
	return v
}

func backingsOf(all []archive.Backing) []Backing {
	out := make([]Backing, len(all))
	for i, k := range all {
		out[i] = backingOf(k)
	}
	return out
}

// AddBacking adds a backing. One stated from memory is replaced at once, any
// other only with Replace; the old card is kept.
func AddBacking(ctx context.Context, b *Bench, r AddBackingRequest) (BackingOutcome, error) {
	var v BackingOutcome
	card, err := r.card(&v.Remarks)
	if err != nil {
		return v, err
	}
	err = together(ctx, b, &v, func(a *archive.Bench) error {
		outcome, err := putBacking(ctx, a, card, r.Replace, r.Seen)
		if err != nil {
			return err
		}
		kept, err := a.Backing(ctx, r.Name)
		v.Outcome, v.Backing = string(outcome), backingOf(kept)
		return err
	})
	if err == nil && v.Outcome == string(archive.Changed) {
		v.Remarks.say("calibrations keep the backing they were fitted with; run %s again to use the new one", remedy.Verb("fit"))
	}
	return v, err
}

// putBacking stores the card of a backing. It runs inside Together.
func putBacking(ctx context.Context, a *archive.Bench, card archive.Backing, replace bool, seen string) (archive.Outcome, error) {
	old, err := a.Backing(ctx, card.Name)
	switch {
	case err == nil:
		if err := checkSeen("backing "+card.Name, seen, old.Stamp); err != nil {
			return "", err
		}
		replace = replace || old.Source == fromMemory
	case seen != "" || KindOf(err) != NotFound:
		return "", err
	}
	outcome, err := a.PutBacking(ctx, card, onChange(replace))
	return outcome, advise(err, fmt.Sprintf("add %s to replace the card", remedy.Input("replace")))
}

// card is the backing as the archive keeps it.
func (r AddBackingRequest) card(say *Remarks) (archive.Backing, error) {
	card := archive.Backing{Name: r.Name}
	what := "backing " + r.Name
	given := 0
	for _, is := range []bool{r.Reflectance != nil, r.Readings.File != nil, len(r.Readings.Typed) > 0} {
		if is {
			given++
		}
	}
	switch {
	case given != 1:
		return card, invalid("", "%s: give one of %s, %s and %s", what, remedy.InputAs("reflectance", "R"), remedy.InputAs("file", "FILE"), remedy.InputAs("lab", "L,a,b"))
	case r.Index != 0 && !r.Dry:
		return card, invalid("index", "%s: %s is for %s; leave it out, or add %s", what, remedy.Input("index"), remedy.Input("dry"), remedy.Input("dry"))
	case r.Reflectance != nil:
		card.Constant, card.Source = r.Reflectance, "stated"
	default:
		if err := r.read(&card, say); err != nil {
			return card, err
		}
	}
	if r.Dry {
		layDry(&card, cmp.Or(r.Index, usualIndex))
	}
	return card, nil
}

// read takes the reflectance of a card from its readings.
func (r AddBackingRequest) read(card *archive.Backing, say *Remarks) error {
	rows, err := r.Readings.rows("backing "+r.Name, r.Name, say)
	if err != nil {
		return err
	}
	if r.Readings.File == nil {
		piece, err := onePiece(remedy.Input("lab"), rows)
		if err != nil {
			return err
		}
		return greyOf(card, piece.Labs[0])
	}
	file := r.Readings.File.Name
	piece, err := onePiece(file, rows)
	if err != nil {
		return err
	}
	if piece.Spectrum == nil {
		return fmt.Errorf("%s: holds no spectrum of %s; export bands R400...R700, or say %s for a grey", file, piece.Name, remedy.Input("lab"))
	}
	s := archive.SpectrumOf(*piece.Spectrum)
	card.Spectrum, card.Source = &s, "reading in "+file
	return nil
}

// greyOf makes a Lab reading of a grey the constant of a backing.
func greyOf(card *archive.Backing, lab color.Lab) error {
	if c := lab.LCh().C; c > greyChroma {
		return fmt.Errorf("backing %s: chroma %.1f is no grey; give its spectrum with %s", card.Name, c, remedy.Input("file"))
	}
	xyz, err := lab.XYZ()
	if err != nil {
		return err
	}
	factor := math.Round(xyz.Y*10) / 1000 // Y runs to 100
	card.Constant, card.Source = &factor, "reading "+figure.LabText(lab)+" "+lab.Under.String()
	return nil
}

// layDry makes a card's reflectance what a part of a resin of that index sees of
// it across a gap of air: of the light that reaches a card laid under dry some
// 60 % turns back before it meets the card.
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

// Backings lists the backings of a bench.
func Backings(ctx context.Context, b *Bench) (BackingList, error) {
	all, err := b.archive.Backings(ctx)
	return BackingList{backingsOf(all)}, err
}
