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
	"masstone/color"
)

// leftOutMap shows for each chip where on the a*b* plane the other chips put it.
func leftOutMap(cal *calibrate.Calibration, o Options) page {
	var chips []calibrate.ChipReport // those that have a place
	var labs []color.Lab
	var misses []float64
	for _, r := range cal.Chips {
		if !finite(r.Measured) {
			continue
		}
		chips = append(chips, r)
		labs = append(labs, r.Measured)
		if !r.Vague && finite(r.LeftOut) {
			misses = append(misses, math.Hypot(r.LeftOut.A-r.Measured.A, r.LeftOut.B-r.Measured.B))
		}
	}
	size := vg.Length(480)
	half, midA, midB := square(labs, 1.08)
	times := magnified(misses, 0.12*half)
	drawn := "Arrows"
	if times > 1 {
		drawn = fmt.Sprintf("Arrows, drawn %.0f times too long,", times)
	}
	return page{
		title:  titled(o, "chips left out"),
		note:   fmt.Sprintf("Points: a* and b* as read, in the chip's own colour. %s lead to what the fit says of the chip without having seen it; lightness is not shown. Red: outside the 95 %% claimed. Hollow: the other chips cannot tell.", drawn),
		width:  size + 2*margin + 34,
		height: size + 24,
		body: func(c draw.Canvas) {
			sub := c
			sub.Rectangle = rect(c.Min.X+34, c.Max.Y-size, c.Min.X+34+size, c.Max.Y)
			p := abPanel(sub, midA, midB, half)
			p.abFrame(8, true)
			where := make([]vg.Point, len(chips))
			for i := range chips {
				where[i] = p.at(chips[i].Measured.A, chips[i].Measured.B)
			}
			marks := placed{}
			for i := range where {
				marks.add(rect(where[i].X-3.5, where[i].Y-3.5, where[i].X+3.5, where[i].Y+3.5))
			}
			for i := range chips { // arrows below the points
				r := &chips[i]
				if r.Vague || !finite(r.LeftOut) {
					continue
				}
				tip := p.at(r.Measured.A+times*(r.LeftOut.A-r.Measured.A), r.Measured.B+times*(r.LeftOut.B-r.Measured.B))
				tone := ink
				if !r.Inside {
					tone = alarm
				}
				if math.Hypot(float64(tip.X-where[i].X), float64(tip.Y-where[i].Y)) < 7 {
					continue // under its point
				}
				p.pointer(where[i], tip, tone)
				marks.addLine(where[i], tip)
			}
			for i := range chips {
				r := &chips[i]
				switch {
				case r.Vague:
					ring(c, where[i], 3.2, 1.6, screen(r.Measured))
					ring(c, where[i], 4, 0.5, ink)
					ring(c, where[i], 2.4, 0.5, ink)
				case !r.Inside:
					disc(c, where[i], 3.6, screen(r.Measured))
					ring(c, where[i], 4.2, 1.4, alarm)
				default:
					disc(c, where[i], 3.2, screen(r.Measured))
					ring(c, where[i], 3.2, 0.5, ink)
				}
			}
			p.names(chips, where, &marks)
			p.lengthKey(times)
		},
	}
}

// finite tells whether a colour has a place on the plane.
func finite(x color.Lab) bool { return !math.IsNaN(x.A-x.A) && !math.IsNaN(x.B-x.B) }

// square is the square on the a*b* plane that holds all colours, and the
// neutral axis.
func square(labs []color.Lab, room float64) (half, midA, midB float64) {
	a0, a1, b0, b1 := 0.0, 0.0, 0.0, 0.0
	for _, x := range labs {
		a0, a1 = math.Min(a0, x.A), math.Max(a1, x.A)
		b0, b1 = math.Min(b0, x.B), math.Max(b1, x.B)
	}
	half = math.Max(5, room*math.Max(a1-a0, b1-b0)/2)
	return half, (a0 + a1) / 2, (b0 + b1) / 2
}

// magnified is how many times too long to draw arrows so that most of them show
// and few are longer than most.
func magnified(misses []float64, most float64) float64 {
	slices.Sort(misses)
	times := 1.0
	if len(misses) == 0 {
		return times
	}
	long := misses[(len(misses)-1)*9/10]
	for _, t := range []float64{2, 5, 10, 20, 50} {
		if t*long <= most {
			times = t
		}
	}
	return times
}

func abPanel(c draw.Canvas, midA, midB, half float64) panel {
	return newPanel(c, axis(midA-half, midA+half, plot.LinearScale{}), axis(midB-half, midB+half, plot.LinearScale{}))
}

// abFrame draws circles of equal chroma and the two axes.
func (p *panel) abFrame(size vg.Length, names bool) {
	span := p.x.Max - p.x.Min
	step, decimals := roundStep(span, 10)
	zero := p.at(0, 0)
	clipped := func(pts []vg.Point, width vg.Length) {
		for _, part := range p.ClipLinesXY(pts) {
			stroke(p.Canvas, width, rule, nil, part...)
		}
	}
	for r := step; r < 2*span; r += step {
		var circle []vg.Point
		for i := range 181 {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / 180)
			circle = append(circle, p.at(r*cos, r*sin))
		}
		clipped(circle, 0.6)
	}
	stroke(p.Canvas, 0.8, bar, nil, vg.Point{X: p.Min.X, Y: zero.Y}, vg.Point{X: p.Max.X, Y: zero.Y})
	stroke(p.Canvas, 0.8, bar, nil, vg.Point{X: zero.X, Y: p.Min.Y}, vg.Point{X: zero.X, Y: p.Max.Y})
	stroke(p.Canvas, 0.6, rule, nil, around(p.Rectangle)...)
	s := plain(size, soft)
	for _, t := range steps(p.x.Min, p.x.Max, step, decimals) {
		put(p.Canvas, s, p.at(t.Value, 0).X, p.Min.Y-3, center, above, t.Label)
	}
	for _, t := range steps(p.y.Min, p.y.Max, step, decimals) {
		put(p.Canvas, s, p.Min.X-4, p.at(0, t.Value).Y, right, middle, t.Label)
	}
	if names {
		put(p.Canvas, bold(size, soft), p.Max.X, p.Min.Y-13, right, above, "a*")
		put(p.Canvas, bold(size, soft), p.Min.X-22, p.Max.Y, right, above, "b*")
	}
}

// pointer draws an arrow, clipped to the panel.
func (p *panel) pointer(from, to vg.Point, tone gocolor.Color) {
	length := vg.Length(math.Hypot(float64(to.X-from.X), float64(to.Y-from.Y)))
	if !(length > 0.5) {
		return
	}
	u := vg.Point{X: (to.X - from.X) / length, Y: (to.Y - from.Y) / length}
	head := min(5, 0.6*length)
	back := vg.Point{X: to.X - head*u.X, Y: to.Y - head*u.Y}
	for _, part := range p.ClipLinesXY([]vg.Point{from, back}) {
		stroke(p.Canvas, 0.9, tone, nil, part...)
	}
	if p.Contains(to) {
		w := 0.42 * head
		p.FillPolygon(tone, []vg.Point{to, {X: back.X - w*u.Y, Y: back.Y + w*u.X}, {X: back.X + w*u.Y, Y: back.Y - w*u.X}})
	}
}

// names writes the names of chips that lie outside what is claimed, and of the
// longest arrows, where there is room.
func (p *panel) names(chips []calibrate.ChipReport, where []vg.Point, taken *placed) {
	const most = 12
	order := make([]int, 0, len(chips))
	for i := range chips {
		if !chips[i].Vague {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(i, j int) int {
		a, b := &chips[i], &chips[j]
		if a.Inside != b.Inside {
			if b.Inside {
				return -1
			}
			return 1
		}
		return cmp.Compare(worth(*b), worth(*a))
	})
	for n, i := range order {
		r := &chips[i]
		if n >= most && r.Inside {
			break
		}
		s := plain(7.5, ink)
		if !r.Inside {
			s = bold(7.5, alarm)
		}
		name := cut(r.Chip, s, 110)
		if at, ok := taken.room(p.Rectangle, where[i], 6, s.Width(name), 8); ok {
			put(p.Canvas, s, at.Min.X, (at.Min.Y+at.Max.Y)/2, left, middle, name)
		}
	}
}

// lengthKey shows how long an arrow of a miss of 1 is.
func (p *panel) lengthKey(times float64) {
	unit := p.at(times, 0).X - p.at(0, 0).X
	miss := 1.0
	for unit < 14 {
		unit *= 2
		miss *= 2
	}
	words := fmt.Sprintf("a miss of %.0f", miss)
	s := plain(8, soft)
	x, y := p.Min.X+10, p.Min.Y+10
	fill(p.Canvas, rect(x-4, y-7, x+unit+s.Width(words)+12, y+7), paper)
	p.pointer(vg.Point{X: x, Y: y}, vg.Point{X: x + unit, Y: y}, soft)
	put(p.Canvas, s, x+unit+6, y, left, middle, words)
}

// placed is what text must keep clear of.
type placed struct{ taken []vg.Rectangle }

func (l *placed) add(r vg.Rectangle) { l.taken = append(l.taken, r) }

// addLine keeps text clear of a line.
func (l *placed) addLine(from, to vg.Point) {
	n := 1 + int(math.Min(200, math.Hypot(float64(to.X-from.X), float64(to.Y-from.Y))/4))
	for i := range n + 1 {
		t := vg.Length(i) / vg.Length(n)
		x, y := from.X+t*(to.X-from.X), from.Y+t*(to.Y-from.Y)
		l.add(rect(x-1, y-1, x+1, y+1))
	}
}

// room finds a free place for a text beside a point.
func (l *placed) room(within vg.Rectangle, at vg.Point, off, width, height vg.Length) (vg.Rectangle, bool) {
	h := height / 2
	for _, d := range []vg.Point{
		{X: off, Y: -h}, {X: -off - width, Y: -h}, {X: -width / 2, Y: off}, {X: -width / 2, Y: -off - height},
		{X: off, Y: off / 2}, {X: off, Y: -height - off/2}, {X: -off - width, Y: off / 2}, {X: -off - width, Y: -height - off/2},
	} {
		r := rect(at.X+d.X, at.Y+d.Y, at.X+d.X+width, at.Y+d.Y+height)
		if r.Min.X < within.Min.X || r.Max.X > within.Max.X || r.Min.Y < within.Min.Y || r.Max.Y > within.Max.Y {
			continue
		}
		if !slices.ContainsFunc(l.taken, func(t vg.Rectangle) bool {
			return r.Min.X < t.Max.X && t.Min.X < r.Max.X && r.Min.Y < t.Max.Y && t.Min.Y < r.Max.Y
		}) {
			l.add(r)
			return r, true
		}
	}
	return vg.Rectangle{}, false
}
