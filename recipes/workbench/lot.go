package workbench

import (
	"context"
	"fmt"
	"slices"

	"masstone/calibrate"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// An AddLotRequest adds a lot, one delivery of a pigment or resin.
type AddLotRequest struct {
	Code     string // of the pigment or resin
	Lot      string // as its label names it
	Received string // day, 2026-03-31; empty if not known
	Grams    calibrate.Grams
	Note     string
	Open     bool   // it is in use from now on
	Replace  bool   // the lot's card
	Seen     string // Ref of the card this was made from; "" does not check
}

// An OpenLotRequest says which lot of a pigment or resin is in use from now on.
type OpenLotRequest struct{ Code, Lot string }

// A Lot is a delivery of a pigment or resin.
type Lot struct {
	Item     string         `json:"item" doc:"pigment or resin"`
	Code     string         `json:"code"`
	Lot      string         `json:"lot"`
	Received string         `json:"received,omitempty"`
	Grams    *figure.Number `json:"grams,omitempty"`
	InUse    bool           `json:"in_use"`
	Strength *LotStrength   `json:"strength,omitempty"`
	Note     string         `json:"note,omitempty"`

	Ref string `json:"-"` // of the card
}

// A LotOutcome is a lot, and what was done to it.
type LotOutcome struct {
	Outcome string `json:"outcome" doc:"added, unchanged, changed"`
	Lot
}

// A LotList is the lots of all pigments and resins or of one, the newest of
// each first.
type LotList struct {
	Lots []Lot `json:"lots"`
}

// AddLot adds a lot, and opens it if asked to.
func AddLot(ctx context.Context, b *Bench, r AddLotRequest) (LotOutcome, error) {
	var v LotOutcome
	err := together(ctx, b, &v, func(a *archive.Bench) error {
		item, err := itemOf(ctx, a, r.Code)
		if err != nil {
			return err
		}
		if r.Seen != "" {
			now, err := lotNamed(ctx, a, r.Code, r.Lot)
			if err != nil {
				return err
			}
			if err := checkSeen("lot "+r.Lot+" of "+r.Code, r.Seen, now.Stamp); err != nil {
				return err
			}
		}
		l := archive.Lot{Item: item, Code: r.Code, Name: r.Lot, Received: r.Received, Grams: float64(r.Grams), Note: r.Note}
		outcome, err := a.PutLot(ctx, l, onChange(r.Replace))
		if err != nil {
			return advise(err, "add "+remedy.Input("replace")+" to replace the card")
		}
		if r.Open {
			if _, err := a.OpenLot(ctx, archive.LotName{Item: item, Code: r.Code, Name: r.Lot}); err != nil {
				return err
			}
		}
		v, err = lotOutcome(ctx, a, l, outcome)
		return err
	})
	return v, err
}

// OpenLot says which lot is in use: batches and pours name it by themselves from
// now on, its strength is counted, and a reorder compares it with the approved.
func OpenLot(ctx context.Context, b *Bench, r OpenLotRequest) (LotOutcome, error) {
	var v LotOutcome
	err := together(ctx, b, &v, func(a *archive.Bench) error {
		l, err := lotNamed(ctx, a, r.Code, r.Lot)
		if err != nil {
			return err
		}
		outcome, err := a.OpenLot(ctx, archive.LotName{Item: l.Item, Code: l.Code, Name: l.Name})
		if err != nil {
			return err
		}
		v, err = lotOutcome(ctx, a, l, outcome)
		return err
	})
	return v, err
}

// lotNamed finds a lot of a pigment or resin.
func lotNamed(ctx context.Context, a *archive.Bench, code, lot string) (archive.Lot, error) {
	item, err := itemOf(ctx, a, code)
	if err != nil {
		return archive.Lot{}, err
	}
	lots, err := a.Lots(ctx, item, code)
	if err != nil {
		return archive.Lot{}, err
	}
	var names []string
	for _, l := range lots {
		if l.Name == lot {
			return l, nil
		}
		names = append(names, l.Name)
	}
	has := "it has " + figure.List(names)
	if len(names) == 0 {
		has = remedy.Verb("lot add", code, lot)
	}
	return archive.Lot{}, &Error{NotFound, "lot", &archive.UnknownName{Name: lot, Err: fmt.Errorf("%s has no lot %q; %s", code, lot, has)}}
}

// Lots lists the lots of a pigment or resin, of all if the code is empty.
func Lots(ctx context.Context, b *Bench, code string) (LotList, error) {
	v := LotList{Lots: []Lot{}}
	of, err := itemsWithLots(ctx, b.archive, code)
	if err != nil {
		return v, err
	}
	known, err := knownOfLots(ctx, b.archive)
	if err != nil {
		return v, err
	}
	for _, item := range of {
		lots, err := b.archive.Lots(ctx, item.Item, item.Code)
		if err != nil {
			return v, err
		}
		for _, l := range lots {
			v.Lots = append(v.Lots, known.view(l))
		}
	}
	return v, nil
}

// itemsWithLots are what there may be lots of, without a lot's name: the item
// of a code, or the resins and then the pigments.
func itemsWithLots(ctx context.Context, a *archive.Bench, code string) ([]archive.LotName, error) {
	if code != "" {
		item, err := itemOf(ctx, a, code)
		return []archive.LotName{{Item: item, Code: code}}, err
	}
	resins, err := a.Resins(ctx)
	if err != nil {
		return nil, err
	}
	pigments, err := pigmentCodes(ctx, a)
	var of []archive.LotName
	for _, r := range resins {
		of = append(of, archive.LotName{Item: archive.OfResin, Code: r.Code})
	}
	for _, p := range pigments {
		of = append(of, archive.LotName{Item: archive.OfPigment, Code: p})
	}
	return of, err
}

// lotKnowledge is what the bench says of lots beside their cards.
type lotKnowledge struct {
	opened    []archive.OpenedLot
	strengths []archive.LotStrength
}

func knownOfLots(ctx context.Context, a *archive.Bench) (k lotKnowledge, err error) {
	if k.opened, err = a.OpenedLots(ctx); err != nil {
		return k, err
	}
	k.strengths, err = a.LotStrengths(ctx)
	return k, err
}

// strength is the newest record of how strong a lot is, nil if none is.
func (k lotKnowledge) strength(l archive.LotName) *archive.LotStrength {
	at := slices.IndexFunc(k.strengths, func(s archive.LotStrength) bool {
		return archive.LotName{Item: s.Item, Code: s.Code, Name: s.Lot} == l
	})
	if at < 0 {
		return nil
	}
	return &k.strengths[at]
}

func (k lotKnowledge) view(l archive.Lot) Lot {
	name := archive.LotName{Item: l.Item, Code: l.Code, Name: l.Name}
	v := Lot{Item: l.Item, Code: l.Code, Lot: l.Name, Received: l.Received, Grams: figure.Known(l.Grams), Note: l.Note, Ref: l.Ref}
	v.InUse = slices.ContainsFunc(k.opened, func(o archive.OpenedLot) bool {
		return archive.LotName{Item: o.Item, Code: o.Code, Name: o.Lot} == name
	})
	if s := k.strength(name); s != nil {
		known := strengthOf(l.Code, l.Name, calibrate.Strength{Ln: s.LnStrength, SD: s.SD})
		v.Strength = &known
	}
	return v
}

func lotOutcome(ctx context.Context, a *archive.Bench, l archive.Lot, outcome archive.Outcome) (LotOutcome, error) {
	known, err := knownOfLots(ctx, a)
	return LotOutcome{string(outcome), known.view(l)}, err
}
