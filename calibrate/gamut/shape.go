package gamut

import "math"

// A Triangle is a piece of a section on the a*b* plane.
type Triangle [3][2]float64

// Contains tells whether a place lies in the triangle, its sides included.
func (t Triangle) Contains(x [2]float64) bool {
	side := func(p, q [2]float64) float64 { return (q[0]-p[0])*(x[1]-p[1]) - (q[1]-p[1])*(x[0]-p[0]) }
	u, v, w := side(t[0], t[1]), side(t[1], t[2]), side(t[2], t[0])
	whole := u + v + w // twice the area
	return whole != 0 && u*whole >= 0 && v*whole >= 0 && w*whole >= 0
}

// Shape is a section as triangles that it fills and lines around them, in a* and
// b*; it has a center.
func (s *Section) Shape() (areas []Triangle, lines [][2][2]float64) {
	c := [2]float64{s.Center.Lab.A, s.Center.Lab.B}
	on := func(k *Corner, part float64) [2]float64 {
		return [2]float64{c[0] + part*(k.Lab.A-c[0]), c[1] + part*(k.Lab.B-c[1])}
	}
	length := func(k *Corner) float64 { return math.Hypot(k.Lab.A-c[0], k.Lab.B-c[1]) }
	area := func(p, q, r [2]float64) {
		if (q[0]-p[0])*(r[1]-p[1]) != (q[1]-p[1])*(r[0]-p[0]) {
			areas = append(areas, Triangle{p, q, r})
		}
	}
	line := func(p, q [2]float64) {
		if p != q {
			lines = append(lines, [2][2]float64{p, q})
		}
	}
	for i := range s.Outline {
		k, l := &s.Outline[i], &s.Outline[(i+1)%len(s.Outline)]
		edge := [2][2]float64{on(k, 1), on(l, 1)}
		if k.GapTo == 0 && l.GapTo == 0 {
			area(c, edge[0], edge[1])
			line(edge[0], edge[1])
			continue
		}
		// a gap closes in its middle at a corner that has none, or there the
		// outer part ends and the corner is of the inner one
		near, far := [2]float64{k.GapFrom, l.GapFrom}, [2]float64{k.GapTo, l.GapTo}
		ends := [2]*Corner{k, l}
		outerEnds := false
		for j, e := range ends {
			if far[j] > 0 {
				continue
			}
			other := 1 - j
			middle := (near[other] + far[other]) / 2 * length(ends[other])
			outerEnds = length(e) <= middle
			near[j] = 1
			if !outerEnds {
				near[j] = middle / length(e)
			}
			far[j] = near[j]
		}
		inner := [2][2]float64{on(k, near[0]), on(l, near[1])}
		outer := [2][2]float64{on(k, far[0]), on(l, far[1])}
		area(c, inner[0], inner[1])
		line(inner[0], inner[1])
		if outerEnds {
			line(outer[0], edge[0])
			line(outer[1], edge[1])
			continue
		}
		area(outer[0], edge[0], edge[1])
		area(outer[0], edge[1], outer[1])
		line(edge[0], edge[1])
		line(outer[0], outer[1])
	}
	return areas, lines
}
