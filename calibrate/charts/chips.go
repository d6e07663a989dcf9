package charts

import (
	"cmp"
	"fmt"
	gocolor "image/color"
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"masstone/calibrate"
)

// chipSheet compares every chip with the fit, one row each, worst first.
func chipSheet(cal *calibrate.Calibration, o Options) page {
	rows := slices.Clone(cal.Chips)
	slices.SortStableFunc(rows, func(a, b calibrate.ChipReport) int {
		if a.Vague != b.Vague {
			if a.Vague {
				return 1
			}
			return -1
		}
		return cmp.Compare(worth(b), worth(a))
	})
	const row, nameSize, head = 12.5, 8, 30
	widest := vg.Length(40)
	for i := range rows {
		widest = max(widest, plain(nameSize, ink).Width(shown(rows[i].Chip)))
	}
	widest = min(widest, 170)
	l := cal.LeaveOut
	note := fmt.Sprintf("CIEDE2000 under %s. Bar: the fit. Dot: what the fit says of the chip without having seen it; a red diamond lies outside the 95 %% claimed. Worst first.", cal.Main)
	if l.Chips > 0 {
		note += fmt.Sprintf(" Left out: mean %.2f, median %.2f, %.0f %% of %d inside.", l.MeanDE00, l.MedianDE00, 100*l.Coverage95, l.Chips)
	}
	return page{title: titled(o, "measured against fitted"), note: note,
		width: 2*margin + widest + 460, height: head + vg.Length(len(rows))*row + 12,
		body: func(c draw.Canvas) {
			c.Min.Y = c.Max.Y - head - vg.Length(len(rows))*row
			sub := draw.Crop(c, widest+56, -104, 0, -head)
			top := scaleOf(rows)
			p := newPanel(sub, axis(0, top, plot.LinearScale{}), axis(0, 1, plot.LinearScale{}))
			step, decimals := roundStep(top, 7)
			ticks := steps(0, top, step, decimals)
			p.frame(ticks, nil, nameSize, true, false)
			for _, t := range ticks {
				put(c, plain(nameSize, soft), p.at(t.Value, 0).X, p.Max.Y+3, center, below, t.Label)
			}
			headings := plain(7.5, soft)
			y := p.Max.Y + 3
			put(c, headings, c.Min.X+widest, y, right, below, "chip")
			put(c, headings, c.Min.X+widest+20, y, center, below, "read")
			put(c, headings, c.Min.X+widest+40, y, center, below, "fit")
			fitAt, leftAt, sigmaAt := p.Max.X+40, p.Max.X+72, p.Max.X+104
			put(c, headings, fitAt, y, right, below, "fit")
			put(c, headings, leftAt, y, right, below, "left out")
			put(c, headings, sigmaAt, y, right, below, "sigma")
			put(c, headings, p.Center().X, p.Max.Y+16, center, below, "dE00")

			for i := range rows {
				r := &rows[i]
				mid := p.Max.Y - (vg.Length(i)+0.5)*row
				if i%2 == 1 {
					band := draw.Crop(c, -4, 4, 0, 0)
					fill(c, rect(band.Min.X, mid-row/2, p.Min.X-6, mid+row/2), faint)
					fill(c, rect(p.Max.X+6, mid-row/2, band.Max.X, mid+row/2), faint)
				}
				put(c, plain(nameSize, ink), c.Min.X+widest, mid, right, middle, cut(r.Chip, plain(nameSize, ink), widest))
				x := c.Min.X + widest + 10
				fill(c, rect(x, mid-4.5, x+20, mid+4.5), screen(r.Measured))
				fill(c, rect(x+20, mid-4.5, x+40, mid+4.5), screen(r.Fitted))
				p.compare(r, mid, top)

				number := plain(nameSize, soft)
				put(c, number, fitAt, mid, right, middle, figure(r.DE00, 2))
				if r.Vague {
					put(c, plain(7.5, soft), sigmaAt, mid, right, middle, "cannot tell")
					continue
				}
				if !r.Inside {
					number = bold(nameSize, alarm)
				}
				put(c, number, leftAt, mid, right, middle, figure(r.LeftDE00, 2))
				put(c, number, sigmaAt, mid, right, middle, figure(r.Sigma, 1))
			}
			stroke(c, 0.8, soft, nil, vg.Point{X: p.Min.X, Y: p.Min.Y}, vg.Point{X: p.Min.X, Y: p.Max.Y})
		}}
}

// compare draws the bar and the dot of one chip. What does not fit is cut off
// and ends in an arrow.
func (p *panel) compare(r *calibrate.ChipReport, mid vg.Length, top float64) {
	bounded := func(v float64) (vg.Length, bool) {
		if !(v <= top) {
			return p.Max.X, true
		}
		return p.at(math.Max(v, 0), 0).X, false
	}
	end, over := bounded(r.DE00)
	fill(p.Canvas, rect(p.Min.X, mid-3, end, mid+3), bar)
	tone := ink
	if !r.Inside {
		tone = alarm
	}
	if over {
		p.arrow(mid, tone)
	}
	if r.Vague {
		return
	}
	at, over := bounded(r.LeftDE00)
	ends := []vg.Point{{X: min(at, end), Y: mid}, {X: max(at, end), Y: mid}}
	stroke(p.Canvas, 0.6, soft, nil, ends...)
	switch {
	case over:
		p.arrow(mid, tone)
	case r.Inside:
		disc(p.Canvas, vg.Point{X: at, Y: mid}, 2.4, ink)
	default:
		diamond(p.Canvas, vg.Point{X: at, Y: mid}, 4)
	}
}

func (p *panel) arrow(mid vg.Length, tone gocolor.Color) {
	x := p.Max.X + 1
	p.FillPolygon(tone, []vg.Point{{X: x, Y: mid - 3.5}, {X: x + 5, Y: mid}, {X: x, Y: mid + 3.5}})
}

func diamond(c draw.Canvas, at vg.Point, r vg.Length) {
	c.FillPolygon(alarm, []vg.Point{{X: at.X - r, Y: at.Y}, {X: at.X, Y: at.Y + r}, {X: at.X + r, Y: at.Y}, {X: at.X, Y: at.Y - r}})
}

// worth is what a chip is sorted by; what is no number comes first.
func worth(r calibrate.ChipReport) float64 {
	v := r.LeftDE00
	if r.Vague {
		v = r.DE00
	}
	if math.IsNaN(v) {
		return math.Inf(1)
	}
	return v
}

// scaleOf is the end of the axis: room for all chips, at least 0.5. Up to a
// tenth of them are left to run off it where they lie four times as far out as
// the next.
func scaleOf(rows []calibrate.ChipReport) float64 {
	var all []float64
	for i := range rows {
		v := rows[i].DE00
		if !rows[i].Vague {
			v = math.Max(v, rows[i].LeftDE00)
		}
		if v <= 1e4 {
			all = append(all, v)
		}
	}
	slices.Sort(all)
	n := len(all)
	for i := n - 1; i > 0 && 10*(n-i) <= n+9; i-- {
		if all[i] > 4*math.Max(all[i-1], 0.25) {
			all = all[:i]
		}
	}
	top := 0.5
	if n := len(all); n > 0 {
		top = math.Max(top, all[n-1])
	}
	step, _ := roundStep(top, 7)
	return step * math.Ceil(top/step)
}

func figure(v float64, decimals int) string {
	switch {
	case math.IsInf(v, 1):
		return "∞"
	case math.IsNaN(v), math.IsInf(v, -1):
		return "–"
	}
	return signed(v, decimals)
}
