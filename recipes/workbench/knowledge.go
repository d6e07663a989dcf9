package workbench

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"

	"masstone/calibrate"
	"masstone/recipes"
	"masstone/recipes/archive"
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
	seen      evidence
	notes     []string
}

// A question is what knowledge is asked for.
type question struct {
	resin   string
	version int // of the calibration, 0 for the newest
	// codes are the pigments that matter; nil for all of the calibration.
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
	k.now = k.fitted
	if q.codes == nil {
		q.codes = k.fitted.Codes()
	}
	if q.target != nil {
		t, err := recipesTarget(ctx, b, *q.target, k.fitted, q.thickness, q.over)
		if err != nil {
			return k, err
		}
		k.target = &t
	}
	if q.calibrated {
		return k, nil
	}
	if k.lots, err = lotsInUse(ctx, b, q.resin, q.codes); err != nil {
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
	return k, k.byLotsSince(ctx, b, *last, q.codes)
}

// byLots counts the lots in use, as far as their strength is known.
func (k *knowledge) byLots(ctx context.Context, b *archive.Bench) error {
	known, notes, err := strengthsOf(ctx, b, k.lots, k.stored, nil)
	if err != nil {
		return err
	}
	k.notes = append(k.notes, notes...)
	known = inCalibration(k.fitted, known)
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
		if s, counted := k.strengths[l.Code]; counted && l.Item == archive.OfPigment {
			k.notes = append(k.notes, fmt.Sprintf("%s lot %s is counted as %s", l.Code, l.Name, strengthText(s)))
		}
	}
}

// byPours counts what the pours of the target up to the last taught of their
// lots and of the target; of pigments that are not in the cup the lots in use
// count.
func (k *knowledge) byPours(ctx context.Context, b *archive.Bench, last cast) error {
	var err error
	if k.seen, err = evidenceUpTo(ctx, b, last, k.fitted); err != nil {
		return err
	}
	k.notes = append(k.notes, k.seen.notes...)
	lots := slices.Clone(last.pour.Lots)
	for _, l := range k.lots {
		if lotOf(lots, l.Item, l.Code) == "" && last.recipe.Loadings[l.Code] == 0 {
			lots = append(lots, l)
		}
	}
	known, notes, err := strengthsOf(ctx, b, lots, k.stored, k.seen.refs)
	if err != nil {
		return err
	}
	k.notes = append(k.notes, notes...)
	k.lots, k.before = lots, inCalibration(k.fitted, known)
	now, learned, err := recipes.Learn(k.fitted, *k.target, k.seen.pours, recipes.CorrectOptions{Lots: k.before})
	if err != nil {
		return err
	}
	k.now, k.strengths = now, learned.Strengths
	return nil
}

// byLotsSince counts the lots that were opened after the last pour: by what is
// known of them against those of the pour, or by how far lots usually differ.
func (k *knowledge) byLotsSince(ctx context.Context, b *archive.Bench, last cast, codes []string) error {
	inUse, err := lotsInUse(ctx, b, k.stored.Resin, codes)
	if err != nil {
		return err
	}
	today, _, err := strengthsOf(ctx, b, inUse, k.stored, nil)
	if err != nil {
		return err
	}
	k.strengths = maps.Clone(k.strengths)
	for _, code := range codesOf(last.recipe) {
		then, now := lotOf(last.pour.Lots, archive.OfPigment, code), lotOf(inUse, archive.OfPigment, code)
		s, known := today[code]
		switch {
		case now == "" || now == then || k.fitted.Index(code) == 0:
			continue
		case then == "" && !known:
			continue // no lot was named then, and nothing is known of this one
		case !known:
			s = calibrate.Strength{SD: k.fitted.UsualDrift()[code]}
		}
		if k.since == nil {
			k.since = map[string]calibrate.Strength{}
		}
		k.since[code] = calibrate.Strength{Ln: s.Ln - k.strengths[code].Ln, SD: s.SD}
		k.strengths[code] = s
		k.lots = slices.DeleteFunc(k.lots, func(l archive.LotName) bool { return l.Item == archive.OfPigment && l.Code == code })
		k.lots = append(k.lots, pigmentLot(code, now))
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

// posterior is what to keep of the knowledge with a recipe beside its
// calibration, nil if there is nothing.
func (k *knowledge) posterior() *kept.Posterior {
	p := &kept.Posterior{Lots: k.before, Pours: k.seen.refs, Since: k.since}
	if p.Empty() {
		return nil
	}
	return p
}

// judge judges mixtures by the target asked for.
func (k *knowledge) judge() (*recipes.Judge, error) { return recipes.NewJudge(k.now, *k.target) }

// lotStrengths lists the lots whose strength is counted.
func (k *knowledge) lotStrengths() []LotStrength {
	out := []LotStrength{}
	for _, code := range slices.Sorted(maps.Keys(k.strengths)) {
		if code != "" {
			out = append(out, strengthOf(code, lotOf(k.lots, archive.OfPigment, code), k.strengths[code]))
		}
	}
	return out
}

// knowRecipe forms what is known of a recipe's colours for its target: by the
// newest calibration or, where that has no curve of one of its pigments, by the
// recipe's own. It is nil for a recipe without target or calibration, or that
// no calibration knows.
func knowRecipe(ctx context.Context, b *archive.Bench, r archive.Recipe) (*knowledge, error) {
	if r.Target == "" || r.Calibration == "" {
		return nil, nil
	}
	t, err := b.TargetRef(ctx, r.TargetCard)
	if err != nil {
		return nil, err
	}
	own, err := b.CalibrationRef(ctx, r.Calibration)
	if err != nil {
		return nil, err
	}
	for _, version := range []int{0, own.Version} {
		k, err := know(ctx, b, question{resin: r.Resin, version: version, codes: codesOf(r), target: &t,
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
// knows, of the lots in use if there is one of those; nil if there is none.
func (k *knowledge) newestPour(ctx context.Context, b *archive.Bench, t archive.Target) (*cast, error) {
	pours, err := b.Pours(ctx, t.Client, t.Name)
	if err != nil {
		return nil, err
	}
	var newest *cast
	for _, p := range slices.Backward(pours) {
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
