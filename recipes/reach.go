package recipes

import "math"

// A reach is what every three pigments of a bench come to.
//
// A colour has three coordinates. Loadings of four or more pigments that give
// some colour lie on a curve or surface of loadings that give the same colour;
// followed to where a pigment runs out, it leaves one pigment fewer and the
// same f, and so on down to three. So the least f of a set, for its main colour
// alone and with no limit on loadings, is mostly that of three of its pigments;
// more lights and limits only add to f. Where none of the set's other pigments
// would lower f at the best three's optimum, this is an optimum of the set too.
type reach struct {
	three []three
}

// A three is three pigments: the least f found for the main colour with no
// limit on loadings, the loadings there, which larger sets start from, and the
// pigments a little of which would lower f. Value is the F of these loadings,
// infinite where only f is known.
type three struct {
	f, value float64
	c        [3]float64
	wants    pigments
}

// A pigments is a set of positions in a bench.
type pigments [maxPigments / 64]uint64

func (p *pigments) add(i int)      { p[i/64] |= 1 << (i % 64) }
func (p *pigments) has(i int) bool { return p[i/64]&(1<<(i%64)) != 0 }

// A low is the optimum of some of a set's pigments for the main colour alone
// with no limit on loadings, by the set's own positions.
type low struct {
	f     float64
	c     [MaxPerRecipe]float64
	wants pigments
}

func newReach(n int) *reach { return &reach{make([]three, choose(n, 3))} }

// of returns the entry of positions i < j < k.
func (r *reach) of(i, j, k int) *three {
	return &r.three[k*(k-1)*(k-2)/6+j*(j-1)/2+i]
}

// lowest returns the lower of l, the optimum of some of a set's pigments, and
// the optima of its threes with the last one.
func (r *reach) lowest(at []int, l low) low {
	last := len(at) - 1
	for b := 1; b < last; b++ {
		for a := range b {
			if t := r.of(at[a], at[b], at[last]); t.f < l.f {
				l = low{f: t.f, wants: t.wants}
				l.c[a], l.c[b], l.c[last] = t.c[0], t.c[1], t.c[2]
			}
		}
	}
	return l
}

// best returns the better of a set's start and of the ways its threes with the
// last pigment go.
func (r *reach) best(at []int, start way) way {
	last := len(at) - 1
	var best *three
	var x, y int
	for b := 1; b < last; b++ {
		for a := range b {
			t := r.of(at[a], at[b], at[last])
			if best == nil || t.value < best.value || t.value == best.value && t.f < best.f {
				best, x, y = t, a, b
			}
		}
	}
	if best == nil || best.value > start.value || best.value == start.value && len(at) > 3 {
		return start
	}
	var w way
	w.value = best.value
	w.c[x], w.c[y], w.c[last] = best.c[0], best.c[1], best.c[2]
	return w
}

// way returns the way of three pigments.
func (r *reach) way(at []int) way {
	t := r.of(at[0], at[1], at[2])
	w := way{value: t.value}
	copy(w.c[:], t.c[:])
	return w
}

// set notes the loadings of three pigments and their F.
func (r *reach) set(at []int, c [MaxPerRecipe]float64, value float64) {
	t := r.of(at[0], at[1], at[2])
	t.value = value
	copy(t.c[:], c[:3])
}

// reached is the f below which a three needs no second start: 0.03 in CIEDE2000.
const reached = 1e-3

// threes solves all threes that begin with the task's pair.
func (d *descent) threes(t task) {
	w := d.main
	enough := d.bound - d.work.constant
	solve := func(n int, start [MaxPerRecipe]float64) float64 {
		w.take(d.at[:n])
		w.opaque()
		f := w.solve(enough)
		c := w.c
		if f > reached {
			w.c = start
			if g := w.solve(enough); g < f {
				f, c = g, w.c
			}
		}
		if f > reached {
			w.even()
			if g := w.solve(enough); g < f {
				f, c = g, w.c
			}
		}
		w.c = c
		if f > enough { // where it gave up is no optimum
			f = w.solve(math.Inf(1))
		}
		return f
	}
	d.at[0], d.at[1] = t.first, t.second
	solve(2, [MaxPerRecipe]float64{0.006, 0.006})
	pair := w.c
	for k := t.second + 1; k < len(d.b.pigments); k++ {
		d.at[2] = k
		start := pair
		for i := range 3 {
			start[i] = math.Max(start[i], 0.006)
		}
		three := d.reach.of(t.first, t.second, k)
		three.value = math.Inf(1)
		three.f = solve(3, start)
		copy(three.c[:], w.c[:3])
		if three.f > reached {
			three.wants = w.wanted()
		}
	}
}

// wanted returns the pigments of which a little would lower f at c.
func (s *subset) wanted() (p pigments) {
	var slope [maxPigments]float64
	s.residuals(&s.c)
	s.slopes(&slope)
	for i := range s.b.pigments {
		if slope[i] < 0 {
			p.add(i)
		}
	}
	return p
}

// beyond reports whether the set d.at[:n] reaches no f of enough, by descent from
// l, the optimum of some of its pigments, which it moves to the set's own.
func (d *descent) beyond(n int, l *low, enough float64) bool {
	wanted := false
	for k, i := range d.at[:n] {
		wanted = wanted || l.c[k] == 0 && l.wants.has(i) // what it holds is at its best
	}
	if !wanted {
		return true
	}
	w := d.main
	w.take(d.at[:n])
	w.c = l.c
	f := w.solve(enough)
	if f < l.f && n < d.to { // for larger sets
		*l = low{f: f, c: w.c, wants: w.wanted()}
	}
	return f > enough
}
