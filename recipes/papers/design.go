package papers

import (
	"regexp"
	"slices"
	"strings"
	"time"

	"masstone/color"
)

// A design is a paper composed, before it is set in a format.
type design struct {
	Kind   string // batch sheet
	Name   string // B7
	About  string // one sentence
	Day    string
	Made   time.Time
	Shop   []string
	Ref    Ref
	Blocks []block
}

// tidy makes every text of a design safe to print.
func (d *design) tidy() { d.each(tidy) }

// unit is a number with a unit after a space, figure one with its name before it.
var (
	unit   = regexp.MustCompile(`([0-9]) (%|°C\b|[Lab]\*|(?:g|kg|ml|mm|nm|s|min|h|d|phr|g/ml|EUR)\b)`)
	figure = regexp.MustCompile(`(\x{0394}E[0-9a-z*]*|CIEDE2000|[Llab]\*) ([0-9\x{2212}+])`)
)

// bind keeps numbers and their units on one line.
func (d *design) bind() {
	d.each(func(s string) string {
		s = strings.ReplaceAll(s, " ± ", "\u00a0±\u00a0")
		return figure.ReplaceAllString(unit.ReplaceAllString(s, "$1\u00a0$2"), "$1\u00a0$2")
	})
}

// each changes every text of a design but its reference.
func (d *design) each(change func(string) string) {
	all := func(texts ...*string) {
		for _, t := range texts {
			*t = change(*t)
		}
	}
	all(&d.Kind, &d.Name, &d.About, &d.Day)
	d.Shop = slices.Clone(d.Shop)
	for i := range d.Shop {
		all(&d.Shop[i])
	}
	for _, b := range d.Blocks {
		b.texts(all)
	}
}

// A block is a piece of a design. Texts hands over its texts to be changed.
type block interface {
	texts(f func(...*string))
}

// facts are labelled values, set in columns.
type facts struct {
	Title string
	List  []fact
}

type fact struct{ Label, Value string }

// add appends a fact, unless its value is not known.
func (b *facts) add(label, value string) {
	if value != "" {
		b.List = append(b.List, fact{label, value})
	}
}

func (b *facts) texts(f func(...*string)) {
	f(&b.Title)
	for i := range b.List {
		f(&b.List[i].Label, &b.List[i].Value)
	}
}

// band is colours side by side without a gap, which is how an eye compares.
type band struct{ Patches []patch }

type patch struct {
	Role   string // target, predicted
	Lab    string
	Under  string
	Remark string // what the swatch cannot show
	Screen color.Swatch
}

// newPatch is a colour in a band.
func newPatch(role string, c color.Lab) (patch, error) {
	s, err := c.Swatch()
	if err != nil {
		return patch{}, err
	}
	p := patch{Role: role, Lab: labText(c), Under: c.Under.String(), Screen: s}
	if !s.InGamut {
		p.Remark = "swatch is the nearest a screen can show"
	}
	return p, nil
}

func (b *band) texts(f func(...*string)) {
	for i := range b.Patches {
		p := &b.Patches[i]
		f(&p.Role, &p.Lab, &p.Under, &p.Remark)
	}
}

// table has rows in groups that stay together on a page.
type table struct {
	Title   string
	Intro   string
	Columns []column
	Groups  []group
	Large   bool // read at arm's length, at the scale
}

type column struct {
	Head   string
	Right  bool
	Strong bool // the figure that counts
	Wraps  bool // gives way first when room is short
}

type group struct {
	Head  string   // over the rows, none if empty
	Tail  string   // beside the head, quiet
	Ticks []string // to be ticked beside the head
	Rows  [][]string
}

// Cells that are drawn.
const (
	tickCell  = "\x00tick"  // a box to tick
	writeCell = "\x00write" // a line to write on
)

func (b *table) add(cells ...string) {
	if len(b.Groups) == 0 {
		b.Groups = []group{{}}
	}
	g := &b.Groups[len(b.Groups)-1]
	g.Rows = append(g.Rows, cells)
}

func (b *table) texts(f func(...*string)) {
	f(&b.Title, &b.Intro)
	for i := range b.Columns {
		f(&b.Columns[i].Head)
	}
	for i := range b.Groups {
		g := &b.Groups[i]
		f(&g.Head, &g.Tail)
		for k := range g.Ticks {
			f(&g.Ticks[k])
		}
		for _, row := range g.Rows {
			for k := range row {
				if row[k] != tickCell && row[k] != writeCell {
					f(&row[k])
				}
			}
		}
	}
}

// points are short paragraphs.
type points struct {
	Title string
	Tick  bool // each a step to tick off
	Small bool // reference matter
	List  []string
}

// Columns is how many columns points are set in.
func (b *points) Columns() int {
	switch {
	case !b.Small:
		return 1
	case len(b.List) < 6:
		return 2
	}
	return 3
}

func (b *points) texts(f func(...*string)) {
	f(&b.Title)
	for i := range b.List {
		f(&b.List[i])
	}
}

// clock is the time of a cup on a line, in minutes from its start.
type clock struct {
	Title string
	Steps []moment // ends of what is done, in order
	Ends  []moment // what the resin allows, in order
}

type moment struct {
	Minutes float64
	Word    string
}

// Span is the whole length of the line.
func (b *clock) Span() float64 {
	most := 0.0
	for _, m := range append(append([]moment{}, b.Steps...), b.Ends...) {
		most = max(most, m.Minutes)
	}
	return most
}

func (b *clock) texts(f func(...*string)) {
	f(&b.Title)
	for i := range b.Steps {
		f(&b.Steps[i].Word)
	}
	for i := range b.Ends {
		f(&b.Ends[i].Word)
	}
}

// verdict is the answer a paper exists for.
type verdict struct {
	Passes bool
	Word   string
	Words  string
}

func (b *verdict) texts(f func(...*string)) { f(&b.Word, &b.Words) }

// lines are to be filled in by hand.
type lines struct{ Labels []string }

func (b *lines) texts(f func(...*string)) {
	for i := range b.Labels {
		f(&b.Labels[i])
	}
}

// stickers are labels on sheets.
type stickers struct {
	Grid *Grid // nil: the usual one
	Each *LabelSize
	Skip int
	Cut  bool
	List []sticker
}

// on is the grid on a paper.
func (b *stickers) on(s Size) (Grid, error) {
	g := UsualGrid(s)
	switch {
	case b.Each != nil:
		g = b.Each.grid(s)
	case b.Grid != nil:
		g = *b.Grid
	}
	return g, g.on(s)
}

type sticker struct {
	Code, Name string
	Lines      []string
	Ref        Ref
	Squares    squares
	Screen     *color.Swatch
}

func (b *stickers) texts(f func(...*string)) {
	for i := range b.List {
		s := &b.List[i]
		f(&s.Code, &s.Name)
		for k := range s.Lines {
			f(&s.Lines[k])
		}
	}
}
