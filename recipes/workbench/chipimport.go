package workbench

import (
	"cmp"
	"context"
	"maps"
	"slices"

	"masstone/calibrate"
	"masstone/color/readings"
	"masstone/color/remedy"
	"masstone/recipes/archive"
)

// An ImportChipsRequest takes in chips of known loading and what was read on
// them.
type ImportChipsRequest struct {
	Resin string // code; the only one on the bench if empty
	Chips File   // what was poured, with readings unless Readings has them
	// Readings is an instrument file with the readings of the same chips, by
	// name; rows of one name there are readings of one chip, by the Sight of Chips.
	Readings   *File
	ChipGrams  calibrate.Grams // mixed resin in the cup, where the file does not say it; 0 takes loadings as exact
	ScaleGrams calibrate.Grams // step of the scale, likewise
	// ThicknessSDMM is how far the chips' thickness may miss what the file says, a
	// standard deviation: 0 takes it as exact, nil for the usual.
	ThicknessSDMM *float64
	Preview       bool // say what would be stored, store nothing
	Replace       bool // chips whose content changed
	// Seen is by chip the Ref of the card it was made from; none does not check.
	Seen map[string]string
}

// ImportedChips says what became of a file of chips.
type ImportedChips struct {
	Preview bool   `json:"preview,omitempty" doc:"true if asked for"`
	Resin   string `json:"resin"`
	CardReport
	Chips []PreviewedChip `json:"chips,omitempty" doc:"of a preview, with outcome" as:"chip list"`

	Remarks Remarks `json:"-"`
}

// A PreviewedChip is a chip of a file, and what an import would do to its card.
type PreviewedChip struct {
	Outcome string `json:"outcome"`
	Chip
}

// ImportChips takes in the chips of a file, all of them or none. A chip whose
// content changed needs Replace, and the old card is kept.
func ImportChips(ctx context.Context, b *Bench, r ImportChipsRequest) (ImportedChips, error) {
	v := ImportedChips{Preview: r.Preview}
	resin, err := resinAt(ctx, b.archive, r.Resin)
	if err != nil {
		return v, err
	}
	v.Resin = resin.Code
	pigments, err := pigmentCodes(ctx, b.archive)
	if err != nil {
		return v, err
	}
	if err := r.Chips.Sight.look(ctx, b.archive); err != nil {
		return v, err
	}
	cards, err := r.cards(pigments, &v.Remarks)
	if err != nil {
		return v, err
	}
	plans, err := b.archive.Plans(ctx, resin.Code)
	if err != nil {
		return v, err
	}
	for i, c := range cards {
		if c.Casting == "" {
			cards[i].Casting = plannedCasting(plans, c)
		}
	}
	if r.Preview {
		return v, v.preview(ctx, b, cards)
	}
	err = together(ctx, b, &v, func(a *archive.Bench) error {
		for _, name := range slices.Sorted(maps.Keys(r.Seen)) {
			now, err := a.Chip(ctx, resin.Code, name)
			if err != nil {
				return err
			}
			if err := checkSeen("chip "+name, r.Seen[name], now.Stamp); err != nil {
				return err
			}
		}
		report, err := a.ImportChips(ctx, resin.Code, cards, onChange(r.Replace))
		v.CardReport = cardReport(report)
		return advise(err, "add "+remedy.Input("replace")+" to replace chips whose content changed")
	})
	if err == nil && slices.ContainsFunc(cards, func(c archive.Chip) bool { return c.ChipGrams == 0 }) {
		v.Remarks.say("loadings are taken as exact; say %s and %s so that the fit counts the weighing", remedy.Input("chip-grams"), remedy.Input("scale"))
	}
	return v, err
}

// preview fills in what an import would do.
func (v *ImportedChips) preview(ctx context.Context, b *Bench, cards []archive.Chip) error {
	report, err := b.archive.PreviewChips(ctx, v.Resin, cards)
	if err != nil {
		return err
	}
	v.CardReport = cardReport(report)
	outcome := outcomes(report)
	for _, c := range cards {
		chip, err := chipOf(c)
		if err != nil {
			return err
		}
		v.Chips = append(v.Chips, PreviewedChip{string(outcome[c.Name]), chip})
	}
	if len(report.Changed) > 0 {
		v.Remarks.say("to change chips that the bench holds, add %s; the old cards are kept", remedy.Input("replace"))
	}
	return nil
}

// cards are the chips of the files as the archive keeps them.
func (r ImportChipsRequest) cards(pigments []string, say *Remarks) ([]archive.Chip, error) {
	var pieces []readings.Piece
	var err error
	if r.Readings == nil {
		pieces, err = r.Chips.pieces(pigments, readings.Chips, say)
	} else {
		pieces, err = r.joined(pigments, say)
	}
	if err != nil {
		return nil, err
	}
	if err := checkCastings(r.Chips.Name, pieces); err != nil {
		return nil, err
	}
	cards := make([]archive.Chip, len(pieces))
	for i, p := range pieces {
		for _, w := range p.Warnings {
			say.warn("%s", w.Error())
		}
		if err := checkThicknessSD("chip "+p.Name, r.ThicknessSDMM, p.ThicknessMM); err != nil {
			return nil, err
		}
		cards[i] = archive.Chip{Name: p.Name, Loadings: p.Loadings, Backing: p.Backing, Casting: p.Casting, ThicknessMM: p.ThicknessMM,
			ChipGrams: cmp.Or(p.ChipGrams, float64(r.ChipGrams)), ScaleGrams: cmp.Or(p.ScaleGrams, float64(r.ScaleGrams)),
			ThicknessSD: r.ThicknessSDMM, Readings: readingsOf(p.Readings), Note: p.Note}
	}
	return cards, nil
}

// joined are the chips of what was poured and an instrument file, joined by
// name. Backing and thickness are those of either file, and where neither has
// them those of the request.
func (r ImportChipsRequest) joined(pigments []string, say *Remarks) ([]readings.Piece, error) {
	chips, read := r.Chips, *r.Readings
	read.Sight = chips.Sight
	over, thickness := chips.Options.Backing, chips.Options.ThicknessMM
	for _, f := range []*File{&chips, &read} {
		f.Options.Backing, f.Options.ThicknessMM = "", 0
	}
	poured, err := chips.table(pigments, readings.Mixtures, say)
	if err != nil {
		return nil, err
	}
	samples, err := read.table(pigments, readings.Samples, say)
	if err != nil {
		return nil, err
	}
	told := len(poured.Warnings) + len(samples.Warnings)
	joined, err := readings.Join(read.Name, poured, samples)
	if err != nil {
		return nil, err
	}
	for _, w := range joined.Warnings[told:] {
		w.File = chips.Name
		say.warn("%s", w.Error())
	}
	for i := range joined.Rows {
		row := &joined.Rows[i]
		row.Backing, row.ThicknessMM = cmp.Or(row.Backing, over), cmp.Or(row.ThicknessMM, thickness)
		bad := &readings.RowError{File: chips.Name, Name: row.Name}
		switch {
		case row.Backing == "":
			bad.Problem, bad.Hint = "neither file says what it lay on", "add a column backing, or say "+remedy.Input("over")+" for all"
		case row.ThicknessMM == 0:
			bad.Problem, bad.Hint = "neither file says how thick it is", "add a column thickness_mm, or say "+remedy.Input("thickness")+" for all"
		default:
			continue
		}
		return nil, bad
	}
	return readings.Pieces(read.Name, joined.Rows)
}
