// Package runchart belongs to Stage 5 of 6: it draws the control charts of a run,
// one below the other, cup by cup. It writes to an io.Writer and touches no file.
package runchart

import (
	"fmt"
	"image/color"
	"io"
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgpdf"
	"gonum.org/v1/plot/vg/vgsvg"
)

// Formats of a drawing.
const (
	SVG = "svg"
	PDF = "pdf"
)

// A Chart is the values of one quantity.
type Chart struct {
	Of           string
	Cups         []int
	Values       []float64
	Mean         float64
	Lower, Upper *float64 // limits of the run, nil where there is none
	Limit        float64  // what the client accepts, drawn as a dotted line; 0 for none
	Outside      []int    // cups beyond the limits
	FromZero     bool     // a difference, which is never below 0
}

var (
	ink   = color.NRGBA{34, 36, 40, 255}
	soft  = color.NRGBA{120, 124, 130, 255}
	alarm = color.NRGBA{176, 44, 32, 255}
	white = color.NRGBA{255, 255, 255, 255}
)

const width, panel = vg.Length(500), vg.Length(130) // points

// Write draws the charts below a title.
func Write(w io.Writer, format, title string, charts []Chart) error {
	if len(charts) == 0 {
		return fmt.Errorf("%s: nothing to draw; read a part first", title)
	}
	height := panel*vg.Length(len(charts)) + 20
	var canvas interface {
		vg.CanvasSizer
		io.WriterTo
	}
	switch format {
	case SVG:
		canvas = vgsvg.New(width, height)
	case PDF:
		canvas = vgpdf.New(width, height)
	default:
		return fmt.Errorf("no format %q; give %s or %s", format, SVG, PDF)
	}
	c := draw.New(canvas)
	c.SetColor(white)
	c.Fill(c.Rectangle.Path())
	for n, chart := range charts {
		p, err := chart.plot()
		if err != nil {
			return err
		}
		if n == 0 {
			p.Title.Text = title
			p.Title.TextStyle.Font.Size = 10
		}
		if n == len(charts)-1 {
			p.X.Label.Text = "cup"
		}
		top := height - panel*vg.Length(n)
		if n > 0 {
			top -= 20
		}
		below := height - 20 - panel*vg.Length(n+1)
		p.Draw(draw.Canvas{Canvas: c.Canvas, Rectangle: vg.Rectangle{Min: vg.Point{X: 8, Y: below + 4}, Max: vg.Point{X: width - 8, Y: top - 4}}})
	}
	_, err := canvas.WriteTo(w)
	return err
}

// plot draws one chart: the values joined, the mean, the limits of the run dashed,
// the client's limit dotted; beyond the limits a value is a larger red ring.
func (c Chart) plot() (*plot.Plot, error) {
	p := plot.New()
	p.Y.Label.Text = c.Of
	first, last := float64(c.Cups[0])-0.5, float64(c.Cups[len(c.Cups)-1])+0.5
	p.X.Min, p.X.Max = first, last
	p.X.Tick.Marker, p.Y.Tick.Marker = roundTicks{least: 1}, roundTicks{}
	level := func(y float64, dashes []vg.Length, tone color.Color) error {
		l, err := plotter.NewLine(plotter.XYs{{X: first, Y: y}, {X: last, Y: y}})
		if err != nil {
			return err
		}
		l.LineStyle = draw.LineStyle{Color: tone, Width: 0.7, Dashes: dashes}
		p.Add(l)
		return nil
	}
	if err := level(c.Mean, nil, soft); err != nil {
		return nil, err
	}
	for _, at := range []*float64{c.Lower, c.Upper} {
		if at != nil {
			if err := level(*at, []vg.Length{5, 3}, soft); err != nil {
				return nil, err
			}
		}
	}
	if c.Limit > 0 {
		if err := level(c.Limit, []vg.Length{1.5, 2}, alarm); err != nil {
			return nil, err
		}
	}
	var all, out plotter.XYs
	for i, y := range c.Values {
		at := plotter.XY{X: float64(c.Cups[i]), Y: y}
		all = append(all, at)
		if slices.Contains(c.Outside, c.Cups[i]) {
			out = append(out, at)
		}
	}
	line, points, err := plotter.NewLinePoints(all)
	if err != nil {
		return nil, err
	}
	line.LineStyle = draw.LineStyle{Color: ink, Width: 0.8}
	points.GlyphStyle = draw.GlyphStyle{Color: ink, Radius: 2.2, Shape: draw.CircleGlyph{}}
	p.Add(line, points)
	if len(out) > 0 {
		rings, err := plotter.NewScatter(out)
		if err != nil {
			return nil, err
		}
		rings.GlyphStyle = draw.GlyphStyle{Color: alarm, Radius: 4.5, Shape: draw.RingGlyph{}}
		p.Add(rings)
	}
	if c.FromZero {
		p.Y.Min = math.Min(0, p.Y.Min)
	}
	if p.Y.Max-p.Y.Min < 1e-6 { // all alike
		p.Y.Min, p.Y.Max = p.Y.Min-0.5, p.Y.Max+0.5
	}
	return p, nil
}

// roundTicks marks an axis at the multiples of 1, 2 or 5 times a power of ten, no
// finer than least: a cup has a whole number.
type roundTicks struct{ least float64 }

func (r roundTicks) Ticks(from, to float64) []plot.Tick {
	const most = 5 // about as many
	power := math.Floor(math.Log10((to - from) / most))
	step := math.Pow(10, power)
	for _, times := range []float64{2, 5, 10} {
		if (to-from)/step > most {
			step = times * math.Pow(10, power)
		}
	}
	step = math.Max(step, r.least)
	digits := int(math.Max(0, -math.Floor(math.Log10(step)+1e-9)))
	var all []plot.Tick
	for n := math.Ceil(from/step - 1e-9); n*step <= to+1e-9*step; n++ {
		all = append(all, plot.Tick{Value: n * step, Label: strconv.FormatFloat(n*step+0, 'f', digits, 64)})
	}
	return all
}
