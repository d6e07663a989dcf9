package charts

import (
	"fmt"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"masstone/calibrate"
	"masstone/color"
)

// normal95 is the 97.5 % point of the normal distribution.
const normal95 = 1.96

// widestBand is the standard deviation of ln K beyond which a band has no edge
// on any page.
const widestBand = 20

// A drawnCurve is a curve with its bands and its colours.
type drawnCurve struct {
	curve *calibrate.Curve
	k, s  banded
	steps []step // of the pigment alone, strongest first
}

// name is the pigment's code, or what stands for the bare resin.
func (d *drawnCurve) name() string {
	if d.curve.Code == "" {
		return "resin"
	}
	return d.curve.Code
}

// banded is one line with its 95 % band.
type banded struct{ lo, mid, hi [color.Bands]float64 }

// step is the colour of a loading.
type step struct {
	phr calibrate.PHR
	lab color.Lab
}

// drawnCurves prepares the curves, the resin first.
func drawnCurves(cal *calibrate.Calibration, in calibrate.Setting) ([]drawnCurve, error) {
	e, err := cal.Evaluator(in)
	if err != nil {
		return nil, err
	}
	widen := math.Max(1, cal.ModelError.Widen)
	out := make([]drawnCurve, len(cal.Curves))
	for q := range cal.Curves {
		c := &cal.Curves[q]
		d := &out[q]
		d.curve = c
		d.k, d.s = band(&c.K, &c.KSD, widen), band(&c.S, &c.SSD, widen)
		if q == 0 {
			e.Set(nil, nil)
			d.steps = []step{{0, e.Lab(0)}}
			continue
		}
		for _, part := range []float64{1, 0.1, 0.01} {
			phr := part * float64(c.MaxPHR)
			e.Set([]int{q}, []float64{phr})
			d.steps = append(d.steps, step{calibrate.PHR(phr), e.Lab(0)})
		}
	}
	return out, nil
}

func band(v, sd *[color.Bands]float64, widen float64) (out banded) {
	for b := range v {
		reach := normal95 * widen * math.Min(sd[b], widestBand)
		if !(reach >= 0) {
			reach = 0
		}
		out.lo[b], out.mid[b], out.hi[b] = v[b]*math.Exp(-reach), v[b], v[b]*math.Exp(reach) // (1)
	}
	return out
}

// span is the range of the lines of some curves, at most five decades, with
// room for bands up to half a decade beyond them.
func span(curves []drawnCurve) (lo, hi float64) {
	lo, hi = math.Inf(1), 0.0
	each := func(f func(v float64)) {
		for i := range curves {
			for _, l := range []*banded{&curves[i].k, &curves[i].s} {
				for b := range l.mid {
					f(l.mid[b])
					f(math.Max(l.lo[b], l.mid[b]/3))
					f(math.Min(l.hi[b], l.mid[b]*3))
				}
			}
		}
	}
	each(func(v float64) { hi = math.Max(hi, v) })
	if !(hi > 0) || math.IsInf(hi, 1) {
		return 0.01, 1
	}
	each(func(v float64) {
		if v >= hi*1e-5 {
			lo = math.Min(lo, v)
		}
	})
	return roundDown(lo), roundUp(hi)
}

// roundDown and roundUp go to the next 1, 2 or 5 of a power of ten.
func roundDown(v float64) float64 {
	e := math.Pow(10, math.Floor(math.Log10(v)))
	for _, d := range []float64{5, 2} {
		if v >= d*e {
			return d * e
		}
	}
	return e
}

func roundUp(v float64) float64 {
	e := math.Pow(10, math.Floor(math.Log10(v)))
	for _, d := range []float64{1, 2, 5} {
		if v <= d*e {
			return d * e
		}
	}
	return 10 * e
}

// Dashes of S; K is unbroken.
var dashed = []vg.Length{5, 2.5}

// lines draws K and S in the colour of the pigment.
func (p *panel) lines(d *drawnCurve, width vg.Length) {
	tone := screen(d.steps[0].lab)
	wash := tone
	wash.A = 90
	type drawn struct {
		of     *banded
		dashes []vg.Length
	}
	pair := []drawn{{&d.s, dashed}, {&d.k, nil}}
	for _, l := range pair {
		upper, lower := p.trace(&l.of.hi), p.trace(&l.of.lo)
		area := append([]vg.Point{}, upper...)
		for i := len(lower) - 1; i >= 0; i-- {
			area = append(area, lower[i])
		}
		area = p.ClipPolygonY(area)
		p.FillPolygon(wash, area)
		for _, edge := range [][]vg.Point{upper, lower} {
			for _, part := range p.ClipLinesY(edge) {
				stroke(p.Canvas, 0.35, soft, l.dashes, part...)
			}
		}
	}
	for _, l := range pair {
		for _, part := range p.ClipLinesY(p.trace(&l.of.mid)) {
			stroke(p.Canvas, width+1.1, ink, l.dashes, part...)
			stroke(p.Canvas, width, tone, l.dashes, part...)
		}
	}
}

// trace is a line over the wavelengths. What lies far below the panel is held
// just below it, where it is clipped.
func (p *panel) trace(v *[color.Bands]float64) []vg.Point {
	out := make([]vg.Point, color.Bands)
	for b := range v {
		y := math.Max(p.y.Min/10, math.Min(p.y.Max*10, v[b]))
		out[b] = p.at(float64(color.WavelengthNM(b)), y)
	}
	return out
}

// field is a frame on grey.
func (p *panel) field(x, y []plot.Tick, size vg.Length, labelX, labelY bool) {
	fill(p.Canvas, p.Rectangle, field)
	p.rules = paper
	p.frame(x, y, size, labelX, labelY)
}

func wavelengths(step float64) []plot.Tick {
	return steps(float64(color.WavelengthNM(0)), float64(color.WavelengthNM(color.Bands-1)), step, 0)
}

func wavelengthAxis() plot.Axis {
	return axis(float64(color.WavelengthNM(0)), float64(color.WavelengthNM(color.Bands-1)), plot.LinearScale{})
}

// curveSheet is the page of one curve.
func curveSheet(o Options, d *drawnCurve) page {
	title, note := titled(o, "resin, absorption and scattering"), "K and S per mm"
	if d.curve.Code != "" {
		title = titled(o, d.curve.Code+", absorption and scattering")
		note = fmt.Sprintf("K and S per mm and phr, from chips of up to %s phr", plainNumber(rounded(float64(d.curve.MaxPHR))))
	}
	note += ". Bands: 95 %, each wavelength by itself. Below: how it looks at " + settingText(o.Setting) + "."
	return page{title: title, note: note, width: 560, height: 320, body: func(c draw.Canvas) {
		lo, hi := span([]drawnCurve{*d})
		p := newPanel(draw.Crop(c, 42, -70, 58, 0), wavelengthAxis(), axis(lo, hi, plot.LogScale{}))
		p.field(wavelengths(50), decades(lo, hi), 8.5, true, true)
		p.lines(d, 1.8)
		put(c, plain(8.5, soft), p.Center().X, p.Min.Y-16, center, above, "wavelength (nm)")

		// names at the ends of the lines, apart from each other
		k := p.end(&d.k)
		s := p.end(&d.s)
		const apart = 13
		if gap := k - s; gap > -apart && gap < apart {
			mid := (k + s) / 2
			half := vg.Length(apart) / 2
			mid = max(p.Min.Y+half, min(p.Max.Y-half, mid))
			if gap >= 0 {
				k, s = mid+half, mid-half
			} else {
				k, s = mid-half, mid+half
			}
		}
		put(c, bold(9, ink), p.Max.X+8, k, left, middle, "K  absorbs")
		put(c, bold(9, ink), p.Max.X+8, s, left, middle, "S  scatters")

		x := p.Min.X
		for _, st := range d.steps {
			swatch(c, rect(x, c.Min.Y, x+26, c.Min.Y+16), st.lab)
			words := "the resin alone"
			if d.curve.Code != "" {
				words = plainNumber(rounded(float64(st.phr))) + " phr"
			}
			put(c, plain(8, soft), x+31, c.Min.Y+8, left, middle, words)
			x += 31 + plain(8, soft).Width(words) + 18
		}
	}}
}

// end is the height of the end of a line, within the panel.
func (p *panel) end(l *banded) vg.Length {
	pts := p.trace(&l.mid)
	return max(p.Min.Y+4, min(p.Max.Y-4, pts[len(pts)-1].Y))
}

// curvesGrid is the page of all curves on one scale.
func curvesGrid(o Options, curves []drawnCurve) page {
	columns := min(4, len(curves))
	if len(curves) > 20 {
		columns = 5
	}
	rows := (len(curves) + columns - 1) / columns
	const wide, high, between = 128, 104, 14
	lo, hi := span(curves)
	return page{
		title:  titled(o, "absorption and scattering of all"),
		note:   "K unbroken, S dashed, in the pigment's own colour; bands: 95 %, each wavelength by itself. Pigments per mm and phr, the resin per mm, all on one scale.",
		width:  2*margin + 40 + vg.Length(max(columns, 3))*(wide+between) - between,
		height: vg.Length(rows)*(high+between+12) + 12,
		body: func(c draw.Canvas) {
			for i := range curves {
				d := &curves[i]
				col, row := i%columns, i/columns
				x := c.Min.X + 40 + vg.Length(col)*(wide+between)
				y := c.Max.Y - 12 - vg.Length(row)*(high+between+12)
				sub := c
				sub.Rectangle = rect(x, y-high, x+wide, y)
				p := newPanel(sub, wavelengthAxis(), axis(lo, hi, plot.LogScale{}))
				last := i+columns >= len(curves)
				nm := wavelengths(100)
				nm[0].Label, nm[len(nm)-1].Label = "", "" // they would touch the next panel's
				p.field(nm, labelled(decades(lo, hi), hi/lo), 7.5, last, col == 0)
				p.lines(d, 1.1)
				swatch(c, rect(x, y+3, x+9, y+12), d.steps[0].lab)
				name := "resin"
				if d.curve.Code != "" {
					name = d.curve.Code
				}
				put(c, bold(8.5, ink), x+13, y+7.5, left, middle, cut(name, bold(8.5, ink), wide-13))
				if last && col == 0 {
					put(c, plain(7.5, soft), x+wide/2, y-high-14, center, above, "wavelength (nm)")
				}
			}
		},
	}
}

// labelled keeps only the decades of a long axis.
func labelled(ticks []plot.Tick, ratio float64) (out []plot.Tick) {
	for _, t := range ticks {
		if t.Label != "" || ratio <= 100 {
			out = append(out, t)
		}
	}
	return out
}

// titled heads a page.
func titled(o Options, what string) string {
	if o.Title == "" {
		return what
	}
	return o.Title + ": " + what
}

// settingText says what colours are predicted in.
func settingText(in calibrate.Setting) string {
	mean := 0.0
	for _, r := range in.Backing {
		mean += r / color.Bands
	}
	specular := ""
	if in.Specular == color.SpecularExcluded {
		specular = ", specular excluded"
	}
	return fmt.Sprintf("%s mm over a backing of reflectance %.2f%s", plainNumber(rounded(float64(in.Thickness))), mean, specular)
}

// rounded is a number to three figures.
func rounded(v float64) float64 {
	if !(v > 0) {
		return v
	}
	e := math.Pow(10, 2-math.Floor(math.Log10(v)))
	return math.Round(v*e) / e
}
