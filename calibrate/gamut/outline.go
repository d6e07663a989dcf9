package gamut

import (
	"cmp"
	"math"
	"slices"
)

// directions is how many even directions an outline has at least.
const directions = 72

// An outline is the edge of a section about its center, corners in the order
// of their angles.
type outline struct {
	center  blend
	corners []corner
}

// A corner is the farthest mixture found in a direction from the center; the
// center itself until something is found.
type corner struct {
	angle float64 // 0 up to 2 pi
	ray   ray
	found bool
	blend blend
}

func (o *outline) corner(angle float64) corner {
	angle = math.Mod(angle+4*math.Pi, 2*math.Pi)
	sin, cos := math.Sincos(angle)
	y := ray{at: [2]float64{o.center.lab[1], o.center.lab[2]}, to: [2]float64{cos, sin}, most: math.Inf(1)}
	return corner{angle: angle, ray: y, blend: o.center}
}

// turned is how far it is from one angle on to the next, 0 up to 2 pi.
func turned(from, to float64) float64 { return math.Mod(to-from+4*math.Pi, 2*math.Pi) }

// widen tries to move a corner out from a mixture near its direction.
func (s *search) widen(c *corner, b blend) {
	if !s.settle(&b, c.ray) {
		return
	}
	r, have := c.ray.along(b.lab), c.ray.along(c.blend.lab)
	if r <= levelOff || r < 0.7*have {
		return // the wrong side, or too far in to be worth the walk
	}
	s.push(&b, c.ray, stride)
	if c.ray.along(b.lab) > have {
		c.blend, c.found = b, true
	}
}

func (o *outline) insert(c corner) {
	at, _ := slices.BinarySearchFunc(o.corners, c.angle, func(x corner, angle float64) int { return cmp.Compare(x.angle, angle) })
	o.corners = slices.Insert(o.corners, at, c)
}

// polar is where a mixture lies as seen from the center.
func (o *outline) polar(b *blend) (radius, angle float64) {
	da, db := b.lab[1]-o.center.lab[1], b.lab[2]-o.center.lab[2]
	return math.Hypot(da, db), math.Mod(math.Atan2(db, da)+2*math.Pi, 2*math.Pi)
}

// farthest picks the start farthest from the center near each even direction.
func (o *outline) farthest(starts []blend) (out [directions]blend) {
	var far [directions]float64
	for i := range starts {
		r, angle := o.polar(&starts[i])
		k := int(math.Round(angle/(2*math.Pi)*directions)) % directions
		if r > far[k] {
			far[k], out[k] = r, starts[i]
		}
	}
	return out
}

// excess is how far a mixture lies from the edge, 0 for one inside it.
func (o *outline) excess(b *blend) float64 {
	r, angle := o.polar(b)
	at, _ := slices.BinarySearchFunc(o.corners, angle, func(x corner, angle float64) int { return cmp.Compare(x.angle, angle) })
	n := len(o.corners)
	p, q := &o.corners[(at+n-1)%n].blend, &o.corners[at%n].blend
	sin, cos := math.Sincos(angle)
	y := ray{at: [2]float64{o.center.lab[1], o.center.lab[2]}, to: [2]float64{cos, sin}}
	edge := y.edge(p.lab, q.lab)
	if r <= edge {
		return 0
	}
	near := math.Inf(1)
	for i := range o.corners {
		near = math.Min(near, apart(b.lab, o.corners[i].blend.lab, o.corners[(i+1)%n].blend.lab))
	}
	return near
}

// apart is the distance on the a*b* plane from x to the straight line from p to q.
func apart(x, p, q [3]float64) float64 {
	da, db := q[1]-p[1], q[2]-p[2]
	xa, xb := x[1]-p[1], x[2]-p[2]
	if l := da*da + db*db; l > 0 {
		t := math.Max(0, math.Min(1, (xa*da+xb*db)/l))
		xa, xb = xa-t*da, xb-t*db
	}
	return math.Hypot(xa, xb)
}

// beyond picks the start that lies farthest outside the edge, if one does.
func (o *outline) beyond(starts []blend) (blend, bool) {
	best, far := -1, 0.2
	for i := range starts {
		if x := o.excess(&starts[i]); x > far {
			best, far = i, x
		}
	}
	if best < 0 {
		return blend{}, false
	}
	return starts[best], true
}

// fillDents tries corners anew that lie inside the line between their
// neighbours, from those and from their mean.
func (s *search) fillDents(o *outline) {
	n := len(o.corners)
	for range 2 {
		for i := range o.corners {
			c, p, q := &o.corners[i], &o.corners[(i+n-1)%n], &o.corners[(i+1)%n]
			if !p.found || !q.found {
				continue
			}
			dent := apart(c.blend.lab, p.blend.lab, q.blend.lab)
			if dent < 0.3 || turned(p.angle, q.angle) > math.Pi/4 || c.ray.along(c.blend.lab) > c.ray.edge(p.blend.lab, q.blend.lab) {
				continue
			}
			starts := []blend{p.blend, q.blend, between(&p.blend, &q.blend, 0.5)}
			for _, b := range starts {
				if b.n <= blendSize {
					s.predict(&b)
					s.widen(c, b)
				}
			}
		}
	}
}

// edge is how far along the ray the straight line from p to q crosses it.
func (y ray) edge(p, q [3]float64) float64 {
	xp, xq := y.across(p), y.across(q)
	if xp == xq {
		return math.Max(y.along(p), y.along(q))
	}
	t := math.Max(0, math.Min(1, xp/(xp-xq)))
	return y.along(p) + t*(y.along(q)-y.along(p))
}

// gaps lists the gaps of all corners. A gap that neither neighbour has nor ends
// at is a walk gone astray, not a slit in the gamut.
func (s *search) gaps(o *outline) [][2]float64 {
	n := len(o.corners)
	all := make([][2]float64, n)
	length := make([]float64, n)
	for i := range all {
		all[i][0], all[i][1] = s.gap(o, i)
		length[i] = o.corners[i].ray.along(o.corners[i].blend.lab)
	}
	out := make([][2]float64, n)
	for i, g := range all {
		middle := (g[0] + g[1]) / 2 * length[i]
		for _, k := range []int{(i + n - 1) % n, (i + 1) % n} {
			if all[k][1] > 0 || length[k] <= middle {
				out[i] = g
			}
		}
	}
	return out
}

// gap looks for colours between the center and a corner that are not reached,
// by walking in from the corner, or its neighbours, and out from the center. It
// answers where on the way from the center (0) to the corner (1) they lie; 0, 0
// where there are none.
func (s *search) gap(o *outline, i int) (from, to float64) {
	const step, closed = 5, 1.5
	n := len(o.corners)
	c := &o.corners[i]
	edge := c.ray.along(c.blend.lab)
	if !c.found || edge < closed {
		return 0, 0
	}
	far := edge
	for _, start := range []*corner{c, &o.corners[(i+1)%n], &o.corners[(i+n-1)%n]} {
		b := start.blend
		if !start.found || !s.settle(&b, c.ray) {
			continue
		}
		in := ray{at: [2]float64{b.lab[1], b.lab[2]}, to: [2]float64{-c.ray.to[0], -c.ray.to[1]}, most: c.ray.along(b.lab)}
		if in.most < far-closed {
			continue
		}
		s.push(&b, in, step)
		if far = math.Min(far, c.ray.along(b.lab)); far <= closed {
			return 0, 0
		}
	}
	b, out := o.center, c.ray
	out.most = far
	s.push(&b, out, step)
	near := math.Max(0, out.along(b.lab))
	if far-near <= closed {
		return 0, 0
	}
	return near / edge, far / edge
}

// edges lists the pairs of neighbouring corners more than 4 apart.
func (o *outline) edges() (out [][2]corner) {
	for i := range o.corners {
		p, q := o.corners[i], o.corners[(i+1)%len(o.corners)]
		if math.Hypot(p.blend.lab[1]-q.blend.lab[1], p.blend.lab[2]-q.blend.lab[2]) > 4 {
			out = append(out, [2]corner{p, q})
		}
	}
	return out
}
