package workbench

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
	"masstone/recipes/kept"
)

// A knowledge is what is known at a moment of the colours of a resin, for its
// lots in use and, if asked for, for one target. Match, batch, correct,
// reorder, find, predict and plan all go by it, so that they agree.
type knowledge struct {
	stored archive.Calibration
	fitted *calibrate.Calibration // as stored
	// now counts the lots in use and what the pours of the target taught.
	now    *calibrate.Calibration
	target *recipes.Target // nil if none was asked for
	// before is what is known of the lots of the pours without those pours, or
	// of the lots in use where there is none.
	before map[string]calibrate.Strength
	// strengths is what now counts, against the calibrated lots.
	strengths map[string]calibrate.Strength
	since     map[string]calibrate.Strength // lots opened since the pours, against theirs
	lots      []archive.LotName             // that now holds for
	// guessed are the pigments whose lot in use nobody knows anything of but
	// that it is another than before.
	guessed []string
	codes   []string // of the pigments that matter
	seen    evidence
	notes   []string
}

// A question is what knowledge is asked for.
type question struct {
	resin   string
	version int // of the calibration, 0 for the newest
	// codes are the pigments that matter; nil for all of the calibration. Of
	// others nothing is told or kept, but what is known does not depend on it.
	codes []string
	// calibrated leaves out lots and pours: what the chips alone say.
	calibrated bool

	target    *archive.Target // nil for none
	thickness float64         // of the part, mm
	over      string
	// after asks for what was known once this pour was read, for its lots:
	// later pours are no evidence.
	after *cast
}

// know forms what is known.
func know(ctx context.Context, b *archive.Bench, q question) (knowledge, error) {
	var k knowledge
	var err error
	if k.stored, k.fitted, err = calibrationOn(ctx, b, q.resin, q.version); err != nil {
		return k, err
	}
	k.now, k.codes = k.fitted, q.codes
	if q.codes == nil {
		k.codes = k.fitted.Codes()
	}
	if q.target != nil {
		t, err := recipesTarget(ctx, b, *q.target, k.fitted, q.thickness, q.over)
		if err != nil {
			return k, err
		}
		k.target = &t
		if err := k.noteFitted(ctx, b, *q.target); err != nil {
			return k, err
		}
	}
	if q.calibrated {
		return k, nil
	}
	if k.lots, err = lotsInUse(ctx, b, q.resin, k.fitted.Codes()); err != nil {
		return k, err
	}
	last := q.after
	if last == nil && q.target != nil {
		if last, err = k.newestPour(ctx, b, *q.target); err != nil {
			return k, err
		}
	}
	if last == nil {
		return k, k.byLots(ctx, b)
	}
	if err := k.byPours(ctx, b, *last); err != nil || q.after != nil {
		return k, err
	}
	return k, k.byLotsSince(ctx, b, *last)
}

// matters tells whether a lot is of a pigment that matters, or of the resin.
func (k *knowledge) matters(l archive.LotName) bool {
	return l.Item != archive.OfPigment || slices.Contains(k.codes, l.Code)
}

// strengthsOf is what is known of the strengths of lots, but for what the pours
// in without taught. A lot of which nothing is known, and which is not the one
// calibrated, may be as much stronger or weaker as lots usually are; but for
// pigments in the cup, of which pours tell.
func (k *knowledge) strengthsOf(ctx context.Context, b *archive.Bench, lots []archive.LotName, without, cup []string) (map[string]calibrate.Strength, error) {
	known, _, err := strengthsOf(ctx, b, lots, k.stored, without)
	if err != nil {
		return nil, err
	}
	told := slices.DeleteFunc(slices.Clone(lots), func(l archive.LotName) bool { return !k.matters(l) })
	_, notes, err := strengthsOf(ctx, b, told, k.stored, without)
	if err != nil {
		return nil, err
	}
	k.notes = append(k.notes, notes...)
	for _, l := range lots {
		if _, is := known[l.Code]; is || l.Item != archive.OfPigment || slices.Contains(cup, l.Code) {
			continue
		}
		of, err := k.calibratedLot(ctx, b, l.Code)
		if err != nil {
			return nil, err
		}
		if l.Name != of {
			known[l.Code] = k.guess(l.Code)
		}
	}
	return inCalibration(k.fitted, known), nil
}

// calibratedLot is the lot of a pigment that the chips are taken to be of.
func (k *knowledge) calibratedLot(ctx context.Context, b *archive.Bench, code string) (string, error) {
	chips, err := b.ChipsOf(ctx, k.stored)
	if err != nil {
		return "", err
	}
	lot, others, err := lotOfChips(ctx, b, chips, archive.OfPigment, code)
	if len(others) > 1 && k.matters(pigmentLot(code, lot)) {
		k.notes = append(k.notes, fmt.Sprintf("the chips of %s were read while several of its lots were in use (%s); they are taken to be of lot %s", code, figure.List(others), lot))
	}
	return lot, err
}

// lotOfChips is the lot of a pigment or resin that chips are taken to be of: the one
// in use when most of them came to the bench, or else the first named since. A later
// fit of the same chips is of the same lot, whatever is in use by then. among are the
// lots that were in use, none where that is not asked.
func lotOfChips(ctx context.Context, b *archive.Bench, chips []archive.Chip, item, code string) (lot string, among []string, err error) {
	opened, err := archive.History[archive.OpenedLot](ctx, b, item, code)
	if errors.Is(err, archive.ErrNotFound) {
		return "", nil, nil
	}
	if err != nil {
		return "", nil, err
	}
	if !slices.ContainsFunc(opened, func(o archive.OpenedLot) bool { return o.Lot != opened[0].Lot }) {
		return opened[0].Lot, nil, nil
	}
	count := map[string]int{}
	most := opened[0].Lot
	for _, c := range chips {
		if item == archive.OfPigment && c.Loadings[code] == 0 {
			continue
		}
		lot := lotOf(c.Lots, item, code)
		if lot == "" {
			read, err := firstRead(ctx, b, c)
			if err != nil {
				return "", nil, err
			}
			lot = opened[0].Lot
			for _, o := range opened {
				if !o.At.After(read) {
					lot = o.Lot
				}
			}
		}
		if count[lot]++; count[lot] > count[most] {
			most = lot
		}
	}
	return most, slices.Sorted(maps.Keys(count)), nil
}

// firstRead is when the bench first held readings of a chip.
func firstRead(ctx context.Context, b *archive.Bench, c archive.Chip) (time.Time, error) {
	cards, err := archive.History[archive.Chip](ctx, b, c.Resin, c.Name)
	if err != nil {
		return time.Time{}, err
	}
	for _, card := range cards {
		if len(card.Readings) > 0 {
			return card.At, nil
		}
	}
	return c.At, nil
}

// guess is what is known of a lot of which nothing is known.
func (k *knowledge) guess(code string) calibrate.Strength {
	k.guessed = append(k.guessed, code)
	return calibrate.Strength{SD: k.fitted.UsualDrift()[code]}
}

// byLots counts the lots in use, as far as their strength is known.
func (k *knowledge) byLots(ctx context.Context, b *archive.Bench) error {
	known, err := k.strengthsOf(ctx, b, k.lots, nil, nil)
	if err != nil {
		return err
	}
	k.before, k.strengths = known, known
	k.noteLots()
	if len(known) == 0 {
		return nil
	}
	k.now, err = k.fitted.WithLots(known)
	return err
}

// noteLots says which named lots are counted as how strong.
func (k *knowledge) noteLots() {
	for _, l := range k.lots {
		if s, counted := k.strengths[l.Code]; counted && l.Item == archive.OfPigment && k.matters(l) {
			note := fmt.Sprintf("%s lot %s is %s", l.Code, l.Name, countedAs(s))
			if k.isGuessed(l.Code) {
				note = fmt.Sprintf("the strength of %s lot %s is not known: %.0f %% either way, as is usual, are counted", l.Code, l.Name, 100*s.SD)
			}
			k.notes = append(k.notes, note)
		}
		if s, counted := k.strengths[""]; counted && l.Item == archive.OfResin {
			k.notes = append(k.notes, fmt.Sprintf("the own colour of %s lot %s is %s", l.Code, l.Name, countedAs(s)))
		}
	}
}

// byPours counts what the pours of the target up to the last taught of their
// lots and of the target; of pigments that are not in the cup the lots in use
// count.
func (k *knowledge) byPours(ctx context.Context, b *archive.Bench, last cast) error {
	var err error
	if k.seen, err = evidenceUpTo(ctx, b, last, k.stored, k.fitted); err != nil {
		return err
	}
	k.notes = append(k.notes, k.seen.notes...)
	lots := slices.Clone(last.pour.Lots)
	for _, l := range k.lots {
		if lotOf(lots, l.Item, l.Code) == "" && !slices.Contains(last.codes(), l.Code) {
			lots = append(lots, l)
		}
	}
	if k.before, err = k.strengthsOf(ctx, b, lots, k.seen.refs, last.codes()); err != nil {
		return err
	}
	k.lots = lots
	// as a correction learns
	now, learned, err := recipes.Learn(k.fitted, *k.target, k.seen.pours, recipes.CorrectOptions{Lots: k.before, Limits: recipes.Limits{StrengthScatter: k.fitted.Scatter}})
	if err != nil {
		return err
	}
	k.now, k.strengths = now, learned.Strengths
	return nil
}

// noteFitted says which pours of the target are in the calibration already: what
// they taught must not be counted on top of it.
func (k *knowledge) noteFitted(ctx context.Context, b *archive.Bench, t archive.Target) error {
	if len(k.stored.Pours) == 0 {
		return nil
	}
	pours, err := b.Pours(ctx, t.Client, t.Name)
	if err != nil {
		return err
	}
	var ids []string
	for _, p := range pours {
		if k.stored.FittedFrom(p) {
			ids = append(ids, p.ID())
		}
	}
	if len(ids) > 0 {
		k.notes = append(k.notes, fmt.Sprintf("what %s taught is in %s itself", figure.List(ids), k.stored.Name()))
	}
	return nil
}

// byLotsSince counts the lots that were opened after the last pour: by what is
// known of them against those of the pour, or by how far lots usually differ.
func (k *knowledge) byLotsSince(ctx context.Context, b *archive.Bench, last cast) error {
	inUse, err := lotsInUse(ctx, b, k.stored.Resin, k.fitted.Codes())
	if err != nil {
		return err
	}
	today, _, err := strengthsOf(ctx, b, inUse, k.stored, nil)
	if err != nil {
		return err
	}
	k.strengths = maps.Clone(k.strengths)
	for _, code := range last.codes() {
		then, now := lotOf(last.pour.Lots, archive.OfPigment, code), lotOf(inUse, archive.OfPigment, code)
		s, known := today[code]
		switch {
		case now == "" || now == then || k.fitted.Index(code) == 0:
			continue
		case then == "" && !known:
			continue // no lot was named then, and nothing is known of this one
		case !known:
			of, err := k.calibratedLot(ctx, b, code)
			if err != nil {
				return err
			}
			if now != of {
				s = k.guess(code)
			}
		}
		if k.since == nil {
			k.since = map[string]calibrate.Strength{}
		}
		k.since[code] = calibrate.Strength{Ln: s.Ln - k.strengths[code].Ln, SD: s.SD}
		k.strengths[code] = s
		k.lots = slices.DeleteFunc(k.lots, func(l archive.LotName) bool { return l.Item == archive.OfPigment && l.Code == code })
		k.lots = append(k.lots, pigmentLot(code, now))
	}
	then, now := lotOf(last.pour.Lots, archive.OfResin, k.stored.Resin), lotOf(inUse, archive.OfResin, k.stored.Resin)
	if s, known := today[""]; known && now != then {
		if k.since == nil {
			k.since = map[string]calibrate.Strength{}
		}
		k.since[""] = calibrate.Strength{Ln: s.Ln - k.strengths[""].Ln, SD: s.SD}
		k.strengths[""] = s
		k.lots = slices.DeleteFunc(k.lots, func(l archive.LotName) bool { return l.Item == archive.OfResin })
		k.lots = append(k.lots, archive.LotName{Item: archive.OfResin, Code: k.stored.Resin, Name: now})
	}
	if len(k.since) > 0 {
		k.now, err = k.now.WithLots(k.since)
	}
	k.noteLots()
	k.notes = append(k.notes, k.taught())
	return err
}

// taught says which pours are counted.
func (k *knowledge) taught() string {
	ids := make([]string, len(k.seen.casts))
	for i, c := range k.seen.casts {
		ids[i] = c.pour.ID()
	}
	return fmt.Sprintf("what %s taught of lots and target is counted", figure.List(ids))
}

// strengthOf is as how strong a lot of a pigment is counted, if it is.
func (k *knowledge) strengthOf(code, lot string) (calibrate.Strength, bool) {
	s, counted := k.strengths[code]
	return s, counted && lotOf(k.lots, archive.OfPigment, code) == lot
}

// isGuessed tells whether a pigment's lot in use counts only by how far lots
// usually differ.
func (k *knowledge) isGuessed(code string) bool { return slices.Contains(k.guessed, code) }

// posterior is what to keep of the knowledge with a recipe beside its
// calibration, nil if there is nothing.
func (k *knowledge) posterior() *kept.Posterior {
	others := func(code string, _ calibrate.Strength) bool { return code != "" && !slices.Contains(k.codes, code) }
	p := &kept.Posterior{Lots: maps.Clone(k.before), Pours: k.seen.refs, Since: maps.Clone(k.since)}
	maps.DeleteFunc(p.Lots, others)
	maps.DeleteFunc(p.Since, others)
	if p.Empty() {
		return nil
	}
	return p
}

// An expectation is where a mixture is expected to land on a target.
type expectation struct {
	lab color.Lab
	de  float64 // CIEDE2000 of lab from the target
	calibrate.Landing
}

// expect is where a mixture is expected to land on the target: what is not
// known, the scatter of strengths from pour to pour and how each loading is
// weighed (standard deviations in phr; nil for exactly) count, as in a match.
func (k *knowledge) expect(mix, weighing map[string]calibrate.PHR) (e expectation, err error) {
	j, err := k.judge()
	if err != nil {
		return e, err
	}
	if e.lab, e.Landing, err = j.Land(mix, k.scattered(map[string]calibrate.PHR{}, mix, weighing)); err != nil {
		return e, err
	}
	e.de, err = j.Want().DeltaE00(e.lab)
	return e, err
}

// weighed is where a recipe is expected to land, weighed as a batch on a scale;
// exactly if either is 0.
func (k *knowledge) weighed(r archive.Recipe, grams, scale calibrate.Grams) (expectation, error) {
	mix := phrs(r.Loadings)
	return k.expect(mix, weighSD(mix, grams, scale))
}

// weighSD are the standard deviations with which the loadings of a casting are weighed;
// 0 if its grams or the step of the scale are not known.
func weighSD(mix map[string]calibrate.PHR, grams, scale calibrate.Grams) map[string]calibrate.PHR {
	c := calibrate.Chip{Loadings: mix, ChipGrams: grams, ScaleGrams: scale}
	sd := map[string]calibrate.PHR{}
	for code := range mix {
		sd[code] = c.WeighSD(code)
	}
	return sd
}

// outcome is the expected difference of mixtures from the target, as expect
// gives it, for planning a batch.
func (k *knowledge) outcome(ctx context.Context) (batch.Outcome, error) {
	j, err := k.judge()
	sd := map[string]calibrate.PHR{}
	return func(m batch.Mixture) (float64, error) {
		if err := ctx.Err(); err != nil {
			return 0, err
		}
		return j.Expected(m.Loadings, k.scattered(sd, m.Loadings, m.Weighing))
	}, err
}

// scattered adds the scatter of strengths from pour to pour to what weighing
// adds to each loading.
func (k *knowledge) scattered(into, mix, weighing map[string]calibrate.PHR) map[string]calibrate.PHR {
	for code, phr := range mix {
		into[code] = calibrate.PHR(math.Hypot(k.fitted.Scatter*float64(phr), float64(weighing[code])))
	}
	return into
}

func (k *knowledge) judge() (*recipes.Judge, error) { return recipes.NewJudge(k.now, *k.target) }

// lotStrengths lists the lots whose strength is counted.
func (k *knowledge) lotStrengths() []LotStrength {
	out := []LotStrength{}
	if s, counted := k.strengths[""]; counted {
		if lot := lotOf(k.lots, archive.OfResin, k.stored.Resin); lot != "" {
			out = append(out, strengthOf(k.stored.Resin, lot, s))
		}
	}
	for _, code := range slices.Sorted(maps.Keys(k.strengths)) {
		if slices.Contains(k.codes, code) {
			out = append(out, strengthOf(code, lotOf(k.lots, archive.OfPigment, code), k.strengths[code]))
		}
	}
	return out
}

// knowRecipe forms what is known of a recipe's colours, and of its target if it
// has one: by the newest calibration or, where that has no curve of one of its
// pigments, by the recipe's own. It is nil for a recipe without a calibration,
// or that no calibration knows.
func knowRecipe(ctx context.Context, b *archive.Bench, r archive.Recipe) (*knowledge, error) {
	if r.Calibration == "" {
		return nil, nil
	}
	t, err := targetOf(ctx, b, r)
	if err != nil {
		return nil, err
	}
	own, err := b.CalibrationRef(ctx, r.Calibration)
	if err != nil {
		return nil, err
	}
	for _, version := range []int{0, own.Version} {
		k, err := know(ctx, b, question{resin: r.Resin, version: version, codes: codesOf(r), target: t,
			thickness: cmp.Or(r.ThicknessMM, usualThickness), over: cmp.Or(r.Backing, usualBacking)})
		if err != nil {
			return nil, err
		}
		if !slices.ContainsFunc(codesOf(r), func(code string) bool { return k.fitted.Index(code) == 0 }) {
			return &k, nil
		}
	}
	return nil, nil
}

// newestPour is the newest read pour of a target whose pigments the calibration
// knows and that it was not fitted from, of the lots in use if there is one of
// those; nil if there is none.
func (k *knowledge) newestPour(ctx context.Context, b *archive.Bench, t archive.Target) (*cast, error) {
	pours, err := b.Pours(ctx, t.Client, t.Name)
	if err != nil {
		return nil, err
	}
	var newest *cast
	for _, p := range slices.Backward(pours) {
		if k.stored.FittedFrom(p) {
			continue
		}
		c, err := castOf(ctx, b, p)
		if err != nil {
			return nil, err
		}
		if c.recipe.Resin != k.stored.Resin || len(c.readings) == 0 || !c.knownTo(k.fitted) {
			continue
		}
		if otherLot(p.Lots, k.lots) == "" {
			return &c, nil
		}
		if newest == nil {
			newest = &c
		}
	}
	return newest, nil
}
