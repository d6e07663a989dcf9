package recipes

import "math"

// A descent is one worker's way through the subsets.
type descent struct {
	*search
	work     *subset
	main     *subset // for reach
	at       [MaxPerRecipe]int
	from, to int // sizes of the sets to cover
}

// A way is loadings of a set to start larger sets from, with their F: infinite
// where none within the bound is known.
type way struct {
	c     [MaxPerRecipe]float64
	value float64
}

var nowhere = way{value: math.Inf(1)}

// enter covers the subsets of from to to pigments that begin with the fixed
// pigments, then the task's. A single pigment's own subset is covered without
// its descendants, which come as pairs.
func (d *descent) enter(t task, from, to int) {
	d.from, d.to = from, to
	n := 0
	for i := range d.fixed {
		d.at[n] = i
		n++
	}
	if t.first >= 0 {
		d.at[n] = t.first
		n++
	}
	if t.second >= 0 {
		d.at[n] = t.second
		n++
	}
	if t.first < 0 || t.second < 0 && d.fixed == 0 {
		d.to = min(to, n)
	}
	if n > 0 && n <= d.to {
		l := low{f: math.Inf(1)}
		for k := 3; k <= n; k++ {
			l = d.reach.lowest(d.at[:k], l)
		}
		d.visit(n, nowhere, l)
	}
}

// opaque sets the loadings to a hiding mixture: its best scatterer at the
// loading that hides, the others as tints of it.
func (w *subset) opaque() {
	b := w.b
	best := 0
	for k := range w.n {
		if b.scatter[w.at[k]]*b.cover[w.at[k]] > b.scatter[w.at[best]]*b.cover[w.at[best]] {
			best = k
		}
	}
	s := b.scatter[w.at[best]] * b.cover[w.at[best]]
	for k := range w.n {
		w.c[k] = 0.1 * s / math.Max(b.absorb[w.at[k]], 1e-6)
	}
	w.c[best] = b.cover[w.at[best]]
}

// near reports whether the loadings are nearly those of a solution before.
func (w *subset) near(c *[MaxPerRecipe]float64) bool {
	for k := range w.n {
		if math.Abs(w.c[k]-c[k]) > 0.03*c[k]+0.003 {
			return false
		}
	}
	return true
}

// even sets the loadings alike.
func (w *subset) even() {
	for k := range w.n {
		w.c[k] = 0.3
	}
}

// visit covers the set d.at[:n] and all that extend it: from is where its first
// n-1 pigments lead, l the optimum of some of its pigments for the colour alone.
func (d *descent) visit(n int, from way, l low) {
	here := from
	switch {
	case n >= d.from:
		here = d.cover(n, from, &l)
	case n == 3:
		here = d.reach.way(d.at[:n])
	}
	if n >= d.to {
		return
	}
	last := d.at[n-1]
	for next := last + 1; next < len(d.b.pigments); next++ {
		d.at[n] = next
		d.visit(n+1, here, d.reach.lowest(d.at[:n+1], l))
	}
}

// little is how much of a pigment is tried to see whether it helps, in phr, and
// what a walk counts as a loading beside none.
const little = 0.05

// within is how near, in f, a set must come to the bound to be tried from more
// than one start: 1.0 in CIEDE2000.
const within = 1.0

// cover minimises F over the set d.at[:n], or excludes it because the least f it
// reaches leaves no room, and returns the way that larger sets start from.
//
// Minima are found by descent from a few starts: a set may hold a better recipe
// than the search knows where a descent ends in another dip than the lowest,
// where solve or nullSpaceWalk gives up because a step no longer gains enough to come
// below the bound, and, of five pigments or more, where a little of a pigment
// does not pay but much would. How often that costs anything is measured, not
// known: TestStudyPlainWay.
func (d *descent) cover(n int, from way, l *low) way {
	w := d.work
	enough := d.bound - w.constant
	if n >= 3 && l.f > enough+within && math.IsInf(from.value, 1) && (n == 3 || d.beyond(n, l, enough)) {
		d.excluded.Add(1)
		return nowhere
	}
	w.take(d.at[:n])
	start := d.reach.best(d.at[:n], from)
	first := start.c // with some of each
	for k := range n {
		first[k] = math.Max(first[k], math.Max(w.lo[k], 0.006))
	}
	if n > 4 && !math.IsInf(start.value, 1) {
		// a little of what it lacks, the colour kept: if that is no better than
		// none, the larger set's optimum is taken for this one's. What weighing
		// costs however little there is of it, more of it may earn: it counts
		// only where F is far from the bound.
		w.c = start.c
		if start.value > 5*d.bound && w.hides(&w.c) {
			d.solved.Add(1)
			return start // nullSpaceWalk would give it up
		}
		for k := range n {
			if w.c[k] == 0 {
				w.c[k] = little
			}
		}
		w.clamp(&w.c)
		v := w.correct()
		absent := false
		for k := range n {
			if start.c[k] == 0 {
				absent = w.lo[k] == 0
				if start.value < 1.2*d.bound {
					v -= w.misweighed(k)
				}
			}
		}
		if absent && v >= start.value {
			d.solved.Add(1)
			return start
		}
		first = w.c
	}
	// A thin mixture on a light backing and a thick one may be ways apart, and
	// the thick one is usually the surer.
	thin := !w.hides(&first)
	here, f := nowhere, math.Inf(1)
	last := [MaxPerRecipe]float64{-1} // no loadings
	try := func() {
		g := w.solve(enough)
		f = math.Min(f, g)
		if g > enough || w.near(&last) {
			return
		}
		last = w.c
		v := w.nullSpaceWalk(d.bound)
		d.keepBest(n, g, v) // each dip: it may hold other pigments
		if v < here.value {
			here = way{c: w.c, value: v}
			w.walkEnd = w.c
		}
	}
	// Sets of one, two or four pigments are few and others grow from them: they
	// are tried from everywhere. Those of three have been already, in reach.
	few := n <= 4 && n != 3
	w.c = first
	if n >= 3 {
		try()
	}
	if few || thin || f > enough {
		w.opaque()
		try()
	}
	if few {
		w.even()
		try()
	}
	if n < 3 && f > enough {
		w.c = first
		try()
	}
	if f > enough { // F is at least f and what the target's own reading adds
		d.excluded.Add(1)
		return nowhere
	}
	d.solved.Add(1)
	if n == 3 {
		d.reach.set(d.at[:n], here.c, here.value)
	}
	if start.value < here.value {
		return start
	}
	return here
}

// keepBest notes a recipe of the set d.at[:n].
func (d *descent) keepBest(n int, f, v float64) {
	if v >= d.bound {
		return
	}
	item := found{n: n, value: v, f: f, c: d.work.c}
	copy(item.at[:], d.at[:n])
	d.list.add(d.b.stripped(item))
}
