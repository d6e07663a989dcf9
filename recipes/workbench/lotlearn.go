package workbench

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"masstone/calibrate"
	"masstone/color/readings"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// A LearnLotRequest asks how strong a lot of a pigment is, or how strong the own
// colour of a lot of a resin is, by chips of it.
type LearnLotRequest struct {
	Code, Lot  string
	Chips      File            // columns as of chips that are imported
	Resin      string          // code, of the chips; the only one on the bench if empty
	ChipGrams  calibrate.Grams // mixed resin in the cup of each, where the file does not say
	ScaleGrams calibrate.Grams // step of the scale they were weighed on, likewise
	// ThicknessSDMM is how far their thickness may miss, a standard deviation; nil for the
	// usual.
	ThicknessSDMM *float64

	item string // what the lot is of
}

func (r LearnLotRequest) ofResin() bool { return r.item == archive.OfResin }

// curve is the code by which a calibration knows what the lot is of.
func (r LearnLotRequest) curve() string {
	if r.ofResin() {
		return ""
	}
	return r.Code
}

// lot names the lot.
func (r LearnLotRequest) lot() archive.LotName {
	return archive.LotName{Item: r.item, Code: r.Code, Name: r.Lot}
}

// A LearnedLot is what chips taught of a lot.
type LearnedLot struct {
	Resin       string `json:"resin"`
	Calibration string `json:"calibration"`
	LotStrength
	Chips []LearnedChip `json:"chips" doc:"from the reading to the prediction under the main light"`

	Remarks Remarks `json:"-"`
}

// A LearnedChip is a chip of a lot, against the calibration and against what is
// known now.
type LearnedChip struct {
	Chip   string        `json:"chip"`
	Before figure.Number `json:"dE00_before"`
	After  figure.Number `json:"dE00_after"`
}

// LearnLot learns how strong a lot is against the one calibrated. What pours or
// other chips have shown of it before is counted, what these chips have shown
// before is not counted again. The chips are kept, but not fitted.
func LearnLot(ctx context.Context, b *Bench, r LearnLotRequest) (LearnedLot, error) {
	var v LearnedLot
	l, err := lotNamed(ctx, b.archive, r.Code, r.Lot)
	if err != nil {
		return v, err
	}
	if r.item = l.Item; r.ofResin() {
		if r.Resin != "" && r.Resin != r.Code {
			return v, invalid("resin", "%s: a lot of resin %s is learnt from chips of %s", remedy.InputAs("resin", r.Resin), r.Code, r.Code)
		}
		r.Resin = r.Code
	}
	resin, err := resinAt(ctx, b.archive, r.Resin)
	if err != nil {
		return v, err
	}
	chips, err := r.chips(ctx, b.archive, resin, &v.Remarks) // before the bench is locked
	if err != nil {
		return v, err
	}
	err = together(ctx, b, &v, func(a *archive.Bench) error { return r.learn(ctx, a, resin, chips, &v) })
	return v, err
}

// chips reads the chips of the lot.
func (r LearnLotRequest) chips(ctx context.Context, a *archive.Bench, resin archive.Resin, say *Remarks) ([]archive.Chip, error) {
	pigments, err := pigmentCodes(ctx, a)
	if err != nil {
		return nil, err
	}
	if err := r.Chips.Sight.look(ctx, a); err != nil {
		return nil, err
	}
	pieces, err := r.Chips.pieces(pigments, readings.Chips, say)
	if err != nil {
		return nil, err
	}
	if err := checkCastings(r.Chips.Name, pieces); err != nil {
		return nil, err
	}
	ofLot := func(name string) string { return fmt.Sprintf("%s lot %s: %s", r.Code, r.Lot, name) }
	var chips []archive.Chip
	for _, p := range pieces {
		if !r.ofResin() && p.Loadings[r.Code] <= 0 {
			return nil, fmt.Errorf("%s: chip %q holds no %s; leave it out of the file", r.Chips.Name, p.Name, r.Code)
		}
		for _, w := range p.Warnings {
			say.warn("%s", w.Error())
		}
		if err := checkThicknessSD("chip "+p.Name, r.ThicknessSDMM, p.ThicknessMM); err != nil {
			return nil, err
		}
		casting := ""
		if p.Casting != "" {
			casting = ofLot(p.Casting)
		}
		chips = append(chips, archive.Chip{Resin: resin.Code, Casting: casting, ThicknessSD: r.ThicknessSDMM, Name: ofLot(p.Name), Loadings: p.Loadings, Backing: p.Backing, ThicknessMM: p.ThicknessMM,
			ChipGrams: cmp.Or(p.ChipGrams, float64(r.ChipGrams)), ScaleGrams: cmp.Or(p.ScaleGrams, float64(r.ScaleGrams)), Lots: []archive.LotName{r.lot()},
			Readings: readingsOf(p.Readings), Note: p.Note, Withdrawn: map[bool]string{false: "shows a lot, not the calibrated pigment", true: "shows a lot, not the calibrated resin"}[r.ofResin()]})
	}
	return chips, nil
}

// learn holds the chips against what is known, and keeps them and what they
// taught.
func (r LearnLotRequest) learn(ctx context.Context, a *archive.Bench, resin archive.Resin, archived []archive.Chip, v *LearnedLot) error {
	stored, cal, err := calibrationOn(ctx, a, resin.Code, 0)
	if err != nil {
		return err
	}
	if !r.ofResin() && cal.Index(r.Code) == 0 {
		return notFitted(r.Code, stored)
	}
	for _, c := range archived {
		if err := checkFitted(ctx, a, stored, cal, c.Loadings); err != nil {
			return err
		}
	}
	known, evidence, err := r.known(ctx, a, stored, cal, archived)
	if err != nil {
		return err
	}
	chips, _, err := evidenceOf(ctx, a, archived)
	if err != nil {
		return err
	}
	before, err := cal.WithLots(known)
	if err != nil {
		return err
	}
	_, learned, err := before.Learn(chips, calibrate.LearnOptions{})
	if err != nil {
		return err
	}
	s := learned.Strengths[r.curve()]
	s.Ln += known[r.curve()].Ln
	v.Resin, v.Calibration, v.LotStrength = stored.Resin, stored.Name(), strengthOf(r.Code, r.Lot, s)
	for _, c := range learned.Chips {
		before, err := c.Measured.DeltaE00(c.Before)
		if err != nil {
			return err
		}
		after, err := c.Measured.DeltaE00(c.After)
		if err != nil {
			return err
		}
		v.Chips = append(v.Chips, LearnedChip{c.Chip, figure.Number(before), figure.Number(after)})
	}
	if _, err := a.ImportChips(ctx, stored.Resin, archived, archive.Refuse); err != nil {
		return advise(err, "give the chips other names")
	}
	for _, c := range archived {
		kept, err := a.Chip(ctx, stored.Resin, c.Name)
		if err != nil {
			return err
		}
		evidence = append(evidence, kept.Ref)
	}
	_, err = a.SetLotStrength(ctx, archive.LotStrength{Item: r.item, Code: r.Code, Lot: r.Lot, LnStrength: s.Ln, SD: s.SD, Calibration: stored.Ref, Evidence: evidence})
	return err
}

// known is what is known of the lots in the chips before they are looked at: of
// this one what pours or other chips have shown, with that evidence, or
// nothing; of the others what is known of those in use.
func (r LearnLotRequest) known(ctx context.Context, a *archive.Bench, stored archive.Calibration, cal *calibrate.Calibration, chips []archive.Chip) (known map[string]calibrate.Strength, earlier []string, err error) {
	own := r.lot()
	lots, err := lotsInUse(ctx, a, stored.Resin, cal.Codes())
	if err != nil {
		return nil, nil, err
	}
	lots = append(slices.DeleteFunc(lots, func(l archive.LotName) bool { return l.Item == own.Item && l.Code == own.Code }), own)
	var same []string // chips that were learnt from before
	for _, c := range chips {
		if k, err := a.Chip(ctx, c.Resin, c.Name); err == nil {
			same = append(same, k.Ref)
		}
	}
	if known, _, err = strengthsOf(ctx, a, lots, stored, same); err != nil {
		return nil, nil, err
	}
	known = inCalibration(cal, known)
	if _, some := known[r.curve()]; !some {
		known[r.curve()] = calibrate.Strength{SD: baseDrift}
		if !r.ofResin() {
			known[r.Code] = calibrate.Strength{SD: cal.UsualDrift()[r.Code]}
		}
		return known, nil, nil
	}
	all, err := knownOfLots(ctx, a)
	if s := all.strength(own); s != nil {
		earlier = slices.Clone(s.Evidence)
	}
	return known, earlier, err
}
