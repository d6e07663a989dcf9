package workbench

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"

	"masstone/color"
	"masstone/color/readings"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// A CheckedReading is a typed reading that can be one.
type CheckedReading struct {
	Lab     color.Lab
	Remarks Remarks // what is doubtful
}

// CheckReading judges one typed reading of a piece, L,a,b, as it comes. number
// names it in remarks, from 1.
func CheckReading(p ReadingPlace, number int, text string) (CheckedReading, error) {
	lab, err := readings.Typed(text, p.Condition)
	if err != nil {
		return CheckedReading{}, invalid("lab", "%w", err)
	}
	warnings, err := readings.Judge("reading", []readings.Row{{Line: number, Name: p.Name, Labs: []color.Lab{lab}, Measurement: p.Measurement}})
	if err != nil {
		return CheckedReading{}, invalid("lab", "%w", err)
	}
	c := CheckedReading{Lab: lab}
	for _, w := range warnings {
		c.Remarks.warn("%s", w.Error())
	}
	return c, nil
}

// A ReadingScatter is how far readings of one piece lie from their mean.
type ReadingScatter struct {
	MeanReading
	From    []figure.Number `json:"from_mean_dE00" doc:"of each reading that counts"`
	LeftOut []int           `json:"left_out" doc:"numbers of readings, from 1"`
}

// Scatter tells how readings of one piece agree, those left out not counted. A
// reading keeps its number, from 1, whatever is left out.
func Scatter(p ReadingPlace, labs []color.Lab, leaveOut []int) (ReadingScatter, error) {
	_, s, err := p.sift(labs, leaveOut)
	return s, err
}

// sift brings the readings that count together.
func (p ReadingPlace) sift(labs []color.Lab, leaveOut []int) (readings.Piece, ReadingScatter, error) {
	s := ReadingScatter{LeftOut: append([]int{}, slices.Compact(slices.Sorted(slices.Values(leaveOut)))...), From: []figure.Number{}}
	for _, n := range s.LeftOut {
		if n < 1 || n > len(labs) {
			return readings.Piece{}, s, invalid("leave-out", "%s: there are %s; give numbers from 1", remedy.InputAs("leave-out", fmt.Sprint(n)), figure.Count(len(labs), "reading"))
		}
	}
	var rows []readings.Row
	for i, lab := range labs {
		if lab.Under != p.Condition {
			return readings.Piece{}, s, invalid("lab", "%s: reading %d is under %s, not %s; give readings of one light at a time", p, i+1, lab.Under, p.Condition)
		}
		if !slices.Contains(s.LeftOut, i+1) {
			rows = append(rows, readings.Row{Line: i + 1, Name: p.Name, Labs: []color.Lab{lab}, Measurement: p.Measurement, Circumstances: p.circumstances})
		}
	}
	if len(rows) == 0 {
		return readings.Piece{}, s, fmt.Errorf("%s: no reading is left; nothing was stored", p)
	}
	piece, err := onePiece("reading", rows)
	if err != nil {
		return piece, s, err
	}
	s.MeanReading = meanReadings(piece)[0]
	if s.Outlier != nil {
		n := rows[*s.Outlier-1].Line
		s.Outlier = &n
	}
	for _, r := range rows {
		de, err := r.Labs[0].DeltaE00(piece.Labs[0])
		if err != nil {
			return piece, s, err
		}
		s.From = append(s.From, figure.Number(de))
	}
	return piece, s, nil
}

// An AddReadingsRequest stores typed readings of one piece under one light.
type AddReadingsRequest struct {
	Place    ReadingPlace // as Place found it
	Labs     []color.Lab  // as CheckReading gave them
	LeaveOut []int        // numbers of readings, from 1
	// Replace puts the readings in the place of those the card has, which must
	// be the card that Place found; else they stand beside those of the newest.
	Replace bool
	// SamePiece says that readings of a target which differ from those it has are
	// of the piece as it was, and are averaged with them.
	SamePiece bool
	Piece     NewPiece // where the bench has none of that name
	Again     bool     // meant, though the same readings were added a moment ago

	now archive.Stamp
}

// AddedReadings says what became of typed readings.
type AddedReadings struct {
	Outcome string    `json:"outcome" doc:"added, changed, unchanged"`
	Kind    PieceKind `json:"kind" doc:"target, backing, chip"`
	Name    string    `json:"name"`
	Plan    string    `json:"plan,omitempty" doc:"it is a chip of, with its first readings now"`
	ReadingScatter
	InAll int `json:"in_all" doc:"readings of the piece under this light now"`

	Remarks Remarks `json:"-"`
}

// AddReadings puts typed readings on the card of their piece. What others put
// there meanwhile stays: readings go to the newest card, and one that was
// changed after it was seen is not replaced.
func AddReadings(ctx context.Context, b *Bench, r AddReadingsRequest) (AddedReadings, error) {
	p := r.Place
	r.now.At = b.now()
	v := AddedReadings{Kind: p.Kind, Name: p.Name, Plan: p.Plan}
	piece, scatter, err := p.sift(r.Labs, r.LeaveOut)
	if err != nil {
		return v, err
	}
	if err := CheckNewPiece(ctx, b, p, r.Piece); err != nil {
		return v, err
	}
	r.Piece = r.Piece.planned(p)
	switch {
	case p.New && p.Kind == ChipPiece:
		if err := r.Piece.fill(ctx, b.archive, 0, &r.Piece.ScaleGrams, nil, nil); err != nil {
			return v, err
		}
	case r.Piece.Scale != "":
		return v, invalid("scale", "%s: only a new chip is weighed; leave it out", remedy.InputAs("scale", r.Piece.Scale))
	}
	v.ReadingScatter = scatter
	if n := v.Outlier; n != nil {
		v.Remarks.warn("reading %d does not belong to the others; read the piece again, or add %s", *n, remedy.InputAs("leave-out", fmt.Sprint(*n)))
	}
	put := map[PieceKind]func(context.Context, *archive.Bench, readings.Piece) (archive.Outcome, int, error){
		TargetPiece: r.toTarget, ChipPiece: r.toChip, BackingPiece: r.toBacking}[p.Kind]
	if put == nil {
		_, err := ParsePieceKind(string(p.Kind))
		return v, err
	}
	err = together(ctx, b, &v, func(a *archive.Bench) error {
		outcome, all, err := put(ctx, a, piece)
		v.Outcome, v.InAll = string(outcome), all
		return err
	})
	return v, err
}

func (r AddReadingsRequest) toTarget(ctx context.Context, a *archive.Bench, piece readings.Piece) (archive.Outcome, int, error) {
	p := r.Place
	described := archive.Target{Client: p.Client, Name: p.Name, Formula: string(color.CIEDE2000),
		ThicknessMM: cmp.Or(r.Piece.ThicknessMM, usualThickness), ThicknessSD: r.Piece.ThicknessSDMM, Backing: cmp.Or(r.Piece.Over, usualBacking), Tolerance: cmp.Or(r.Piece.Tolerance, usualTolerance)}
	t, err := a.Target(ctx, p.Client, p.Name)
	switch {
	case errors.Is(err, archive.ErrNotFound):
		t = described
	case err != nil:
		return "", 0, err
	case p.New && (t.ThicknessMM != described.ThicknessMM || t.Backing != described.Backing || t.Tolerance != described.Tolerance):
		return "", 0, p.meanwhile(t.Stamp)
	}
	if err := r.askSamePiece(ctx, a, t, piece); err != nil {
		return "", 0, err
	}
	var all int
	if t.Readings, all, err = r.with(t.Readings, t.Stamp, piece); err != nil {
		return "", 0, err
	}
	outcome, err := a.PutTarget(ctx, t, archive.Replace)
	return outcome, all, err
}

func (r AddReadingsRequest) toChip(ctx context.Context, a *archive.Bench, piece readings.Piece) (archive.Outcome, int, error) {
	p := r.Place
	described := archive.Chip{Resin: p.Resin, Name: p.Name, Loadings: floats(r.Piece.Loadings), ThicknessMM: cmp.Or(r.Piece.ThicknessMM, usualThickness), ThicknessSD: r.Piece.ThicknessSDMM, Backing: cmp.Or(r.Piece.Over, usualBacking),
		ChipGrams: float64(r.Piece.ChipGrams), ScaleGrams: float64(r.Piece.ScaleGrams)}
	plans, err := a.Plans(ctx, p.Resin)
	if err != nil {
		return "", 0, err
	}
	described.Casting = plannedCasting(plans, described)
	c, err := a.Chip(ctx, p.Resin, p.Name)
	switch {
	case errors.Is(err, archive.ErrNotFound):
		c = described
	case err != nil:
		return "", 0, err
	case p.New && (!maps.Equal(c.Loadings, described.Loadings) || c.ThicknessMM != described.ThicknessMM || c.Backing != described.Backing || c.ChipGrams != described.ChipGrams || c.ScaleGrams != described.ScaleGrams):
		return "", 0, p.meanwhile(c.Stamp)
	}
	var all int
	if c.Readings, all, err = r.with(c.Readings, c.Stamp, piece); err != nil {
		return "", 0, err
	}
	report, err := a.ImportChips(ctx, c.Resin, []archive.Chip{c}, archive.Replace)
	return outcomes(report)[c.Name], all, err
}

// toBacking makes the readings the card of a backing: they always stand for
// themselves.
func (r AddReadingsRequest) toBacking(ctx context.Context, a *archive.Bench, piece readings.Piece) (archive.Outcome, int, error) {
	card := archive.Backing{Name: r.Place.Name}
	if err := greyOf(&card, piece.Labs[0]); err != nil {
		return "", 0, err
	}
	old, err := a.Backing(ctx, card.Name)
	replace := r.Replace || err == nil && old.Source == fromMemory
	switch {
	case err != nil && !errors.Is(err, archive.ErrNotFound):
		return "", 0, err
	case err == nil && replace:
		if err := r.Place.replaces(old.Stamp); err != nil {
			return "", 0, err
		}
	}
	outcome, err := a.PutBacking(ctx, card, onChange(replace))
	return outcome, len(piece.Readings), advise(err, "add "+remedy.Input("replace")+" to replace the card")
}

// with are the readings of a card with those of the piece beside them or in
// their place; all is how many there are under the light of the piece then.
func (r AddReadingsRequest) with(old []archive.Reading, now archive.Stamp, piece readings.Piece) (both []archive.Reading, all int, err error) {
	p := r.Place
	if r.Replace {
		if err := p.replaces(now); err != nil {
			return nil, 0, err
		}
		old = nil
	}
	added := readingsOf(piece.Readings)
	if n := len(old) - len(added); n >= 0 && !r.Again && same(old[n:], added) {
		if err := twice(p.String()+" has such readings", now, r.now); err != nil {
			return nil, 0, err
		}
	}
	both = append(slices.Clone(old), added...)
	together, err := pieceOf(p.Name, both)
	if err != nil {
		return nil, 0, fmt.Errorf("%s: the bench has readings taken another way (%w); add %s to replace them", p, err, remedy.Input("replace"))
	}
	return both, readingsUnder(together, p.Condition), nil
}
