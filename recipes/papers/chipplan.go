package papers

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes/batch"
)

// ChipPlan is chips to cast. Its CSV is the file to import once the readings
// are filled in.
type ChipPlan struct {
	Heading
	Plan        string            `json:"plan,omitempty"`   // its name
	Number      string            `json:"number,omitempty"` // the bench knows it by, such as PL3
	Resin       string            `json:"resin"`
	Mix         batch.Ratio       `json:"mix"`
	PigmentSide batch.Side        `json:"pigment_side"`
	ChipGrams   batch.Mass        `json:"chip_grams"`  // mixed resin in a chip's cup, without the pastes
	Step        batch.Mass        `json:"scale_grams"` // of the scale
	PotLife     float64           `json:"pot_life_minutes,omitzero"`
	Names       map[string]string `json:"names,omitempty"`      // of pigments and sides, by code
	Lights      []color.Condition `json:"lights,omitempty"`     // each chip will be read under
	Spectrum    bool              `json:"spectrum,omitzero"`    // each chip will be read as a spectrum, 400 to 700 nm
	Before      float64           `json:"before_dE00,omitzero"` // expected of the mixtures planned for, now
	After       float64           `json:"after_dE00,omitzero"`  // and with all chips read
	Chips       []PlannedChip     `json:"chips"`
	Notes       []string          `json:"notes,omitempty"`
}

// PlannedChip is one chip to cast.
type PlannedChip struct {
	Name        string                   `json:"chip"`
	Backing     string                   `json:"backing"`
	ThicknessMM float64                  `json:"thickness_mm"`
	Loadings    map[string]calibrate.PHR `json:"loadings_phr"` // by pigment code
	Grams       map[string]batch.Mass    `json:"grams"`        // of paste to weigh, by pigment code
	Why         string                   `json:"why,omitempty"`
}

func (p ChipPlan) check() error {
	if err := p.Heading.check(); err != nil {
		return err
	}
	share := p.Mix.Share(batch.SideA)
	switch {
	case len(p.Chips) == 0:
		return errors.New("papers: chip plan without chips: give at least one")
	case !p.ChipGrams.Positive() || !p.Step.Positive():
		return fmt.Errorf("papers: chip plan: %v of resin in a cup, weighed in steps of %v: give both", p.ChipGrams, p.Step)
	case !(share > 0 && share < 1):
		return fmt.Errorf("papers: chip plan: mix ratio %v: give two positive masses A:B such as 100:90", p.Mix)
	case p.PigmentSide != batch.SideA && p.PigmentSide != batch.SideB:
		return fmt.Errorf("papers: chip plan: pigment side %q: give A or B", p.PigmentSide)
	}
	if err := finite("chip plan", p.PotLife, p.Before, p.After); err != nil {
		return err
	}
	for _, c := range p.Chips {
		if c.Name == "" {
			return errors.New("papers: chip plan: a chip has no name: name it, its label and its readings go by it")
		}
		if err := finite("chip "+c.Name, c.ThicknessMM); err != nil {
			return err
		}
		for code, phr := range c.Loadings {
			if err := finite("chip "+c.Name+": loading of "+code, float64(phr)); err != nil {
				return err
			}
			if !(phr == 0) && !c.Grams[code].Positive() {
				return fmt.Errorf("papers: chip %s: %s has a loading but no grams: give both", c.Name, code)
			}
		}
	}
	return nil
}

// A cup is a casting: chips of the same content and thickness are one, read over
// each of their backings.
type cup []PlannedChip

// cups are the castings of the plan, in the order of their first chips.
func (p ChipPlan) cups() []cup {
	var out []cup
	for _, c := range p.Chips {
		i := slices.IndexFunc(out, func(k cup) bool {
			return k[0].ThicknessMM == c.ThicknessMM && maps.Equal(k[0].Loadings, c.Loadings) && k[0].Backing != c.Backing
		})
		if i < 0 {
			out = append(out, cup{c})
			continue
		}
		out[i] = append(out[i], c)
	}
	return out
}

// Cups counts the castings of the plan, and numbers that of each chip from 1.
func (p ChipPlan) Cups() (n int, of []int) {
	of = make([]int, len(p.Chips))
	for i, k := range p.cups() {
		for _, c := range k {
			of[slices.IndexFunc(p.Chips, func(o PlannedChip) bool { return o.Name == c.Name })] = i + 1
		}
		n = i + 1
	}
	return n, of
}

func (p ChipPlan) chipRef(c PlannedChip) Ref {
	if p.Resin == "" {
		return RefTo(ChipRef, c.Name)
	}
	return RefTo(ChipRef, p.Resin, c.Name)
}

// Weigh is what goes into a chip's cup in the order of weighing: the side that
// takes the pigments, the pastes from the smallest to the largest, the other
// side, each with the running sum. The sides add up to ChipGrams to the last
// digit, at the mix ratio within a step of the scale.
func (p ChipPlan) Weigh(c PlannedChip) []batch.Line {
	other := batch.SideA
	if p.PigmentSide == batch.SideA {
		other = batch.SideB
	}
	step := p.Step.Grams()
	last := batch.Grams(math.Round(p.ChipGrams.Grams()*p.Mix.Share(other)/step) * step)
	out := []batch.Line{{Item: string(p.PigmentSide), Kind: batch.ResinLine, Grams: p.ChipGrams.Minus(last)}}
	for _, code := range slices.SortedFunc(maps.Keys(c.Grams), func(a, b string) int {
		return cmp.Or(c.Grams[a].Compare(c.Grams[b]), cmp.Compare(a, b))
	}) {
		if g := c.Grams[code]; g.Positive() {
			out = append(out, batch.Line{Item: code, Kind: batch.PigmentLine, Pigment: code, Grams: g, Paste: g})
		}
	}
	out = append(out, batch.Line{Item: string(other), Kind: batch.ResinLine, Grams: last, Clock: true})
	var sum batch.Mass
	for i := range out {
		sum = sum.Plus(out[i].Grams)
		out[i].Cumulative = sum
	}
	return out
}

// codes are the pigments of all chips, sorted.
func (p ChipPlan) codes() []string {
	seen := map[string]bool{}
	for _, c := range p.Chips {
		for code := range c.Loadings {
			seen[code] = true
		}
	}
	return slices.Sorted(maps.Keys(seen))
}

func (p ChipPlan) document() (any, error) {
	weigh := map[string][]batch.Line{}
	for _, c := range p.Chips {
		weigh[c.Name] = p.Weigh(c)
	}
	return struct {
		ChipPlan
		Weigh map[string][]batch.Line `json:"weigh"` // by chip
	}{p, weigh}, nil
}

func (p ChipPlan) design() (design, error) {
	d := design{Kind: "Chip plan", Name: p.Plan, Day: p.day(), Shop: p.Shop}
	if d.Name == "" {
		d.Name = p.Resin
	}
	if p.Number != "" {
		d.Name, d.Ref = p.Number+", "+d.Name, RefTo(PlanRef, p.Number)
	}
	cups := p.cups()
	d.About = fmt.Sprintf("%s to cast in resin %s", plural(len(p.Chips), "chip"), p.Resin)
	if len(cups) < len(p.Chips) {
		d.About += fmt.Sprintf(", from %s", plural(len(cups), "cup"))
	}
	var f facts
	f.add("Resin in a cup", p.ChipGrams.At(p.Step)+" g")
	f.add("Mix A:B by mass", p.Mix.String()+", pigments into "+string(p.PigmentSide))
	f.add("Scale", "steps of "+p.Step.String())
	if p.PotLife > 0 {
		f.add("Pot life", short(p.PotLife)+" min")
	}
	f.add("To be read", p.toRead())
	if p.Before > 0 && p.After > 0 {
		f.add("Expected "+symbol(color.CIEDE2000)+" falls", fmt.Sprintf("from %s to %s", fixed(p.Before, 2), fixed(p.After, 2)))
	}
	f.add("Paste in all", p.pasteInAll())
	d.Blocks = append(d.Blocks, &f)
	if len(p.Notes) > 0 {
		d.Blocks = append(d.Blocks, &points{Title: "To know", List: slices.Clone(p.Notes)})
	}
	t := &table{Title: "Each cup stays on the scale; weigh from the top", Columns: []column{{}, {Head: "item", Strong: true}, {Head: "name", Wraps: true},
		{Head: "phr", Right: true}, {Head: "grams", Right: true, Strong: true}, {Head: "scale shows", Right: true}, {Head: "really shown"}}}
	for _, k := range cups {
		c := k[0]
		g := group{Ticks: []string{"cast", "labelled", "read"}}
		var tail, heads, over []string
		for _, c := range k {
			heads = append(heads, c.Name)
			if c.Backing != "" {
				over = append(over, c.Backing)
			}
		}
		g.Head = strings.Join(heads, ", ")
		if c.ThicknessMM > 0 {
			tail = append(tail, short(c.ThicknessMM)+" mm")
		}
		if len(over) > 0 {
			tail = append(tail, "read over "+strings.Join(over, " and over "))
		}
		if c.Why != "" {
			tail = append(tail, c.Why)
		}
		g.Tail = strings.Join(tail, ", ")
		for _, l := range p.Weigh(c) {
			name, phr := p.Names[l.Item], ""
			if l.Kind == batch.ResinLine {
				name = strings.TrimSuffix("side "+l.Item+", "+name, ", ")
			} else {
				phr = phrText(c.Loadings[l.Pigment])
			}
			g.Rows = append(g.Rows, []string{tickCell, l.Item, name, phr, l.Grams.At(p.Step), l.Cumulative.At(p.Step), writeCell})
		}
		t.Groups = append(t.Groups, g)
	}
	d.Blocks = append(d.Blocks, t, p.readingTable(), &lines{Labels: []string{"Cast by", "On", "Room °C", "Lot of A", "Lot of B"}},
		&points{Title: "Cautions", Small: true, List: batch.Cautions()})
	return d, nil
}

// readingTable has room for three readings of each chip, or for the names that a
// spectrophotometer gave them.
func (p ChipPlan) readingTable() *table {
	t := &table{Title: "Readings, three of each chip on different places", Columns: []column{{Head: "chip", Strong: true, Wraps: true}, {Head: "over"}, {Head: "under"},
		{Head: "1: L* a* b*"}, {Head: "2: L* a* b*"}, {Head: "3: L* a* b*"}}}
	under := make([]string, len(p.Lights))
	for i, l := range p.Lights {
		under[i] = l.String()
	}
	if p.Spectrum {
		t.Columns[3].Head, t.Columns[4].Head, t.Columns[5].Head = "1: name", "2: name", "3: name"
		under = append([]string{"spectrum"}, under...)
	}
	if len(under) == 0 {
		under = []string{""}
	}
	for _, c := range p.Chips {
		for i, u := range under {
			name, over := c.Name, c.Backing
			if i > 0 {
				name, over = "", ""
			}
			t.add(name, over, u, writeCell, writeCell, writeCell)
		}
	}
	return t
}

func (p ChipPlan) toRead() string {
	var how []string
	if p.Spectrum {
		how = append(how, "spectrum")
	}
	for _, l := range p.Lights {
		how = append(how, l.String())
	}
	return strings.Join(how, ", ")
}

// pasteInAll is how much of each paste to have at hand.
func (p ChipPlan) pasteInAll() string {
	var parts []string
	for _, code := range p.codes() {
		var sum batch.Mass
		for _, k := range p.cups() {
			sum = sum.Plus(k[0].Grams[code])
		}
		parts = append(parts, code+"\u00a0"+sum.At(p.Step)+" g") // stay together
	}
	return strings.Join(parts, ", ")
}

// records are the columns of a chips file, with the readings left open.
func (p ChipPlan) records() ([][]string, error) {
	codes := p.codes()
	_, cupOf := p.Cups()
	of := make([]int, len(p.Chips)+1) // chips of a cup
	for _, cup := range cupOf {
		of[cup]++
	}
	shared := slices.Max(of) > 1
	head := []string{"chip", "backing"}
	if shared {
		head = append(head, "casting")
	}
	head = append(append(head, "thickness_mm", "chip_grams", "scale_g"), codes...)
	head = append(head, "note")
	for _, l := range p.Lights {
		for _, axis := range []string{"L", "a", "b"} {
			column := axis + "_" + string(l.Illuminant)
			if l.Observer != color.TenDegree {
				column += "/" + strconv.Itoa(int(l.Observer))
			}
			head = append(head, column)
		}
	}
	if p.Spectrum {
		for b := range color.Bands {
			head = append(head, fmt.Sprintf("R%d", color.FirstNM+b*color.StepNM))
		}
	}
	rows := [][]string{head}
	first := map[int]string{}
	for i, c := range p.Chips {
		row := make([]string, 0, len(head))
		same := first[cupOf[i]]
		row = append(row, c.Name, c.Backing)
		switch {
		case shared && of[cupOf[i]] > 1:
			row = append(row, cmp.Or(same, c.Name))
		case shared:
			row = append(row, "")
		}
		row = append(row, plain(c.ThicknessMM), plain(p.ChipGrams.Grams()), plain(p.Step.Grams()))
		for _, code := range codes {
			row = append(row, plain(float64(c.Loadings[code])))
		}
		var weigh []string
		for _, l := range p.Weigh(c) {
			weigh = append(weigh, l.Item+" "+l.Grams.At(p.Step)+" g")
		}
		if same != "" {
			row = append(row, "the same piece as "+same)
		} else {
			first[cupOf[i]] = c.Name
			row = append(row, "weigh "+strings.Join(weigh, ", "))
		}
		rows = append(rows, append(row, make([]string, len(head)-len(row))...))
	}
	return rows, nil
}
