package workbench

import (
	"context"
	"slices"

	"masstone/recipes/archive"
	"masstone/recipes/figure"
	"masstone/recipes/kept"
)

// A PoursRequest asks for pours: all, or those of a target.
type PoursRequest struct {
	Target, Client string
	Limit          int // most to list, 1 or more
}

// A PourList is pours, the newest first.
type PourList struct {
	Pours []Pour `json:"pours"`
}

// Pours lists pours and the verdicts on them.
func Pours(ctx context.Context, b *Bench, r PoursRequest) (PourList, error) {
	if r.Limit < 1 {
		return PourList{}, outOfRange("limit", r.Limit, "1 or more")
	}
	var pours []archive.Pour
	if r.Target != "" {
		found, err := b.archive.Pours(ctx, r.Client, r.Target)
		if err != nil {
			return PourList{}, err
		}
		pours = found
	} else {
		batches, err := b.archive.Batches(ctx, "")
		if err != nil {
			return PourList{}, err
		}
		for _, k := range batches {
			found, err := b.archive.PoursOfBatch(ctx, k.Ref)
			if err != nil {
				return PourList{}, err
			}
			pours = append(pours, found...)
		}
	}
	slices.SortFunc(pours, func(a, b archive.Pour) int { return int(b.Number - a.Number) })
	v := PourList{Pours: []Pour{}}
	for _, p := range pours[:min(len(pours), r.Limit)] {
		c, err := castOf(ctx, b.archive, p)
		if err != nil {
			return v, err
		}
		v.Pours = append(v.Pours, c.view())
	}
	return v, nil
}

// A PourHistory is a pour with every reading of the cured part.
type PourHistory struct {
	Pour
	History []PastReading `json:"history"`
}

// A PastReading is one reading of a cured part; the last of several counts.
type PastReading struct {
	On        string         `json:"read_on"`
	Part      int            `json:"part,omitempty" doc:"which of the parts of the pour"`
	AgeHours  *figure.Number `json:"age_h,omitempty" doc:"from the pour to the reading"`
	PartC     *figure.Number `json:"part_c,omitempty" doc:"temperature of the part"`
	Companion bool           `json:"companion,omitempty" as:"pour read"`
	FlatMM    *figure.Number `json:"flat_mm,omitempty" doc:"width of the flat spot that was read"`
	Colors    []Color        `json:"colors"`
	Verdict   *kept.Verdict  `json:"verdict,omitempty" as:"pour read"`
	Taken     *archive.Taken `json:"taken,omitempty" as:"pour read"`
	Note      string         `json:"note,omitempty"`
}

// ShowPour shows a pour and every reading of it.
func ShowPour(ctx context.Context, b *Bench, id string) (PourHistory, error) {
	c, err := castNamed(ctx, b.archive, id)
	if err != nil {
		return PourHistory{}, err
	}
	v := PourHistory{Pour: c.view(), History: []PastReading{}}
	for _, r := range c.readings {
		past, err := c.pastReading(r)
		if err != nil {
			return v, err
		}
		v.History = append(v.History, past)
	}
	return v, nil
}

func (c cast) pastReading(r archive.PourReading) (PastReading, error) {
	v := PastReading{On: r.ReadOn, Part: r.Part, AgeHours: figure.Known(r.AgeHours), Companion: r.Companion, FlatMM: figure.Known(r.FlatMM), Colors: []Color{}, Note: r.Note}
	if r.PartC != nil {
		v.PartC = figure.Of(*r.PartC)
	}
	piece, err := pieceOf(c.pour.ID(), r.Readings)
	if err != nil {
		return v, err
	}
	labs, err := colors(piece, conditionsOf(c.recipe.Predicted))
	if err != nil {
		return v, err
	}
	v.Taken = takenOf(piece.Circumstances)
	for _, l := range labs {
		v.Colors = append(v.Colors, Color{l.Under.String(), figure.LabOf(l)})
	}
	v.Verdict, err = kept.ReadVerdict(c.pour.ID(), r.Verdict)
	return v, err
}
