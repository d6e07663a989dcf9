package workbench

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/remedy"
	"masstone/recipes/archive"
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
}

// A ReadingPlace is the card that typed readings go to, as the bench had it
// when it was asked. Readings are checked and stored against it.
type ReadingPlace struct {
	PlaceRequest        // with what was left open filled in
	New          bool   // the bench has no such card yet
	Seen         string // Ref of the card, "" for a new one
}

// Place finds the card of a piece.
func Place(ctx context.Context, b *Bench, r PlaceRequest) (ReadingPlace, error) {
	r.Name = strings.TrimSpace(r.Name)
	switch {
	case r.Kind == "":
		return ReadingPlace{}, invalid("kind", "readings of what? %s, or a backing or a chip", remedy.Verb("reading add", "target", "NAME"))
	case r.Name == "":
		return ReadingPlace{}, invalid("name", "reading of a %s: NAME is missing; give the name it goes by", r.Kind)
	case r.Condition.Illuminant == "":
		return ReadingPlace{}, invalid("illuminant", "%s %q: %s is missing; say under which light it was read, such as %s %s", r.Kind, r.Name, remedy.Input("illuminant"), remedy.InputAs("illuminant", "D65"), remedy.InputAs("observer", "10"))
	}
	var err error
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
		p.New, card = err != nil, c.Stamp
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
// A card that is there already keeps what it says.
type NewPiece struct {
	ThicknessMM float64 // 3 if 0
	Over        string  // backing behind it; white if empty
	Tolerance   float64 // of a target, CIEDE2000; 1 if 0
	// What is in a chip: its loadings, or nothing.
	Loadings   map[string]calibrate.PHR
	Bare       bool
	ChipGrams  calibrate.Grams // mixed resin in the cup of a chip; 0 if not known
	ScaleGrams calibrate.Grams // step of the scale it was weighed on; 0 if not known
}

// CheckNewPiece tells whether the card of a new piece can say this, before
// anything is read: pigments and backing are those of the bench, and of a chip
// it is known what is in it.
func CheckNewPiece(ctx context.Context, b *Bench, p ReadingPlace, n NewPiece) error {
	if !p.New || p.Kind == BackingPiece {
		return nil
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
