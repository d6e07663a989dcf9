package papers

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strings"

	"masstone/color"
)

//go:embed page.html
var pageHTML string

//go:embed page.css
var pageCSS string

var page = template.Must(template.New("page").Funcs(template.FuncMap{
	"kind":    kindOf,
	"tick":    func(cell string) bool { return cell == tickCell },
	"write":   func(cell string) bool { return cell == writeCell },
	"time":    clockTime,
	"percent": func(part, whole float64) string { return fmt.Sprintf("%.3f%%", 100*part/whole) },
	"bars":    bars,
	"hex":     func(s color.Swatch) string { return s.Hex() },
	"mm":      func(v float64) string { return fmt.Sprintf("%.4g", v) },
}).Parse(pageHTML))

// kindOf names a block to the template.
func kindOf(b block) string {
	return strings.TrimPrefix(fmt.Sprintf("%T", b), "*papers.")
}

// bar is a stretch of the clock's line.
type bar struct{ From, To float64 }

// Length is how long it takes.
func (b bar) Length() float64 { return b.To - b.From }

// Odd tells every second bar apart.
func (b bar) Odd(i int) bool { return i%2 == 1 }

// bars are the stretches between the steps of a clock.
func bars(c *clock) []bar {
	var out []bar
	at := 0.0
	for _, s := range c.Steps {
		out = append(out, bar{at, s.Minutes})
		at = s.Minutes
	}
	return out
}

// sheetOf is one sheet of labels.
type sheetOf struct{ Places []placed }

type placed struct {
	X, Y  float64
	Label sticker
	Code  float64 // side of its code, mm; 0 none
	Set   []labelLine
}

// Margin is the quiet zone of its code, mm.
func (p placed) Margin() float64 { return p.Code * quiet / float64(p.Label.Squares.Framed()) }

// pageData is what the template is given.
type pageData struct {
	design
	CSS     template.CSS
	Paper   string // CSS page size
	Width   float64
	Height  float64
	Foot    string
	Close   bool // set closely
	Squares squares
	Grid    Grid
	Sheets  []sheetOf
	Cut     bool
}

func writeHTML(w io.Writer, d design, o Options) error {
	code, err := codeOf(d.Ref)
	if err != nil {
		return err
	}
	d.bind()
	data := pageData{design: d, CSS: template.CSS(pageCSS), Paper: map[Size]string{A4: "A4", Letter: "letter"}[o.Size], Foot: d.foot(), Squares: code}
	data.Width, data.Height = o.Size.mm()
	if _, data.Close, err = d.shortest(o); err != nil {
		return err
	}
	for _, b := range d.Blocks {
		if s, ok := b.(*stickers); ok {
			if data.Grid, err = s.on(o.Size); err != nil {
				return err
			}
			fonts, err := faces()
			if err != nil {
				return err
			}
			data.Cut, data.Sheets = s.Cut, s.sheets(data.Grid)
			for _, sheet := range data.Sheets {
				for i := range sheet.Places {
					sheet.Places[i].Set = sheet.Places[i].Label.fitted(data.Grid, fonts)
				}
			}
		}
	}
	return page.Execute(w, data)
}

// foot is the line at the foot of every page.
func (d design) foot() string {
	parts := []string{strings.TrimSpace(d.Kind + " " + d.Name), d.Day}
	if len(d.Shop) > 0 {
		parts = append(parts, d.Shop[0])
	}
	return strings.Join(parts, " · ")
}

// sheets lays the labels out.
func (b *stickers) sheets(g Grid) []sheetOf {
	var out []sheetOf
	skip := b.Skip % g.perSheet() // whole sheets used need no blank one
	for i, l := range b.List {
		n := i + skip
		if i == 0 || n%g.perSheet() == 0 {
			out = append(out, sheetOf{})
		}
		p := placed{Label: l}
		p.X, p.Y = g.place(n % g.perSheet())
		p.Code = l.codeOn(g)
		s := &out[len(out)-1]
		s.Places = append(s.Places, p)
	}
	return out
}

// codeSide is the side of a label's code, quiet zone included: the label's
// height, and at most two fifths of its width.
func (g Grid) codeSide() float64 { return min(g.Height-2, 0.38*g.Width, 30) }
