package charts

import (
	"cmp"
	"fmt"
	"image"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"masstone/calibrate"
	"masstone/calibrate/gamut"
	"masstone/color"
)

// gamutMap draws the sections of the gamut side by side, on one scale.
func gamutMap(cal *calibrate.Calibration, o Options, sections []gamut.Section) page {
	var labs []color.Lab
	for _, s := range sections {
		if s.Center != nil {
			labs = append(labs, s.Center.Lab)
		}
		for _, p := range s.Outline {
			labs = append(labs, p.Lab)
		}
	}
	half, midA, midB := square(labs, 1.28)
	columns := max(1, min(3, len(sections)))
	rows := (len(sections) + columns - 1) / columns
	const side, between, head = 250, 40, 16
	total := o.Limits.Total(cal)
	note := fmt.Sprintf("Colours of mixtures of up to four pigments and %s phr in all, at %s, under %s. At the tips: the pigments, most of it first. What a screen cannot show is cut off.",
		plainNumber(rounded(float64(total))), settingText(o.Setting), cal.Main)
	return page{
		title: titled(o, "gamut"), note: note,
		width:  2*margin + 34 + vg.Length(columns)*(side+between) - between,
		height: vg.Length(rows)*(side+head+28) - 4,
		body: func(c draw.Canvas) {
			for i, s := range sections {
				x := c.Min.X + 34 + vg.Length(i%columns)*(side+between)
				y := c.Max.Y - head - vg.Length(i/columns)*(side+head+28)
				sub := c
				sub.Rectangle = rect(x, y-side, x+side, y)
				p := abPanel(sub, midA, midB, half)
				p.abFrame(7.5, i == 0)
				put(c, bold(9.5, ink), x, y+4, left, below, "L* "+plainNumber(rounded(s.L)))
				p.section(&s)
			}
		},
	}
}

// section fills and outlines what is reached at one lightness.
func (p *panel) section(s *gamut.Section) {
	if s.Center == nil {
		put(p.Canvas, plain(9, soft), p.Center().X, p.Center().Y-16, center, middle, "no mixture has this lightness")
		return
	}
	areas, lines := s.Shape()
	if len(areas) > 0 {
		p.DrawImage(p.Rectangle, p.colors(s, areas))
	}
	for _, chain := range chains(lines) {
		var points []vg.Point
		for _, x := range chain {
			points = append(points, p.at(x[0], x[1]))
		}
		stroke(p.Canvas, 1.1, ink, nil, points...)
	}
	mid := p.at(s.Center.Lab.A, s.Center.Lab.B)
	if len(s.Outline) == 0 {
		disc(p.Canvas, mid, 3.5, screen(s.Center.Lab))
		ring(p.Canvas, mid, 3.5, 0.7, ink)
		return
	}
	stroke(p.Canvas, 0.7, ink, nil, vg.Point{X: mid.X - 3, Y: mid.Y}, vg.Point{X: mid.X + 3, Y: mid.Y})
	stroke(p.Canvas, 0.7, ink, nil, vg.Point{X: mid.X, Y: mid.Y - 3}, vg.Point{X: mid.X, Y: mid.Y + 3})
	p.tips(s, mid)
}

// chains joins lines that go on where another ends.
func chains(lines [][2][2]float64) (out [][][2]float64) {
next:
	for _, l := range lines {
		for i, c := range out {
			if c[len(c)-1] == l[0] {
				out[i] = append(c, l[1])
				continue next
			}
		}
		out = append(out, [][2]float64{l[0], l[1]})
	}
	return out
}

// colors is a picture of the panel with the colours of the areas, clear
// elsewhere.
func (p *panel) colors(s *gamut.Section, areas []gamut.Triangle) image.Image {
	const pixels = 300
	img := image.NewNRGBA(image.Rect(0, 0, pixels, pixels))
	scale := pixels / (p.x.Max - p.x.Min)
	place := func(x [2]float64) [2]float64 { return [2]float64{(x[0] - p.x.Min) * scale, (p.y.Max - x[1]) * scale} }
	for _, t := range areas {
		u, v, w := place(t[0]), place(t[1]), place(t[2])
		drawn := gamut.Triangle{u, v, w}
		x0, x1 := reachOf(u[0], v[0], w[0], pixels)
		y0, y1 := reachOf(u[1], v[1], w[1], pixels)
		for j := y0; j < y1; j++ {
			for i := x0; i < x1; i++ {
				at := [2]float64{float64(i) + 0.5, float64(j) + 0.5}
				if drawn.Contains(at) {
					img.SetNRGBA(i, j, screen(color.Lab{L: s.L, A: p.x.Min + at[0]/scale, B: p.y.Max - at[1]/scale, Under: s.Center.Lab.Under}))
				}
			}
		}
	}
	return img
}

// reachOf is the range of pixels three places span.
func reachOf(a, b, c float64, pixels int) (from, to int) {
	return max(0, int(min(a, b, c))), min(pixels, int(max(a, b, c))+1)
}

// tips names the pigments of the corners that stand out.
func (p *panel) tips(s *gamut.Section, mid vg.Point) {
	n := len(s.Outline)
	radius := func(i int) float64 {
		x := s.Outline[(i+n)%n].Lab
		return math.Hypot(x.A-s.Center.Lab.A, x.B-s.Center.Lab.B)
	}
	angle := func(i int) float64 {
		x := s.Outline[(i+n)%n].Lab
		return math.Atan2(x.B-s.Center.Lab.B, x.A-s.Center.Lab.A)
	}
	var tips []int
	for i := range n {
		stands := radius(i) > 4
		for j := 1; j < n && stands; j++ { // nothing farther within 20 degrees
			for _, k := range []int{i - j, i + j} {
				d := math.Abs(math.Remainder(angle(k)-angle(i), 2*math.Pi))
				if d < math.Pi/9 && (radius(k) > radius(i) || radius(k) == radius(i) && k < i) {
					stands = false
				}
			}
		}
		if stands {
			tips = append(tips, i)
		}
	}
	slices.SortStableFunc(tips, func(i, j int) int { return cmp.Compare(radius(j), radius(i)) })
	taken := placed{}
	for _, i := range tips[:min(len(tips), 9)] {
		r := &s.Outline[i]
		at := p.at(r.Lab.A, r.Lab.B)
		words := codesOf(r.Loadings)
		style := plain(7.5, ink)
		words = cut(words, style, 90)
		width := style.Width(words)
		sin, cos := math.Sincos(angle(i))
		// beside the tip, on its far side
		x := at.X + 5*vg.Length(cos) - width/2 + width/2*vg.Length(cos)
		y := at.Y + 8*vg.Length(sin) - 4
		x = max(p.Min.X+2, min(p.Max.X-2-width, x))
		y = max(p.Min.Y+2, min(p.Max.Y-10, y))
		box := rect(x, y, x+width, y+8)
		if slices.ContainsFunc(taken.taken, func(t vg.Rectangle) bool {
			return box.Min.X < t.Max.X && t.Min.X < box.Max.X && box.Min.Y < t.Max.Y && t.Min.Y < box.Max.Y
		}) {
			continue
		}
		taken.add(box)
		put(p.Canvas, style, x, y+4, left, middle, words)
	}
}

// codesOf lists the pigments of a mixture that make up a hundredth of it or
// more, most first.
func codesOf(loadings map[string]calibrate.PHR) string {
	var codes []string
	var total calibrate.PHR
	for code, phr := range loadings {
		codes = append(codes, code)
		total += phr
	}
	slices.SortFunc(codes, func(a, b string) int {
		return cmp.Or(cmp.Compare(loadings[b], loadings[a]), cmp.Compare(a, b))
	})
	codes = slices.DeleteFunc(codes, func(c string) bool { return loadings[c] < total/100 })
	for i := range codes {
		codes[i] = shown(codes[i])
	}
	return strings.Join(codes, " + ")
}
