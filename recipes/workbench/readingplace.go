package workbench

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/readings"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/papers"
)

// A PieceKind is what readings are typed for.
type PieceKind string

// The kinds of piece.
const (
	TargetPiece  PieceKind = "target"
	BackingPiece PieceKind = "backing"
	ChipPiece    PieceKind = "chip"
)

// ParsePieceKind reads target, backing or chip.
func ParsePieceKind(text string) (PieceKind, error) {
	k := PieceKind(strings.ToLower(strings.TrimSpace(text)))
	if !slices.Contains([]PieceKind{TargetPiece, BackingPiece, ChipPiece}, k) {
		return "", invalid("kind", "%q: readings are of a target, a backing or a chip; %s", text, remedy.Verb("reading add", "target", "NAME"))
	}
	return k, nil
}

// A PlaceRequest names the piece that readings are typed for, and says how it
// is read.
type PlaceRequest struct {
	Kind        PieceKind
	Name        string
	Client      string          // of a target, where several have one of this name
	Resin       string          // code, of a chip; the only one on the bench if empty
	Condition   color.Condition // of every reading; observer 0 is 10 degrees
	Measurement color.Measurement
	Instrument  string  // by its name; the one in use if empty
	ApertureMM  float64 // its diameter; as the instrument's card says if 0

	circumstances readings.Circumstances
}

// A ReadingPlace is the card that typed readings go to, as the bench had it
// when it was asked. Readings are checked and stored against it.
type ReadingPlace struct {
	PlaceRequest        // with what was left open filled in
	New          bool   // the bench has no such card yet
	Seen         string // Ref of the card, "" for a new one
	// Planned is the chip as its plan wants it, nil for what is in no plan or has
	// been read. Plan is the plan's number.
	Planned *NewPiece
	Plan    string
}

// coded puts what a scanned code stands for in its place; a code is no name.
func (r *PlaceRequest) coded() error {
	r.Name = strings.TrimSpace(r.Name)
	if !papers.IsRef(r.Name) {
		return nil
	}
	ref, err := papers.ParseRef(r.Name)
	if err != nil {
		return invalid("name", "%w", err)
	}
	kind, err := ParsePieceKind(ref.Kind)
	switch {
	case err != nil:
		return invalid("name", "%s is the code of a %s; readings here are of a target, a backing or a chip, those of a pour go to %s", r.Name, ref.Kind, remedy.Verb("pour read"))
	case r.Kind != "" && r.Kind != kind:
		return invalid("name", "%s is a %s, but a %s is wanted", r.Name, kind, r.Kind)
	}
	within := &r.Resin
	if r.Kind = kind; kind == TargetPiece {
		within = &r.Client
	}
	if r.Name = ref.Names[len(ref.Names)-1]; len(ref.Names) > 1 && *within == "" {
		*within = ref.Names[0]
	}
	return nil
}

// Place finds the card of a piece, by its name or by the code on its label.
func Place(ctx context.Context, b *Bench, r PlaceRequest) (ReadingPlace, error) {
	if err := r.coded(); err != nil {
		return ReadingPlace{}, err
	}
	planned, err := r.planned(ctx, b.archive)
	if err != nil {
		return ReadingPlace{}, err
	}
	if planned != nil && r.Condition.Illuminant == "" {
		light, err := planned.light()
		if err != nil {
			return ReadingPlace{}, err
		}
		if r.Condition.Observer == 0 || r.Condition.Observer == light.Observer {
			r.Condition = light
		}
	}
	e, err := equipmentFor(ctx, b.archive, archive.Instrument, r.Instrument)
	if err != nil {
		return ReadingPlace{}, err
	}
	byInstrument(e, &r.Condition, &r.Measurement)
	r.circumstances = circumstancesOf(e)
	if err := checkMM("aperture-mm", r.ApertureMM); err != nil {
		return ReadingPlace{}, err
	}
	if r.ApertureMM > 0 {
		r.circumstances.Aperture = apertureText(r.ApertureMM)
	}
	switch {
	case r.Kind == "":
		return ReadingPlace{}, invalid("kind", "readings of what? %s, or a backing or a chip", remedy.Verb("reading add", "target", "NAME"))
	case r.Name == "":
		return ReadingPlace{}, invalid("name", "reading of a %s: NAME is missing; give the name it goes by", r.Kind)
	case r.Condition.Illuminant == "":
		return ReadingPlace{}, invalid("illuminant", "%s %q: %s is missing; say under which light it was read, such as %s %s", r.Kind, r.Name, remedy.Input("illuminant"), remedy.InputAs("illuminant", "D65"), remedy.InputAs("observer", "10"))
	}
	if r.Kind, err = ParsePieceKind(string(r.Kind)); err != nil {
		return ReadingPlace{}, err
	}
	if r.Measurement, err = checkedWay(r.Measurement); err != nil {
		return ReadingPlace{}, err
	}
	r.Condition = usualObserver(r.Condition)
	p := ReadingPlace{PlaceRequest: r}
	var card archive.Stamp
	switch r.Kind {
	case TargetPiece:
		var t archive.Target
		if t, err = b.archive.Target(ctx, r.Client, r.Name); err == nil {
			p.Client, card = t.Client, t.Stamp
		}
	case ChipPiece:
		resin, err := resinAt(ctx, b.archive, r.Resin)
		if err != nil {
			return p, err
		}
		p.Resin = resin.Code
		c, err := b.archive.Chip(ctx, resin.Code, r.Name)
		if err != nil && !errors.Is(err, archive.ErrNotFound) {
			return p, err
		}
		if p.New, card = err != nil, c.Stamp; p.New && planned != nil {
			piece := planned.piece()
			p.Planned, p.Plan = &piece, planned.plan.ID()
		}
	case BackingPiece:
		var k archive.Backing
		k, err = b.archive.Backing(ctx, r.Name)
		card = k.Stamp
	}
	if errors.Is(err, archive.ErrNotFound) {
		p.New, err = true, nil
	}
	p.Seen = card.Ref
	return p, err
}

// planned is the chip in the newest plan that has it, nil for none and for other
// pieces.
func (r PlaceRequest) planned(ctx context.Context, a *archive.Bench) (*plannedPiece, error) {
	if r.Kind != ChipPiece || r.Name == "" {
		return nil, nil
	}
	resin, err := resinAt(ctx, a, r.Resin)
	if err != nil {
		return nil, err
	}
	return plannedOn(ctx, a, resin.Code, r.Name)
}

// String names the piece.
func (p ReadingPlace) String() string { return fmt.Sprintf("%s %q", p.Kind, p.Name) }

// meanwhile is the conflict with who changed the card after the place was
// asked for.
func (p ReadingPlace) meanwhile(now archive.Stamp) error {
	did := "changed"
	if p.New {
		did = "added"
	}
	return meanwhile(p.String(), did, now)
}

// replaces refuses to replace readings that nobody saw: those of a card that was
// changed after the place was asked for.
func (p ReadingPlace) replaces(now archive.Stamp) error {
	if now.Ref == p.Seen {
		return nil
	}
	return p.meanwhile(now)
}

// A NewPiece is what the card of a new target or chip says beside its readings.
// A card that is there already keeps what it says; what is left open of a planned
// chip is as planned.
type NewPiece struct {
	ThicknessMM float64 // 3 if 0
	// ThicknessSDMM is by how much a casting misses that; nil for the usual.
	ThicknessSDMM *float64
	Over          string  // backing behind it; white if empty
	Tolerance     float64 // of a target, CIEDE2000; 1 if 0
	// What is in a chip: its loadings, or nothing.
	Loadings  map[string]calibrate.PHR
	Bare      bool
	ChipGrams calibrate.Grams // mixed resin in the cup of a chip; 0 if not known
	ScaleChoice
	ScaleGrams calibrate.Grams // step of the scale it was weighed on; that of the scale in use if 0
}

// CheckNewPiece tells whether the card of a new piece can say this, before
// anything is read: pigments and backing are those of the bench, and of a chip
// it is known what is in it.
func CheckNewPiece(ctx context.Context, b *Bench, p ReadingPlace, n NewPiece) error {
	if !p.New || p.Kind == BackingPiece {
		return nil
	}
	n = n.planned(p)
	if err := checkThicknessSD(p.String(), n.ThicknessSDMM, cmp.Or(n.ThicknessMM, usualThickness)); err != nil {
		return err
	}
	if p.Kind == ChipPiece && len(n.Loadings) == 0 && !n.Bare {
		return invalid("phr", "chip %s is new: say what is in it, %s, or %s", p.Name, remedy.InputAs("phr", "CODE=PHR,..."), remedy.Input("bare"))
	}
	for _, code := range slices.Sorted(maps.Keys(n.Loadings)) {
		if _, err := b.archive.Pigment(ctx, code); err != nil {
			return err
		}
	}
	if n.Over == "" {
		return nil
	}
	_, err := b.archive.Backing(ctx, n.Over)
	return err
}

// planned is the piece with what it leaves open as the plan of its place has it.
func (n NewPiece) planned(p ReadingPlace) NewPiece {
	if p.Planned == nil {
		return n
	}
	out := NewPiece{ThicknessMM: cmp.Or(n.ThicknessMM, p.Planned.ThicknessMM), ThicknessSDMM: n.ThicknessSDMM, Over: cmp.Or(n.Over, p.Planned.Over), Loadings: n.Loadings, Bare: n.Bare,
		ChipGrams: cmp.Or(n.ChipGrams, p.Planned.ChipGrams), ScaleGrams: cmp.Or(n.ScaleGrams, p.Planned.ScaleGrams)}
	if len(n.Loadings) == 0 && !n.Bare {
		out.Loadings, out.Bare = p.Planned.Loadings, p.Planned.Bare
	}
	return out
}
