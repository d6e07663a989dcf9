package papers

import (
	"cmp"
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"masstone/calibrate"
	"masstone/color"
)

// Labels are stickers for chips and jars, on sheets.
type Labels struct {
	Heading
	Labels []Label `json:"labels"`
	Grid   *Grid   `json:"grid,omitempty"` // nil: UsualGrid of the paper
	// Each is the size of labels to cut from a sheet, in place of Grid.
	Each *LabelSize `json:"each,omitempty"`
	Skip int        `json:"skip,omitzero"` // places already used on the first sheet
	Cut  bool       `json:"cut,omitzero"`  // draw lines to cut plain paper along
}

// Label is one sticker. What does not fit on it is left out from the last line
// up; the code and the name are kept.
type Label struct {
	Code  string     `json:"code"` // set large
	Name  string     `json:"name,omitempty"`
	Lines []string   `json:"lines,omitempty"`
	Find  Ref        `json:"find,omitzero"`
	Lab   *color.Lab `json:"lab,omitempty"` // shown as a strip of colour
}

// Grid is how labels lie on a sheet, in millimetres.
type Grid struct {
	Columns int     `json:"columns"`
	Rows    int     `json:"rows"`
	Width   float64 `json:"width_mm"` // of one label
	Height  float64 `json:"height_mm"`
	Left    float64 `json:"left_mm"` // of the first label's corner
	Top     float64 `json:"top_mm"`
	GapX    float64 `json:"gap_x_mm"`
	GapY    float64 `json:"gap_y_mm"`
}

// UsualGrid is a common sheet of labels: 3 x 8 of 70 x 37 mm on A4, 3 x 10 of
// 66.7 x 25.4 mm on Letter (common practice, no source).
func UsualGrid(s Size) Grid {
	if s == Letter {
		return Grid{Columns: 3, Rows: 10, Width: 66.675, Height: 25.4, Left: 4.7625, Top: 12.7, GapX: 3.175}
	}
	return Grid{Columns: 3, Rows: 8, Width: 70, Height: 37.125}
}

// LabelSize is the size of one label in millimetres.
type LabelSize struct {
	Width  float64 `json:"width_mm"`
	Height float64 `json:"height_mm"`
}

var sizeOfLabel = regexp.MustCompile(`^\s*([0-9]+(?:\.[0-9]+)?)\s*[x×]\s*([0-9]+(?:\.[0-9]+)?)\s*(?:mm)?\s*$`)

// ParseLabelSize reads a width and a height in millimetres, such as 25x10.
func ParseLabelSize(s string) (LabelSize, error) {
	m := sizeOfLabel.FindStringSubmatch(s)
	if m == nil {
		return LabelSize{}, fmt.Errorf("label of %q: give width x height in mm, such as 25x10 or 40x20", s)
	}
	var l LabelSize
	var err error
	if l.Width, err = strconv.ParseFloat(m[1], 64); err == nil {
		l.Height, err = strconv.ParseFloat(m[2], 64)
	}
	if err == nil && !(l.Width >= leastLabelWidth && l.Height >= leastLabelHeight && l.Width <= 200 && l.Height <= 200) {
		err = fmt.Errorf("label of %g x %g mm: give at least %d x %d and at most 200 x 200", l.Width, l.Height, leastLabelWidth, leastLabelHeight)
	}
	return l, err
}

// String is the size as ParseLabelSize reads it, empty for none.
func (l LabelSize) String() string {
	if l == (LabelSize{}) {
		return ""
	}
	return fmt.Sprintf("%gx%g", l.Width, l.Height)
}

// blankEdge is what printers leave blank at the edge of a sheet, with room to hold it
// while cutting, mm (common practice, no source).
const blankEdge = 8.0

// grid is as many labels of the size as a paper takes, edge to edge in its middle.
func (l LabelSize) grid(s Size) Grid {
	width, height := s.mm()
	g := Grid{Width: l.Width, Height: l.Height}
	if l.Width > 0 && l.Height > 0 {
		g.Columns, g.Rows = min(20, int((width-2*blankEdge)/l.Width)), min(50, int((height-2*blankEdge)/l.Height))
	}
	g.Left, g.Top = (width-float64(g.Columns)*l.Width)/2, (height-float64(g.Rows)*l.Height)/2
	return g
}

// least is the smallest label that still takes a code and a name, mm.
const (
	leastLabelWidth  = 25
	leastLabelHeight = 10
)

// on checks that the grid lies on a paper.
func (g Grid) on(s Size) error {
	width, height := s.mm()
	across := g.Left + float64(g.Columns)*g.Width + float64(g.Columns-1)*g.GapX
	down := g.Top + float64(g.Rows)*g.Height + float64(g.Rows-1)*g.GapY
	switch {
	case g.Columns < 1 || g.Rows < 1 || g.Columns > 20 || g.Rows > 50:
		return fmt.Errorf("papers: %d x %d labels on a sheet: give 1 to 20 columns and 1 to 50 rows", g.Columns, g.Rows)
	case !(g.Width >= leastLabelWidth && g.Height >= leastLabelHeight):
		return fmt.Errorf("papers: labels of %g x %g mm: give at least %d x %d", g.Width, g.Height, leastLabelWidth, leastLabelHeight)
	case !(g.Left >= 0 && g.Top >= 0 && g.GapX >= 0 && g.GapY >= 0):
		return errors.New("papers: labels with a negative margin or gap: give 0 or more")
	case !(across <= width+0.01 && down <= height+0.01):
		return fmt.Errorf("papers: labels take %.4g x %.4g mm of a sheet of %s (%.4g x %.4g mm): make them smaller or fewer", across, down, s, width, height)
	}
	return nil
}

// place is the corner of label n of a sheet, counted from 0 along the rows.
func (g Grid) place(n int) (x, y float64) {
	return g.Left + float64(n%g.Columns)*(g.Width+g.GapX), g.Top + float64(n/g.Columns)*(g.Height+g.GapY)
}

// perSheet is how many labels a sheet holds.
func (g Grid) perSheet() int { return g.Columns * g.Rows }

// ChipLabels are the labels of the chips of a plan.
func ChipLabels(p ChipPlan) []Label {
	out := make([]Label, len(p.Chips))
	for i, c := range p.Chips {
		l := Label{Code: c.Name, Find: p.chipRef(c)}
		parts := []string{p.Resin}
		if c.ThicknessMM > 0 {
			parts = append(parts, short(c.ThicknessMM)+" mm")
		}
		if c.Backing != "" {
			parts = append(parts, "over "+c.Backing)
		}
		l.Name = strings.TrimPrefix(strings.Join(parts, ", "), ", ")
		for _, line := range p.Weigh(c) {
			if line.Pigment != "" {
				l.Lines = append(l.Lines, strings.TrimSpace(line.Pigment+" "+phrText(c.Loadings[line.Pigment])+" phr "+p.Names[line.Pigment]))
			}
		}
		out[i] = l
	}
	return out
}

// JarLabel is the label of a jar of paste; what is not known is left empty or 0.
func JarLabel(code, name, ciName, lot string, densityGramsPerML float64, maxPHR calibrate.PHR) Label {
	l := Label{Code: code, Name: name, Find: RefTo(PigmentRef, code)}
	for _, part := range []struct{ label, value string }{{"", ciName}, {"lot ", lot}} {
		if part.value != "" {
			l.Lines = append(l.Lines, part.label+part.value)
		}
	}
	if densityGramsPerML > 0 {
		l.Lines = append(l.Lines, short(densityGramsPerML)+" g/ml")
	}
	if maxPHR > 0 {
		l.Lines = append(l.Lines, "at most "+phrText(maxPHR)+" phr")
	}
	return l
}

func (l Labels) check() error {
	if err := l.Heading.check(); err != nil {
		return err
	}
	switch {
	case len(l.Labels) == 0:
		return errors.New("papers: no labels: give at least one")
	case l.Skip < 0:
		return fmt.Errorf("papers: skip %d labels: give 0 or more", l.Skip)
	}
	for i, x := range l.Labels {
		if x.Code == "" {
			return fmt.Errorf("papers: label %d has no code: give the name it goes by", i+1)
		}
		if err := cmp.Or(x.Find.check(), finiteLab("label "+x.Code, x.Lab)); err != nil {
			return err
		}
	}
	return nil
}

func (l Labels) document() (any, error) { return l, nil }

func (l Labels) design() (design, error) {
	d := design{Kind: "Labels", About: plural(len(l.Labels), "label"), Day: l.day(), Shop: l.Shop}
	s := &stickers{Skip: l.Skip, Cut: l.Cut || l.Each != nil, Grid: l.Grid, Each: l.Each}
	for _, x := range l.Labels {
		t := sticker{Code: x.Code, Name: x.Name, Lines: append([]string{}, x.Lines...), Ref: x.Find}
		var err error
		if t.Squares, err = codeOf(x.Find); err != nil {
			return d, err
		}
		if x.Lab != nil {
			swatch, err := x.Lab.Swatch()
			if err != nil {
				return d, fmt.Errorf("papers: label %s: %w", x.Code, err)
			}
			t.Screen = &swatch
		}
		s.List = append(s.List, t)
	}
	d.Blocks = []block{s}
	return d, nil
}

func (l Labels) records() ([][]string, error) {
	rows := [][]string{{"code", "name", "text", "find"}}
	for _, x := range l.Labels {
		rows = append(rows, []string{x.Code, x.Name, strings.Join(x.Lines, "; "), x.Find.String()})
	}
	return rows, nil
}
