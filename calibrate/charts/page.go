package charts

import (
	"bytes"
	"cmp"
	"fmt"
	"html"
	gocolor "image/color"
	"io"
	"math"
	"strings"
	"sync"

	ximage "golang.org/x/image/font"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"

	"masstone/color"
)

// The look of every chart: neutral paper, which leaves the colours alone, ink
// in three strengths, and one red for what needs a look.
var (
	paper = gocolor.NRGBA{252, 252, 252, 255}
	ink   = gocolor.NRGBA{34, 36, 40, 255}
	soft  = gocolor.NRGBA{102, 106, 112, 255}
	rule  = gocolor.NRGBA{224, 225, 227, 255}
	faint = gocolor.NRGBA{240, 241, 242, 255}
	field = gocolor.NRGBA{233, 234, 236, 255} // behind lines that may be as pale as the paper
	bar   = gocolor.NRGBA{168, 176, 186, 255}
	alarm = gocolor.NRGBA{176, 44, 32, 255}
)

const (
	screenDPI = 144
	margin    = vg.Length(20) // points, around a page
)

// A page is a heading with a picture below.
type page struct {
	title, note string
	dpi         int       // of a PNG
	width       vg.Length // points, all in all
	height      vg.Length // points, of the body
	body        func(c draw.Canvas)
}

const titleHeight, lineHeight, noteGap = 17, 11.5, 10

// lines is the note as it stands under the title.
func (p *page) lines() []string { return wrap(p.note, plain(8.5, soft), p.width-2*margin) }

// total is the height of the page, all in all.
func (p *page) total() vg.Length {
	return 2*margin + titleHeight + lineHeight*vg.Length(len(p.lines())) + noteGap + p.height
}

// write draws the page in a format, SVG or PNG.
func (p *page) write(w io.Writer, format string) error {
	switch format {
	case SVG:
		c := vgsvg.New(p.width, p.total())
		p.paint(draw.New(c))
		var b bytes.Buffer
		if _, err := c.WriteTo(&b); err != nil {
			return err
		}
		return p.finish(w, b.Bytes())
	default:
		c := vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(p.width, p.total()), vgimg.UseDPI(cmp.Or(p.dpi, screenDPI)), vgimg.UseBackgroundColor(paper))}
		p.paint(draw.New(c))
		_, err := c.WriteTo(w)
		return err
	}
}

// finish gives an SVG a title for readers that cannot see it, fonts of the same
// widths where the first is not installed, and embedded pictures their right
// type. The strings replaced hold quotation marks, which text never does.
func (p *page) finish(w io.Writer, svg []byte) error {
	svg = bytes.ReplaceAll(svg, []byte(`style="font-family:Liberation Sans;`), []byte(`style="font-family:'Liberation Sans',Arial,Helvetica,sans-serif;`))
	svg = bytes.ReplaceAll(svg, []byte(`xlink:href="data:image/jpg;`), []byte(`xlink:href="data:image/png;`))
	open := []byte(`xmlns:xlink="http://www.w3.org/1999/xlink">`)
	svg = bytes.Replace(svg, open, fmt.Appendf(nil, "%s\n<title>%s</title>\n<desc>%s</desc>", open, html.EscapeString(shown(p.title)), html.EscapeString(shown(p.note))), 1)
	_, err := w.Write(svg)
	return err
}

func (p *page) paint(c draw.Canvas) {
	fill(c, c.Rectangle, paper)
	c = draw.Crop(c, margin, -margin, margin, -margin)
	top := c.Max.Y
	put(c, bold(12, ink), c.Min.X, top, left, above, cut(p.title, bold(12, ink), c.Size().X))
	top -= titleHeight
	for _, line := range p.lines() {
		put(c, plain(8.5, soft), c.Min.X, top, left, above, line)
		top -= lineHeight
	}
	c.Max.Y = top - noteGap
	p.body(c)
}

var fonts = sync.OnceValue(func() text.Handler {
	return text.Plain{Fonts: font.NewCache(liberation.Collection())}
})

func plain(size vg.Length, ink gocolor.Color) text.Style {
	return text.Style{Color: ink, Font: font.Font{Typeface: "Liberation", Variant: "Sans", Size: size}, Handler: fonts()}
}

func bold(size vg.Length, ink gocolor.Color) text.Style {
	s := plain(size, ink)
	s.Font.Weight = ximage.WeightBold
	return s
}

// Where a text lies about its point.
const (
	left   = text.XLeft
	center = text.XCenter
	right  = text.XRight
	above  = text.YTop // the point is the top of the text
	middle = text.YCenter
	below  = text.YBottom
)

// put writes one line of text.
func put(c draw.Canvas, s text.Style, x, y vg.Length, h text.XAlignment, v text.YAlignment, words string) {
	s.XAlign, s.YAlign = h, v
	if v == middle { // of the capitals, not of the line
		s.YAlign = below
		y -= 0.36 * s.Font.Size
	}
	c.FillText(s, vg.Point{X: x, Y: y}, words)
}

// cut shortens a text to a width, from its middle, where names differ least.
func cut(words string, s text.Style, width vg.Length) string {
	words = shown(words)
	if s.Width(words) <= width {
		return words
	}
	r := []rune(words)
	for n := min(len(r)-1, 400); n > 2; n-- {
		short := string(r[:(n+1)/2]) + "…" + string(r[len(r)-n/2:])
		if s.Width(short) <= width {
			return short
		}
	}
	return "…"
}

// wrap breaks a text into lines at its spaces.
func wrap(words string, s text.Style, width vg.Length) (lines []string) {
	line := ""
	for _, word := range strings.Fields(words) {
		word = shown(word)
		switch {
		case line == "":
			line = word
		case s.Width(line+" "+word) <= width:
			line += " " + word
		default:
			lines = append(lines, line)
			line = word
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	for i := range lines {
		lines[i] = cut(lines[i], s, width)
	}
	return lines
}

func fill(c draw.Canvas, r vg.Rectangle, ink gocolor.Color) {
	c.SetColor(ink)
	c.Fill(r.Path())
}

func stroke(c draw.Canvas, width vg.Length, ink gocolor.Color, dashes []vg.Length, points ...vg.Point) {
	if len(points) > 1 {
		c.StrokeLines(draw.LineStyle{Color: ink, Width: width, Dashes: dashes}, points)
	}
}

func disc(c draw.Canvas, at vg.Point, radius vg.Length, ink gocolor.Color) {
	var p vg.Path
	p.Move(vg.Point{X: at.X + radius, Y: at.Y})
	p.Arc(at, radius, 0, 2*math.Pi)
	p.Close()
	c.SetColor(ink)
	c.Fill(p)
}

func ring(c draw.Canvas, at vg.Point, radius, width vg.Length, ink gocolor.Color) {
	var p vg.Path
	p.Move(vg.Point{X: at.X + radius, Y: at.Y})
	p.Arc(at, radius, 0, 2*math.Pi)
	p.Close()
	c.SetLineStyle(draw.LineStyle{Color: ink, Width: width})
	c.Stroke(p)
}

// swatch is a patch of a colour with a thin outline.
func swatch(c draw.Canvas, r vg.Rectangle, lab color.Lab) {
	fill(c, r, screen(lab))
	stroke(c, 0.5, soft, nil, around(r)...)
}

// around is the outline of a rectangle.
func around(r vg.Rectangle) []vg.Point {
	return []vg.Point{r.Min, {X: r.Max.X, Y: r.Min.Y}, r.Max, {X: r.Min.X, Y: r.Max.Y}, r.Min}
}

// screen is a colour as a screen shows it.
func screen(lab color.Lab) gocolor.NRGBA {
	s, err := lab.Swatch()
	if err != nil {
		return gocolor.NRGBA{128, 128, 128, 255}
	}
	return gocolor.NRGBA{s.R, s.G, s.B, 255}
}

func rect(x0, y0, x1, y1 vg.Length) vg.Rectangle {
	return vg.Rectangle{Min: vg.Point{X: x0, Y: y0}, Max: vg.Point{X: x1, Y: y1}}
}

// A panel is a part of a page with two axes.
type panel struct {
	draw.Canvas
	x, y  plot.Axis
	rules gocolor.Color
}

func newPanel(c draw.Canvas, x, y plot.Axis) panel { return panel{c, x, y, rule} }

func axis(lo, hi float64, scale plot.Normalizer) plot.Axis {
	return plot.Axis{Min: lo, Max: hi, Scale: scale}
}

func (p *panel) at(x, y float64) vg.Point {
	return vg.Point{X: p.X(p.x.Norm(x)), Y: p.Y(p.y.Norm(y))}
}

// frame draws the ruled lines of a panel with what is written at them.
func (p *panel) frame(x, y []plot.Tick, size vg.Length, labelX, labelY bool) {
	s := plain(size, soft)
	for _, t := range x {
		at := p.X(p.x.Norm(t.Value))
		stroke(p.Canvas, ruled(t), p.rules, nil, vg.Point{X: at, Y: p.Min.Y}, vg.Point{X: at, Y: p.Max.Y})
		if labelX && t.Label != "" {
			put(p.Canvas, s, at, p.Min.Y-3, center, above, t.Label)
		}
	}
	for _, t := range y {
		at := p.Y(p.y.Norm(t.Value))
		stroke(p.Canvas, ruled(t), p.rules, nil, vg.Point{X: p.Min.X, Y: at}, vg.Point{X: p.Max.X, Y: at})
		if labelY && t.Label != "" {
			put(p.Canvas, s, p.Min.X-4, at, right, middle, t.Label)
		}
	}
}

func ruled(t plot.Tick) vg.Length {
	if t.Label == "" {
		return 0.3
	}
	return 0.6
}
