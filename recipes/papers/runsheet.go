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

// RunSheet is a run to cast from: a row for each cup, filled in as far as it is
// known and to be written on where it is not.
type RunSheet struct {
	Heading
	Run         string        `json:"run"`
	Client      string        `json:"client,omitempty"`
	Target      string        `json:"target"`
	Approval    string        `json:"approval"`
	Recipe      string        `json:"recipe"`
	Resin       string        `json:"resin"`
	PigmentSide batch.Side    `json:"pigment_side"`
	Loadings    []Loading     `json:"loadings"`
	Lots        []Lot         `json:"lots"` // in use
	Agreed      string        `json:"agreed"`
	TargetLab   *color.Lab    `json:"target_lab,omitempty"`
	Parts       int           `json:"parts"` // wanted
	Cast        int           `json:"cast"`
	Batch       string        `json:"batch,omitempty"`           // whose cups are laid out
	PotLife     float64       `json:"pot_life_minutes,omitzero"` // at Celsius
	Celsius     float64       `json:"pot_life_celsius,omitzero"` // of the resin; 0 as the data sheet has it
	CupMinutes  float64       `json:"cup_minutes,omitzero"`      // from its second side on, of the slowest cup of the batch
	SettledDays float64       `json:"settled_days,omitzero"`     // age from which a part counts as settled
	Cups        []RunSheetCup `json:"cups"`
	Notes       []string      `json:"notes,omitempty"`
}

// RunSheetCup is a cup of a run, cast or to be cast. What is not known is left out.
type RunSheetCup struct {
	Number int      `json:"cup"`
	Pour   string   `json:"pour,omitempty"` // of one that is cast
	Parts  int      `json:"parts"`
	Mould  string   `json:"mould,omitempty"`
	Starts *float64 `json:"starts_minutes,omitempty"` // from the first cup of its batch
	On     string   `json:"poured_on,omitempty"`
	By     string   `json:"by,omitempty"`
	RoomC  *float64 `json:"room_c,omitempty"`
	MouldC *float64 `json:"mould_c,omitempty"`
	Read   *Sight   `json:"read,omitempty"`
}

// Sight is a part that was read.
type Sight struct {
	Part int       `json:"part,omitempty"`
	Lab  color.Lab `json:"lab"`
}

func (r RunSheet) check() error {
	if err := r.Heading.check(); err != nil {
		return err
	}
	if r.Run == "" || len(r.Cups) == 0 {
		return errors.New("papers: sheet of a run without a name or cups: give the run")
	}
	for _, c := range r.Cups {
		if c.Read != nil {
			if err := finiteLab("cup", &c.Read.Lab); err != nil {
				return err
			}
		}
	}
	return r.ref().check()
}

func (r RunSheet) ref() Ref { return RefTo(RunRef, r.Run) }

func (r RunSheet) document() (any, error) {
	return struct {
		RunSheet
		Find Ref `json:"find,omitzero"`
	}{r, r.ref()}, nil
}

func (r RunSheet) design() (design, error) {
	d := design{Kind: "Run sheet", Name: r.Run, Day: r.day(), Shop: r.Shop, Ref: r.ref()}
	d.About = plural(r.Parts, "part") + " of " + subject(r.Target, r.Client) + " in resin " + r.Resin
	f := &facts{}
	f.add("Approval", r.Approval)
	f.add("Recipe", r.Recipe)
	f.add("Batch", r.Batch)
	f.add("Cast so far", fmt.Sprintf("%d of %s", r.Cast, plural(r.Parts, "part")))
	f.add("Agreed", r.Agreed)
	if r.PotLife > 0 {
		at := ""
		if r.Celsius != 0 {
			at = " at " + short(r.Celsius) + " °C"
		}
		f.add("Pot life", fixed(r.PotLife, 1)+" min"+at)
	}
	if r.CupMinutes > 0 {
		f.add("A cup takes", fixed(r.CupMinutes, 1)+" min")
	}
	var loadings []string
	for _, l := range r.Loadings {
		loadings = append(loadings, l.Pigment+"\u00a0"+cardPHR(l.PHR))
	}
	f.add("Loadings (phr)", strings.Join(loadings, ", "))
	lines := &lines{Labels: []string{"Lot of A", "Lot of B", "Scale checked", "Instrument"}}
	for _, l := range r.Lots {
		f.add("Lot of "+l.Of, l.Lot)
		if l.Of == "A" {
			lines.Labels = lines.Labels[2:]
		}
	}
	d.Blocks = append(d.Blocks, f)
	colours, err := pair(r.TargetLab, nil, "")
	if err != nil {
		return d, err
	}
	if colours != nil {
		d.Blocks = append(d.Blocks, colours)
	}
	for _, t := range []*table{r.cast(), r.toCast()} {
		if len(t.Groups) > 0 {
			d.Blocks = append(d.Blocks, t)
		}
	}
	notes := append([]string{}, r.Notes...)
	if r.SettledDays > 0 {
		notes = append(notes, fmt.Sprintf("Read each part at one place, at one age and temperature; the age is from the pour. A part counts as settled from %s d on.", short(r.SettledDays)))
	}
	d.Blocks = append(d.Blocks, &points{Title: "To know", List: notes}, lines, &points{Title: "Cautions", Small: true, List: batch.Cautions()})
	return d, nil
}

// cast are the cups so far, as they are on record.
func (r RunSheet) cast() *table {
	t := &table{Title: "Cast", Columns: []column{{Head: "cup", Strong: true}, {Head: "pour"}, {Head: "parts", Right: true}, {Head: "mould"}, {Head: "on"}, {Head: "by", Wraps: true},
		{Head: "room, mould °C"}, {Head: "read"}, {Head: "L* a* b*"}}}
	for _, c := range r.Cups {
		if c.Pour == "" {
			continue
		}
		row := []string{fmt.Sprint(c.Number), c.Pour, fmt.Sprint(c.Parts), unless(c.Mould == "", c.Mould), c.On, c.By, unless(c.RoomC == nil && c.MouldC == nil, degrees(c.RoomC, c.MouldC)), "–", ""}
		if c.Read != nil {
			row[7], row[8] = "part", three(c.Read.Lab)
			if c.Read.Part > 0 {
				row[7] = fmt.Sprintf("part\u00a0%d", c.Read.Part)
			}
		}
		t.add(row...)
	}
	return t
}

// toCast has a line for each cup to come, with room for what is written by hand.
func (r RunSheet) toCast() *table {
	t := &table{Title: "To cast", Columns: []column{{}, {Head: "cup", Strong: true}, {Head: "parts", Right: true}, {Head: "mould"}}}
	clock := slices.ContainsFunc(r.Cups, func(c RunSheetCup) bool { return c.Starts != nil })
	if clock {
		t.Columns = append(t.Columns, column{Head: "start", Right: true})
	}
	t.Columns = append(t.Columns, column{Head: r.second() + " in at"}, column{Head: "by"}, column{Head: "room, mould °C"}, column{Head: "part, age"}, column{Head: "L* a* b*", Wraps: true})
	for _, c := range r.Cups {
		if c.Pour != "" {
			continue
		}
		row := []string{tickCell, fmt.Sprint(c.Number), fmt.Sprint(c.Parts), cmp.Or(c.Mould, writeCell)}
		if clock {
			start := ""
			if c.Starts != nil {
				start = clockTime(*c.Starts)
			}
			row = append(row, start)
		}
		t.add(append(row, writeCell, writeCell, writeCell, writeCell, writeCell)...)
	}
	return t
}

// second is the side that starts the pot life.
func (r RunSheet) second() string {
	if r.PigmentSide == batch.SideA {
		return string(batch.SideB)
	}
	return string(batch.SideA)
}

// degrees are the temperatures of room and mould.
func degrees(room, mould *float64) string {
	one := func(c *float64) string {
		if c == nil {
			return "–"
		}
		return short(*c)
	}
	return one(room) + ", " + one(mould)
}

func (r RunSheet) records() ([][]string, error) {
	rows := [][]string{{"run", "cup", "pour", "parts", "mould", "start_minutes", "poured_on", "by", "room_c", "mould_c", "part", "L", "a", "b", "under"}}
	number := func(v *float64) string {
		if v == nil {
			return ""
		}
		return plain(*v)
	}
	for _, c := range r.Cups {
		row := []string{r.Run, fmt.Sprint(c.Number), c.Pour, fmt.Sprint(c.Parts), c.Mould, number(c.Starts), c.On, c.By, number(c.RoomC), number(c.MouldC), "", "", "", "", ""}
		if c.Read != nil {
			if c.Read.Part > 0 {
				row[10] = fmt.Sprint(c.Read.Part)
			}
			for i, v := range c.Read.Lab.Values() {
				row[11+i] = plain(v)
			}
			row[14] = c.Read.Lab.Under.String()
		}
		rows = append(rows, row)
	}
	return rows, nil
}
