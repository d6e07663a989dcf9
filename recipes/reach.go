package recipes

import "math"

// A reach is what every three pigments of a bench come to.
//
// A colour has three coordinates. Loadings of four or more pigments that give
// some colour lie on a curve or surface of loadings that give the same colour;
// followed to where a pigment runs out, it leaves one pigment fewer and the
// same f, and so on down to three. So the least f of a set, for its main colour
// alone and with no limit on loadings, is that of three of its pigments; more
// lights and limits only add to f. A set none of whose threes comes near
// enough is excluded without being solved.
//
// This is no proof. Each three is minimised from three starts, not everywhere;
// a curve of equal colour may close on itself, or run off to infinite loadings
// at both ends, before a pigment runs out; and a set is excluded only by doubt.
// Of the sets of four among 24 pigments that reach twelve targets, 3 in 1000
// were excluded so.
type reach struct {
	three []three
}

// A three is three pigments: the least f found for the main colour with no
// limit on loadings, and the loadings to start larger sets from. Value is the
// F of these, infinite where only f is known.
type three struct {
	f, value float64
	c        [3]float64
}

func newReach(pigments int) *reach { return &reach{make([]three, choose(pigments, 3))} }

// of returns the entry of positions i < j < k.
func (r *reach) of(i, j, k int) *three {
	return &r.three[k*(k-1)*(k-2)/6+j*(j-1)/2+i]
}

// least returns the least f of any three of a set, infinite for fewer.
func (r *reach) least(at []int) float64 {
	low := math.Inf(1)
	for n := 3; n <= len(at); n++ {
		low = math.Min(low, r.leastWith(at[:n]))
	}
	return low
}

// leastWith is least of the threes that hold the last pigment.
func (r *reach) leastWith(at []int) float64 {
	low := math.Inf(1)
	last := len(at) - 1
	for b := 1; b < last; b++ {
		for a := range b {
			low = math.Min(low, r.of(at[a], at[b], at[last]).f)
		}
	}
	return low
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
	solve := func(n int, start [MaxPerRecipe]float64) (float64, [MaxPerRecipe]float64) {
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
		return f, c
	}
	d.at[0], d.at[1] = t.first, t.second
	_, pair := solve(2, [MaxPerRecipe]float64{0.006, 0.006})
	for k := t.second + 1; k < len(d.b.pigments); k++ {
		d.at[2] = k
		start := pair
		for i := range 3 {
			start[i] = math.Max(start[i], 0.006)
		}
		three := d.reach.of(t.first, t.second, k)
		f, c := solve(3, start)
		three.f, three.value = f, math.Inf(1)
		copy(three.c[:], c[:3])
	}
}
