package archive

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"unicode"

	"masstone/color"
)

// The rules are what a record must keep to, wherever it comes from: a verb, a
// bundle, the file of an older program. Every record type has
//
//   - check: its own values, names and signs;
//   - links: the records it names, which must be there;
//
// and some have fits, for what they say of the records they name. insert asks all
// of them of a new record, Import of every record of a bundle, reading asks check,
// and Verify too.

// fitting is a record that has to agree with those it names.
type fitting interface {
	fits(ctx context.Context, c *change) error
}

// rules asks what only the bench can tell of a record.
func (c *change) rules(ctx context.Context, k kind, v placed) error {
	err := c.linked(ctx, v)
	if f, ok := v.(fitting); err == nil && ok {
		err = f.fits(ctx, c)
	}
	return err
}

// called prefixes an error with what a record is called: chip "B-07".
func (k kind) called(doc string, err error) error {
	if key, e := k.named(doc); e == nil && len(key) > 0 {
		return fmt.Errorf("%s %q: %w", k.name, key[len(key)-1], err)
	}
	return fmt.Errorf("%s: %w", k.name, err)
}

// The largest amounts that anything here can have; what is above is a slip.
const (
	mostGrams     = 1e8 // 100 t
	mostParts     = 1e6 // of a mix ratio
	mostDensity   = 30  // g/ml; osmium has 22.6
	mostThickness = 1e4 // mm
	mostPHR       = 1e4
	mostPrice     = 1e9
	mostDE        = 1e3 // of any formula
	mostPieces    = 1e6 // parts, cavities, shots
	mostHours     = 1e6 // 114 years
)

// upTo is for numbers that are unknown (0) or positive, up to a most.
func upTo(what string, x, most float64) error {
	if err := positive(what, x); err != nil {
		return err
	}
	if x > most {
		return fmt.Errorf("%w: %s %g; give at most %g", ErrInvalid, what, x, most)
	}
	return nil
}

// deviation is for the standard deviation of a thickness in mm, nil if not known.
func deviation(sd *float64) error {
	if sd == nil {
		return nil
	}
	return upTo("thickness deviation", *sd, mostThickness)
}

func isJSON(what string, doc json.RawMessage) error {
	if len(doc) > 0 && !json.Valid(doc) {
		return fmt.Errorf("%w: its %s is not JSON", ErrInvalid, what)
	}
	return nil
}

// needed is for names and references that cannot be left out.
func needed(what, name string) error {
	if strings.TrimSpace(name) == "" {
		return fmt.Errorf("%w: no %s; give one", ErrInvalid, what)
	}
	return nil
}

func checkLabs(labs []Lab) error {
	for _, l := range labs {
		if err := l.check(); err != nil {
			return err
		}
	}
	return nil
}

func checkLots(lots []LotName) error {
	for _, l := range lots {
		if err := firstError(checkItem(l.Item), needed("name of a lot", l.Name)); err != nil {
			return err
		}
	}
	return nil
}

// checkLines refuses lines that nobody can weigh.
func checkLines(lines []Line) error {
	_, err := weighed(lines)
	return err
}

func (l *Lot) check() error {
	if strings.TrimSpace(l.Name) == "" {
		return fmt.Errorf("lot of %s: %w: give it a name, as on the label", l.Code, ErrInvalid)
	}
	if err := firstError(checkItem(l.Item), checkDate(l.Received), upTo("grams", l.Grams, mostGrams)); err != nil {
		return fmt.Errorf("lot %q of %s: %w", l.Name, l.Code, err)
	}
	return nil
}

func (l *OpenedLot) check() error { return checkLots([]LotName{{l.Item, l.Code, l.Lot}}) }

func (s *LotStrength) check() error {
	if !(math.Abs(s.LnStrength) <= 10) || !(s.SD >= 0 && s.SD <= 10) {
		return fmt.Errorf("lot %q of %s: %w: strength %g with deviation %g; both must be finite", s.Lot, s.Code, ErrInvalid, s.LnStrength, s.SD)
	}
	return checkLots([]LotName{{s.Item, s.Code, s.Lot}})
}

// checkCast checks what a chip is before it is read.
func (k *Chip) checkCast() error {
	fail := func(err error) error { return fmt.Errorf("chip %q: %w", k.Name, err) }
	switch {
	case strings.TrimSpace(k.Name) == "" || k.Name != strings.TrimSpace(k.Name):
		return fail(fmt.Errorf("%w: give it a name without spaces around it", ErrInvalid))
	case !(k.ThicknessMM > 0) || upTo("", k.ThicknessMM, mostThickness) != nil:
		return fail(fmt.Errorf("%w: thickness %g mm; give a thickness above 0", ErrInvalid, k.ThicknessMM))
	}
	if err := checkLoadings(k.Loadings); err != nil {
		return fail(err)
	}
	return nil
}

func (k *Chip) check() error {
	fail := func(err error) error { return fmt.Errorf("chip %q: %w", k.Name, err) }
	if err := k.checkCast(); err != nil {
		return err
	}
	if len(k.Readings) == 0 {
		return fail(fmt.Errorf("%w: no reading; give a Lab or a spectrum", ErrInvalid))
	}
	for code, s := range k.PasteStrength {
		if !(s > 0 && s <= 1) {
			return fail(fmt.Errorf("%w: strength %g of %s; give the fraction of paste, above 0 to 1", ErrInvalid, s, code))
		}
	}
	if err := firstError(needed("backing", k.Backing), checkReadings(k.Readings), checkLots(k.Lots),
		upTo("chip grams", k.ChipGrams, mostGrams), upTo("scale", k.ScaleGrams, mostGrams), deviation(k.ThicknessSD)); err != nil {
		return fail(err)
	}
	return nil
}

func (k *Calibration) check() error {
	if len(k.Document) == 0 || !json.Valid(k.Document) {
		return fmt.Errorf("calibration of %s: %w: its document is not JSON", k.Resin, ErrInvalid)
	}
	return nil
}

func (k *Client) check() error {
	if strings.TrimSpace(k.Name) == "" {
		return fmt.Errorf("client: %w: give a name", ErrInvalid)
	}
	return nil
}

func (p *Part) check() error {
	if strings.TrimSpace(p.Name) == "" || p.Client == "" {
		return fmt.Errorf("part of %q: %w: give a name", p.Client, ErrInvalid)
	}
	return nil
}

func (t *Target) check() error {
	fail := func(err error) error { return fmt.Errorf("target %q: %w", t.Name, err) }
	switch {
	case strings.TrimSpace(t.Name) == "":
		return fail(fmt.Errorf("%w: give it a name", ErrInvalid))
	case len(t.Readings) == 0:
		return fail(fmt.Errorf("%w: no reading; give a Lab or a spectrum", ErrInvalid))
	case t.Part != "" && t.Client == "":
		return fail(fmt.Errorf("%w: part %q without a client; give the client", ErrInvalid, t.Part))
	}
	for _, axis := range slices.Sorted(maps.Keys(t.Limits)) {
		if !slices.Contains([]string{"L", "a", "b", "C", "H"}, axis) {
			return fail(fmt.Errorf("%w: limit of %q; give L, a, b, C or H", ErrInvalid, axis))
		}
		if err := upTo("limit of "+axis, t.Limits[axis], mostDE); err != nil {
			return fail(err)
		}
	}
	if t.Formula != "" {
		if _, err := color.ParseFormula(t.Formula); err != nil {
			return fail(fmt.Errorf("%w: %w", ErrInvalid, err))
		}
	}
	if err := firstError(checkReadings(t.Readings), upTo("thickness", t.ThicknessMM, mostThickness), deviation(t.ThicknessSD), upTo("flat spot", t.FlatMM, mostThickness), upTo("tolerance", t.Tolerance, mostDE)); err != nil {
		return fail(err)
	}
	return nil
}

func (r *Recipe) check() error {
	for _, x := range []float64{r.DE00, r.ExpectedDE00, r.Upper95DE00} {
		if !(x >= 0 && x <= mostDE) {
			return fmt.Errorf("%w: a difference of %g; give 0 to %g", ErrInvalid, x, float64(mostDE))
		}
	}
	switch {
	case !(r.Chance >= 0 && r.Chance <= 1):
		return fmt.Errorf("%w: a chance of %g; give 0 to 1", ErrInvalid, r.Chance)
	case len(r.Loadings) == 0:
		return fmt.Errorf("%w: no loadings; give phr by pigment", ErrInvalid)
	case r.Target == "" && (r.TargetCard != "" || r.Client != ""):
		return fmt.Errorf("%w: a client or a card of no target; name the target", ErrInvalid)
	}
	return firstError(checkLabs(r.Predicted), isJSON("document", r.Document), checkLoadings(r.Loadings), upTo("thickness", r.ThicknessMM, mostThickness))
}

func (r *Recipe) fits(ctx context.Context, c *change) error {
	if r.TargetCard == "" {
		return nil
	}
	if its, err := c.holds(ctx, "SELECT EXISTS (SELECT 1 FROM target_card WHERE sum = ? AND client = ? AND name = ?)", r.TargetCard, r.Client, r.Target); err != nil || its {
		return err
	}
	t, err := byRef[Target](ctx, c, kindTarget, r.TargetCard)
	if err == nil && (t.Name != r.Target || t.Client != r.Client) {
		err = fmt.Errorf("%w: it is for %s and names a card of %s", ErrInvalid, subject(r.Client, r.Target), subject(t.Client, t.Name))
	}
	return err
}

func (s *Stock) check() error {
	if strings.TrimSpace(s.Name) == "" {
		return fmt.Errorf("stock: %w: give it a name", ErrInvalid)
	}
	if err := firstError(checkLots(s.Lots), checkDate(s.MadeOn)); err != nil {
		return fmt.Errorf("stock %q: %w", s.Name, err)
	}
	if s.Pigment != "" && s.Recipe != "" {
		return fmt.Errorf("stock %q: %w: a pre-dilution of %s is of no recipe", s.Name, ErrInvalid, s.Pigment)
	}
	return nil
}

func (k *Batch) check() error {
	if !(k.TotalGrams > 0 && k.TotalGrams <= mostGrams) {
		return fmt.Errorf("batch: %w: %g g in all; give an amount above 0", ErrInvalid, k.TotalGrams)
	}
	if err := firstError(needed("recipe", k.Recipe), checkLines(k.Lines), checkLots(k.Lots), isJSON("document", k.Document), upTo("scale", k.ScaleGrams, mostGrams)); err != nil {
		return fmt.Errorf("batch: %w", err)
	}
	return nil
}

func (p *Pour) check() error {
	if p.RoomC != nil && !(math.Abs(*p.RoomC) < 100) {
		return fmt.Errorf("pour: %w: room at %g °C; leave it out if nobody looked", ErrInvalid, *p.RoomC)
	}
	if err := firstError(needed("batch", p.Batch), checkLines(p.Lines), checkLots(p.Lots), needed("day", p.PouredOn), checkDate(p.PouredOn)); err != nil {
		return fmt.Errorf("pour: %w", err)
	}
	return nil
}

func (r *PourReading) check() error {
	fail := func(err error) error { return fmt.Errorf("pour reading: %w", err) }
	switch {
	case len(r.Readings) == 0 && r.Withdraws == "":
		return fail(fmt.Errorf("%w: no reading; give a Lab or a spectrum", ErrInvalid))
	case len(r.Readings) > 0 && r.Withdraws != "":
		return fail(fmt.Errorf("%w: it withdraws a reading and is one; give either", ErrInvalid))
	}
	if err := firstError(upTo("part", float64(r.Part), mostPieces), upTo("age in hours", r.AgeHours, mostHours), warmth("part", r.PartC), upTo("flat spot", r.FlatMM, mostThickness), deviation(r.ThicknessSD)); err != nil {
		return fail(err)
	}
	if err := firstError(needed("pour", r.Pour), isJSON("verdict", r.Verdict), checkReadings(r.Readings), needed("day", r.ReadOn), checkDate(r.ReadOn)); err != nil {
		return fail(err)
	}
	return nil
}

func (a *Approval) check() error {
	if a.Version < 1 || a.Version > 1e6 {
		return fmt.Errorf("approval: %w: version %d; they count from 1", ErrInvalid, a.Version)
	}
	if err := firstError(needed("target", a.Target), needed("target card", a.TargetCard), needed("recipe", a.Recipe), needed("name of who approved", a.By),
		checkLabs(a.Colors), checkLots(a.Lots)); err != nil {
		return fmt.Errorf("approval: %w", err)
	}
	return nil
}

func (a *Approval) fits(ctx context.Context, c *change) error {
	r, err := byRef[Recipe](ctx, c, kindRecipe, a.Recipe)
	if err == nil && (r.Target != a.Target || r.Client != a.Client) {
		err = fmt.Errorf("%w: the recipe is for %s, not for %s", ErrInvalid, subject(r.Client, r.Target), subject(a.Client, a.Target))
	}
	return err
}

func (p *Plan) check() error {
	fail := func(err error) error { return fmt.Errorf("plan: %w", err) }
	if err := firstError(needed("resin", p.Resin), upTo("chip grams", p.ChipGrams, mostGrams), upTo("scale", p.ScaleGrams, mostGrams), isJSON("document", p.Document)); err != nil {
		return fail(err)
	}
	if len(p.Chips) == 0 {
		return fail(fmt.Errorf("%w: no chip; plan at least one", ErrInvalid))
	}
	for _, t := range p.For {
		if err := needed("name of a target", t.Name); err != nil {
			return fail(err)
		}
	}
	seen := map[string]bool{}
	for _, k := range p.Chips {
		card := p.Chip(k)
		if err := firstError(card.checkCast(), needed("backing", k.Backing)); err != nil {
			return fail(err)
		}
		if seen[k.Name] {
			return fail(fmt.Errorf("chip %q: %w: listed twice; keep one or rename one", k.Name, ErrInvalid))
		}
		seen[k.Name] = true
	}
	return nil
}

// warmth is for temperatures, which are nil if nobody looked.
func warmth(what string, c *float64) error {
	if c != nil && !(math.Abs(*c) < 300) {
		return fmt.Errorf("%w: %s at %g °C; leave it out if nobody looked", ErrInvalid, what, *c)
	}
	return nil
}

// pieces is for numbers of things, of which there is at least one.
func pieces(what string, n int) error {
	if n < 1 || n > mostPieces {
		return fmt.Errorf("%w: %d %s; give 1 to %d", ErrInvalid, n, what, int(mostPieces))
	}
	return nil
}

func (m *Mould) check() error {
	fail := func(err error) error { return fmt.Errorf("mould %q: %w", m.Name, err) }
	switch {
	case strings.TrimSpace(m.Name) == "":
		return fail(fmt.Errorf("%w: give it a name, as written on it", ErrInvalid))
	case m.Part != "" && m.Client == "":
		return fail(fmt.Errorf("%w: part %q without a client; give the client", ErrInvalid, m.Part))
	case m.Cure != "" && m.Cure != PlatinumCured && m.Cure != TinCured:
		return fail(fmt.Errorf("%w: silicone cured by %q; give %s or %s", ErrInvalid, m.Cure, PlatinumCured, TinCured))
	}
	if err := firstError(pieces("cavities", m.Cavities), upTo("cavity in ml", m.CavityML, mostGrams), deviation(m.ThicknessSD), upTo("silicone grams", m.SiliconeGrams, mostGrams),
		checkDate(m.MadeOn), upTo("shots before", float64(m.ShotsBefore), mostPieces), upTo("expected shots", float64(m.ExpectedShots), mostPieces)); err != nil {
		return fail(err)
	}
	return nil
}

func (e *Equipment) check() error {
	fail := func(format string, a ...any) error {
		return fmt.Errorf("%s %q: %w: %s", cmp.Or(e.Item, "equipment"), e.Name, ErrInvalid, fmt.Sprintf(format, a...))
	}
	switch {
	case e.Item != Scale && e.Item != Instrument:
		return fail("is neither a scale nor an instrument")
	case strings.TrimSpace(e.Name) == "" || e.Name != strings.TrimSpace(e.Name):
		return fail("give it a name without spaces around it")
	case !unicode.IsLetter([]rune(e.Name)[0]):
		return fail("what begins like a number is taken for one; give a name that begins with a letter")
	case e.Item == Scale && !(e.StepGrams > 0):
		return fail("step %g g; give the smallest change it shows", e.StepGrams)
	case e.Item == Scale && (e.Geometry+e.Specular+e.MCondition+e.Illuminant != "" || e.ApertureMM != 0 || e.Observer != 0 || e.RepeatSD != 0),
		e.Item == Instrument && (e.StepGrams != 0 || e.MaxGrams != 0 || e.SDGrams != 0):
		return fail("what it says is not of such a thing")
	case e.MaxGrams != 0 && e.MaxGrams < e.StepGrams:
		return fail("it carries %g g, less than its step", e.MaxGrams)
	case !slices.Contains([]string{"", "M0", "M1", "M2", "M3"}, e.MCondition):
		return fail("condition %q; give M0, M1, M2 or M3", e.MCondition)
	case e.Observer != 0 && e.Observer != 2 && e.Observer != 10:
		return fail("observer %d; give 2 or 10", e.Observer)
	}
	if _, err := color.ParseIlluminant(e.Illuminant); e.Illuminant != "" && err != nil {
		return fail("%v", err)
	}
	if err := (color.Measurement{Geometry: color.Geometry(e.Geometry), Specular: color.Specular(e.Specular)}).Usual().Check(); err != nil {
		return fail("%v", err)
	}
	return firstError(upTo("step", e.StepGrams, mostGrams), upTo("maximum", e.MaxGrams, mostGrams), upTo("sd", e.SDGrams, mostGrams), upTo("aperture", e.ApertureMM, mostThickness), upTo("repeatability", e.RepeatSD, 100))
}

func (r *Run) check() error {
	if !(r.Risk > 0 && r.Risk < 0.5) {
		return fmt.Errorf("run: %w: a risk of %g; give a share above 0 and below 0.5", ErrInvalid, r.Risk)
	}
	if err := firstError(needed("approval", r.Approval), needed("target", r.Target), pieces("parts", r.Parts), needed("day", r.StartedOn), checkDate(r.StartedOn)); err != nil {
		return fmt.Errorf("run: %w", err)
	}
	return nil
}

func (r *Run) fits(ctx context.Context, c *change) error {
	a, err := byRef[Approval](ctx, c, kindApproval, r.Approval)
	if err == nil && (a.Target != r.Target || a.Client != r.Client) {
		err = fmt.Errorf("%w: the approval is for %s, not for %s", ErrInvalid, subject(a.Client, a.Target), subject(r.Client, r.Target))
	}
	return err
}

func (k *RunCup) check() error {
	if err := firstError(needed("run", k.Run), needed("pour", k.Pour), pieces("parts", k.Parts), warmth("mould", k.MouldC)); err != nil {
		return fmt.Errorf("cup of a run: %w", err)
	}
	return nil
}

func (k *RunCup) fits(ctx context.Context, c *change) error {
	r, err := byRef[Run](ctx, c, kindRun, k.Run)
	if err != nil {
		return err
	}
	p, err := byRef[Pour](ctx, c, kindPour, k.Pour)
	if err != nil {
		return err
	}
	b, err := byRef[Batch](ctx, c, kindBatch, p.Batch)
	if err != nil {
		return err
	}
	made, err := byRef[Recipe](ctx, c, kindRecipe, b.Recipe)
	if err == nil && (made.Target != r.Target || made.Client != r.Client) {
		err = fmt.Errorf("%w: %s is for %s, not for %s", ErrInvalid, p.ID(), subject(made.Client, made.Target), subject(r.Client, r.Target))
	}
	return err
}

func (m *StockMove) check() error {
	fail := func(err error) error { return fmt.Errorf("stock %q: %w", m.Stock, err) }
	if !(m.Grams >= 0 && m.Grams <= mostGrams) {
		return fail(fmt.Errorf("%w: %g g; give an amount", ErrInvalid, m.Grams))
	}
	if err := firstError(needed("stock", m.Stock), checkLines(m.Lines)); err != nil {
		return fail(err)
	}
	for _, d := range m.LetDown {
		if d.Pigment == "" || !(d.Share > 0 && d.Share < 1) || d.Side != "A" && d.Side != "B" || strings.TrimSpace(d.Item) == "" {
			return fail(fmt.Errorf("%w: pre-dilution %q of %g paste in side %q; give a share between 0 and 1, and A or B", ErrInvalid, d.Item, d.Share, d.Side))
		}
	}
	switch m.Kind {
	case Tint, Correct:
		if len(m.Lines) == 0 || m.Grams != 0 {
			return fail(fmt.Errorf("%w: a %s is what went in, line by line", ErrInvalid, m.Kind))
		}
	case Draw, Count:
		if len(m.Lines) != 0 || (m.Grams == 0 && m.Kind == Draw) {
			return fail(fmt.Errorf("%w: a %s is an amount in grams", ErrInvalid, m.Kind))
		}
	default:
		return fail(fmt.Errorf("%w: movement %q; give tint, draw, correct or count", ErrInvalid, m.Kind))
	}
	return nil
}
