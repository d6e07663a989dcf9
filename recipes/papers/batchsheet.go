package papers

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"masstone/color"
	"masstone/recipes/batch"
)

// BatchSheet is a batch to weigh from. Its figures are those of Sheet.
type BatchSheet struct {
	Heading
	Batch       string            `json:"batch"` // such as B7
	Recipe      string            `json:"recipe"`
	Calibration string            `json:"calibration,omitempty"`
	Resin       string            `json:"resin"`
	Target      string            `json:"target,omitempty"`
	Client      string            `json:"client,omitempty"`
	Order       string            `json:"order,omitempty"` // as it was given, such as "12 parts of 18.5 ml"
	Names       map[string]string `json:"names,omitempty"` // of pigments and sides, by line item or pigment code
	Lots        map[string]string `json:"lots,omitempty"`  // to take, by pigment code or side
	TargetLab   *color.Lab        `json:"target_lab,omitempty"`
	Predicted   *color.Lab        `json:"predicted,omitempty"` // of the recipe
	batch.Sheet
	Smallest *batch.Sizes  `json:"smallest,omitempty"` // that keep the tolerance
	Rescue   *batch.Rescue `json:"rescue,omitempty"`   // the ways on with a spoilt cup
}

func (b BatchSheet) check() error {
	if err := b.Heading.check(); err != nil {
		return err
	}
	if len(b.Lines) < 2 || len(b.Cups) == 0 || !b.Step.Positive() {
		return errors.New("papers: batch sheet without lines, cups or the step of the scale: plan the batch first")
	}
	if err := cmp.Or(finiteLab("target", b.TargetLab), finiteLab("predicted", b.Predicted)); err != nil {
		return err
	}
	return b.ref().check()
}

func (b BatchSheet) ref() Ref {
	if b.Batch == "" {
		return Ref{}
	}
	return RefTo(BatchRef, b.Batch)
}

func (b BatchSheet) document() (any, error) {
	return struct {
		BatchSheet
		Find Ref `json:"find,omitzero"`
	}{b, b.ref()}, nil
}

// other is the side that starts the pot life.
func (b BatchSheet) other() string {
	if b.PigmentSide == batch.SideA {
		return string(batch.SideB)
	}
	return string(batch.SideA)
}

// grams is a mass as the scale shows it.
func (b BatchSheet) grams(m batch.Mass) string { return m.At(b.Step) }

// perCup tells whether the other side is weighed into each cup by itself.
func (b BatchSheet) perCup() bool { return len(b.Cups) > 1 }

func (b BatchSheet) design() (design, error) {
	d := design{Kind: "Batch sheet", Name: b.Batch, Day: b.day(), Shop: b.Shop, Ref: b.ref()}
	d.About = fmt.Sprintf("%s g of recipe %s", b.grams(b.Total), b.Recipe)
	if s := subject(b.Target, b.Client); s != "" {
		d.About += " for " + s
	}
	d.About += " in resin " + b.Resin

	var f facts
	f.add("Ordered", b.Order)
	f.add("Mixed resin", b.grams(b.MixedResin)+" g")
	if ml := b.Volume.Millilitres(); ml > 0 {
		f.add("Volume", fixed(ml, 0)+" ml")
	}
	if c := b.Cups[0]; !b.perCup() {
		room := "any container"
		if c.Container.Millilitres() > 0 {
			room = "container from " + millilitres(c.Container) + " ml"
		}
		f.add("One cup", room)
	}
	f.add("Mix A:B by mass", b.Mix.String()+", pigments into "+string(b.PigmentSide))
	f.add("Scale", "steps of "+b.Step.String())
	f.add("Calibration", b.Calibration)
	if e := b.Expected; e != nil {
		f.add("Expected "+symbol(color.CIEDE2000), fixed(e.Sheet, 2))
	}
	d.Blocks = append(d.Blocks, &f)

	colours, err := pair(b.TargetLab, b.Predicted, "Predicted")
	if err != nil {
		return d, err
	}
	if colours != nil {
		d.Blocks = append(d.Blocks, colours)
	}
	if len(b.Predilutions) > 0 {
		first := &points{Title: "First, pre-dilute", Tick: true}
		if !slices.ContainsFunc(b.Predilutions, func(p batch.Predilution) bool { return p.Jar == "" }) {
			first.Title = "First, fetch the pre-dilutions"
		}
		for _, p := range b.Predilutions {
			first.List = append(first.List, p.Words(b.Step)) // why is among the notes
		}
		d.Blocks = append(d.Blocks, first)
	}
	d.Blocks = append(d.Blocks, b.weighing())
	sign := &lines{Labels: []string{"Weighed by", "On"}}
	if b.perCup() {
		d.Blocks = append(d.Blocks, b.cups())
	} else {
		sign.Labels = append(sign.Labels, b.other()+" went in at", strings.ToUpper(b.emptied()[:1])+b.emptied()[1:]+" at")
	}
	d.Blocks = append(d.Blocks, b.clock())
	if say := append(b.outlook(), b.Notes...); len(say) > 0 {
		d.Blocks = append(d.Blocks, &points{Title: "To know", List: say})
	}
	d.Blocks = append(d.Blocks, b.rescue()...)
	sign.Labels = append(sign.Labels, "Room °C")
	for _, side := range []batch.Side{batch.SideA, batch.SideB} {
		if b.Lots[string(side)] == "" {
			sign.Labels = append(sign.Labels, "Lot of "+string(side))
		}
	}
	d.Blocks = append(d.Blocks, sign)
	if len(b.Cautions) > 0 {
		d.Blocks = append(d.Blocks, &points{Title: "Cautions", Small: true, List: slices.Clone(b.Cautions)})
	}
	return d, nil
}

// pair is the target beside another colour, nil without any.
func pair(target, other *color.Lab, role string) (block, error) {
	b := &band{}
	for _, c := range []struct {
		role string
		lab  *color.Lab
	}{{"Target", target}, {role, other}} {
		if c.lab == nil {
			continue
		}
		p, err := newPatch(c.role, *c.lab)
		if err != nil {
			return nil, fmt.Errorf("papers: %s: %w", strings.ToLower(c.role), err)
		}
		b.Patches = append(b.Patches, p)
	}
	if len(b.Patches) == 0 {
		return nil, nil
	}
	return b, nil
}

func (b BatchSheet) weighing() block {
	t := &table{Title: "Weigh into one cup that stays on the scale, from the top", Large: true}
	if b.perCup() {
		t.Title = "Weigh into one pot that stays on the scale, from the top"
	}
	t.Columns = []column{{}, {Head: "item", Strong: true}, {Head: "what it is", Wraps: true},
		{Head: "grams", Right: true, Strong: true}, {Head: "scale shows", Right: true}, {Head: "really shown"}}
	for _, l := range b.Lines {
		if b.perCup() && l.Clock {
			t.add("", l.Item, b.remark(l)+", into each cup by itself, below", b.grams(l.Grams), "", "")
			continue
		}
		t.add(tickCell, l.Item, b.remark(l), b.grams(l.Grams), b.grams(l.Cumulative), writeCell)
	}
	return t
}

// remark says what a line is.
func (b BatchSheet) remark(l batch.Line) string {
	var parts []string
	add := func(s string) {
		if s != "" {
			parts = append(parts, s)
		}
	}
	code := l.Pigment
	if l.Kind == batch.ResinLine {
		code = l.Item
		add("side " + l.Item)
	}
	add(b.Names[code])
	if lot := b.Lots[code]; lot != "" {
		add("lot " + lot)
	}
	switch {
	case l.Clock && b.Clock.PotLife > 0 && !b.perCup():
		add(fmt.Sprintf("pot life of %s min starts here", short(b.Clock.PotLife)))
	case l.Clock && !b.perCup():
		add("pot life starts here")
	case l.Drops > 0:
		add(plural(int(l.Drops), "drop"))
	case l.Kind == batch.DilutionLine:
		add("of the pre-dilution" + b.inJar(l))
	}
	return strings.Join(parts, ", ")
}

// inJar says which jar a line is from.
func (b BatchSheet) inJar(l batch.Line) string {
	for _, p := range b.Predilutions {
		if p.Item == l.Item && p.Jar != "" {
			return " in jar " + p.Jar
		}
	}
	return ""
}

// cups are what goes into each of several. What is much the same for all of them
// is said once, above.
func (b BatchSheet) cups() block {
	t := &table{Title: fmt.Sprintf("%d cups from one pot of the pigmented side", len(b.Cups)), Intro: b.eachCup(), Columns: []column{{}, {Head: "cup", Strong: true}}}
	shots := b.Cups[0].Shots > 0
	if shots {
		t.Columns = append(t.Columns, column{Head: "shots", Right: true})
	}
	t.Columns = append(t.Columns, column{Head: "from the pot", Right: true, Strong: true}, column{Head: "side " + b.other(), Right: true, Strong: true},
		column{Head: "in all", Right: true}, column{Head: "start", Right: true}, column{Head: b.other() + " in at"}, column{Head: b.emptied() + " at"})
	for _, c := range b.Cups {
		cup := fmt.Sprint(c.Number)
		if c.Late {
			cup += " late"
		}
		row := []string{tickCell, cup}
		if shots {
			row = append(row, fmt.Sprint(c.Shots))
		}
		t.add(append(row, b.grams(c.Pigmented), b.grams(c.Other), b.grams(c.Total), clockTime(c.Starts), writeCell, writeCell)...)
	}
	return t
}

// eachCup is what the largest of the cups is and takes.
func (b BatchSheet) eachCup() string {
	most := batch.Cup{}
	for _, c := range b.Cups {
		most.Minutes = max(most.Minutes, c.Minutes)
		if c.Volume.Millilitres() > most.Volume.Millilitres() {
			most.Volume, most.Container = c.Volume, c.Container
		}
	}
	text := fmt.Sprintf("A cup takes up to %s min from its side %s", fixed(most.Minutes, 1), b.other())
	if most.Volume.Millilitres() > 0 {
		text += fmt.Sprintf(" and mixes up to %s ml", millilitres(most.Volume))
	}
	if most.Container.Millilitres() > 0 {
		text += fmt.Sprintf(", in a container from %s ml", millilitres(most.Container))
	}
	return text + "."
}

// emptied is what becomes of a cup in the end.
func (b BatchSheet) emptied() string {
	if b.Clock.Shot > 0 {
		return "injected"
	}
	return "poured out"
}

func millilitres(v batch.Volume) string {
	if v.Millilitres() == 0 {
		return "–"
	}
	return fixed(v.Millilitres(), 0)
}

// clock is the time of the slowest cup.
func (b BatchSheet) clock() block {
	slowest := b.Cups[0]
	for _, c := range b.Cups {
		if c.Minutes > slowest.Minutes {
			slowest = c
		}
	}
	t := &clock{Title: fmt.Sprintf("Pot-life clock, from the moment side %s goes in", b.other())}
	at := 0.0
	for _, s := range []moment{{b.Clock.Weigh, "weighed"}, {b.Clock.Mix, "mixed"}, {b.Clock.Degas, "degassed"}, {slowest.Minutes - b.Clock.Weigh - b.Clock.Mix - b.Clock.Degas, b.emptied()}} {
		if s.Minutes > 1e-9 {
			at += s.Minutes
			t.Steps = append(t.Steps, moment{at, s.Word})
		}
	}
	if b.Clock.PotLife > 0 {
		t.Ends = []moment{{b.Clock.Usable, "latest"}, {b.Clock.PotLife, "pot life ends"}}
	}
	return t
}

// outlook says what the scale costs in colour.
func (b BatchSheet) outlook() []string {
	e := b.Expected
	if e == nil {
		return nil
	}
	de := symbol(color.CIEDE2000)
	text := fmt.Sprintf("Expected %s %s; the recipe weighed without error has %s, ", de, fixed(e.Sheet, 2), fixed(e.Ideal, 2))
	switch {
	case e.Cost >= 0.005:
		text += "so the scale costs " + fixed(e.Cost, 2)
	case e.Sheet < e.Ideal-0.005:
		text += "and the steps of the scale happen to lie nearer to the target than the recipe"
	default:
		text += "so the scale costs nothing"
	}
	if e.Gain >= 0.005 {
		text += fmt.Sprintf(" (plain rounding would cost %s more)", fixed(e.Gain, 2))
	}
	if e.Undiluted != nil {
		text += "; without pre-dilution it would be " + fixed(*e.Undiluted, 2)
	}
	say := []string{text + "."}
	if s := b.Smallest; s != nil {
		say = append(say, fmt.Sprintf("Smallest batch that keeps the tolerance of %s: %s, %s.", short(s.Tolerance),
			b.size(s.Neat, "every paste as it is"), b.size(s.Diluted, "pre-dilutions")))
	}
	return say
}

func (b BatchSheet) size(s batch.Size, with string) string {
	if !s.Found {
		return fmt.Sprintf("none with %s (%s)", with, s.Why)
	}
	return fmt.Sprintf("%s g with %s", b.grams(s.Total), with)
}

// rescue shows the ways on with a spoilt cup.
func (b BatchSheet) rescue() []block {
	if b.Rescue == nil {
		return nil
	}
	wrong := &points{Title: "What came out otherwise"}
	for _, o := range b.Rescue.Over {
		wrong.List = append(wrong.List, fmt.Sprintf("%s: %s g in the cup, %s g planned.", o.Item, b.grams(o.Poured), b.grams(o.Planned)))
	}
	if len(wrong.List) == 0 {
		wrong.List = []string{"Nothing in the cup is over; top it up."}
	}
	out := []block{wrong}
	for _, r := range b.Rescue.Remedies {
		t := &table{Title: fmt.Sprintf("Go on %s", quoted(string(r.Way)))}
		t.Intro = fmt.Sprintf("%s g in all, %s than planned", b.grams(r.Total), b.moreOrLess(r.Extra))
		if r.Expected != nil {
			t.Intro += fmt.Sprintf("; expected %s %s", symbol(color.CIEDE2000), fixed(*r.Expected, 2))
			if r.Keeps {
				t.Intro += ", within tolerance"
			}
		}
		t.Intro += strings.Join(append([]string{"."}, r.Notes...), " ")
		t.Columns = []column{{}, {Head: "item", Strong: true, Wraps: true}, {Head: "in the cup", Right: true}, {Head: "add", Right: true, Strong: true}, {Head: "scale shows", Right: true}}
		for _, l := range r.Lines {
			switch {
			case !l.Add.Positive():
			case l.Item == b.other() && len(r.Cups) > 1:
				t.add("", l.Item+", "+plural(len(r.Cups), "cup")+", into each its share", b.grams(l.Poured), b.grams(l.Add), "")
			default:
				t.add(tickCell, l.Item, b.grams(l.Poured), b.grams(l.Add), b.grams(l.Cumulative))
			}
		}
		out = append(out, t)
	}
	return out
}

// moreOrLess says how far a mass is from another.
func (b BatchSheet) moreOrLess(extra batch.Mass) string {
	switch extra.Compare(batch.Mass{}) {
	case 0:
		return "no more"
	case -1:
		return b.grams(batch.Mass{}.Minus(extra)) + " g less"
	}
	return b.grams(extra) + " g more"
}

// records are all things to weigh, in order: what is stirred up first, the
// lines, and with several cups what goes into each.
func (b BatchSheet) records() ([][]string, error) {
	rows := [][]string{{"batch", "recipe", "step", "part", "item", "pigment", "grams", "scale_shows_grams", "paste_grams", "drops", "lot", "note"}}
	add := func(part, item, pigment, grams, shows, paste, drops, lot, note string) {
		rows = append(rows, []string{b.Batch, b.Recipe, fmt.Sprint(len(rows)), part, item, pigment, grams, shows, paste, drops, lot, note})
	}
	for _, p := range b.Predilutions {
		if p.Jar != "" {
			continue
		}
		add("pre-dilute", p.Pigment, p.Pigment, b.grams(p.Paste), b.grams(p.Paste), p.Paste.At(b.Step), "", b.Lots[p.Pigment], "for "+p.Item)
		add("pre-dilute", string(p.Side), "", b.grams(p.Resin), b.grams(p.Made), "", "", b.Lots[string(p.Side)], "for "+p.Item)
	}
	for _, l := range b.Lines {
		if b.perCup() && l.Clock {
			continue
		}
		paste, drops, code := "", "", l.Item
		if l.Kind != batch.ResinLine {
			paste, code = short(l.Paste.Grams()), l.Pigment
		}
		if l.Drops > 0 {
			drops = fmt.Sprint(l.Drops)
		}
		add("weigh", l.Item, l.Pigment, b.grams(l.Grams), b.grams(l.Cumulative), paste, drops, b.Lots[code], "")
	}
	if b.perCup() {
		for _, c := range b.Cups {
			add(fmt.Sprintf("cup %d", c.Number), "pot", "", b.grams(c.Pigmented), b.grams(c.Pigmented), "", "", "", "")
			add(fmt.Sprintf("cup %d", c.Number), b.other(), "", b.grams(c.Other), b.grams(c.Total), "", "", b.Lots[b.other()], "")
		}
	}
	return rows, nil
}
