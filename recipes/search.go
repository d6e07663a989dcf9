package recipes

import (
	"context"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
)

// A found is a solved subset: its pigments as positions in the bench, its
// loadings and F.
type found struct {
	n     int
	at    [MaxPerRecipe]int
	c     [MaxPerRecipe]float64
	value float64
	f     float64
}

// A shortlist keeps the best sets found, each once: a pigment that a recipe
// holds none of makes no set of its own.
type shortlist struct {
	keep  int
	mutex sync.Mutex
	items []found
	worst atomic.Uint64 // bits of the F that a newcomer must beat
}

func (l *shortlist) limit() float64 { return math.Float64frombits(l.worst.Load()) }

func (l *shortlist) add(f found) {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	if f.value >= l.limit() {
		return
	}
	i := slices.IndexFunc(l.items, func(g found) bool { return g.at == f.at })
	switch {
	case i >= 0 && l.items[i].value <= f.value:
		return
	case i >= 0:
		l.items[i] = f
	case len(l.items) < l.keep:
		l.items = append(l.items, f)
		i = len(l.items) - 1
	default:
		i = len(l.items) - 1
		l.items[i] = f
	}
	for ; i > 0 && l.items[i].value < l.items[i-1].value; i-- {
		l.items[i], l.items[i-1] = l.items[i-1], l.items[i]
	}
	if len(l.items) == l.keep {
		l.worst.Store(math.Float64bits(l.items[l.keep-1].value))
	}
}

// A search covers every subset of the bench.
type search struct {
	b         *bench
	fixed     int // leading pigments that every recipe holds
	makeWork  func() *subset
	makeReach func() *subset
	total     int
	progress  func(done, total int)

	list     shortlist
	reach    *reach
	best     atomic.Uint64 // bits of the best F so far
	solved   atomic.Int64  // subsets whose F was minimised
	excluded atomic.Int64  // subsets whose f alone already exceeds the best F
}

func (s *search) bound() float64 { return math.Float64frombits(s.best.Load()) }

func (s *search) lower(v float64) {
	for {
		old := s.best.Load()
		if v >= math.Float64frombits(old) || s.best.CompareAndSwap(old, math.Float64bits(v)) {
			return
		}
	}
}

// near is how much worse than the best F a subset may be and still be worth
// telling: it may be cheaper, or hold fewer pigments.
func near(best float64) float64 { return 2.2*best + 0.15 }

// A task is the start of the subsets that one worker covers in one go; -1 for
// no pigment.
type task struct{ first, second int }

// run covers all subsets on every core and returns the shortlist. Small sets
// come first: they show what larger ones can reach, and good recipes found
// early spare the walks of poor ones.
func (s *search) run(ctx context.Context, keep int) ([]found, error) {
	s.best.Store(math.Float64bits(math.Inf(1)))
	s.list.keep = keep
	s.list.worst.Store(math.Float64bits(math.Inf(1)))
	s.reach = newReach(len(s.b.pigments))
	n := len(s.b.pigments)
	var singles, pairs []task
	for i := range n {
		singles = append(singles, task{i, -1})
		for j := i + 1; j < n; j++ {
			pairs = append(pairs, task{i, j})
		}
	}
	starts := pairs
	if s.fixed > 0 {
		starts = append([]task{{-1, -1}}, singles[s.fixed:]...)
		singles = nil
	}
	workers := make([]*descent, max(1, runtime.GOMAXPROCS(0)))
	for i := range workers {
		workers[i] = &descent{search: s, work: s.makeWork(), main: s.makeReach()}
	}
	if s.fixed == 0 {
		s.each(ctx, workers, singles, func(d *descent, t task) { d.enter(t, 1, 1) })
	}
	for _, sizes := range [][2]int{{1, 2}, {3, 3}, {4, s.b.size}} {
		from, to := sizes[0], min(sizes[1], s.b.size)
		if from > to {
			break
		}
		if from == 3 {
			s.each(ctx, workers, pairs, (*descent).triples)
		}
		s.each(ctx, workers, starts, func(d *descent, t task) { d.enter(t, from, to) })
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return s.list.items, nil
}

// each shares tasks out among workers.
func (s *search) each(ctx context.Context, workers []*descent, tasks []task, do func(*descent, task)) {
	var wait sync.WaitGroup
	var next atomic.Int64
	for _, d := range workers {
		wait.Go(func() {
			for ctx.Err() == nil {
				i := int(next.Add(1)) - 1
				if i >= len(tasks) {
					return
				}
				do(d, tasks[i])
			}
		})
	}
	wait.Wait()
}

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
		d.visit(n, nowhere, d.reach.least(d.at[:n]))
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

// visit covers the set d.at[:n] and all that extend it: from is where its first
// n-1 pigments lead, low the least f that any three of its pigments reach.
func (d *descent) visit(n int, from way, low float64) {
	here := from
	switch {
	case n >= d.from:
		here = d.cover(n, from, low)
	case n == 3:
		here = d.reach.way(d.at[:n])
	}
	if n >= d.to {
		return
	}
	last := d.at[n-1]
	for next := last + 1; next < len(d.b.pigments); next++ {
		d.at[n] = next
		d.visit(n+1, here, math.Min(low, d.reach.leastWith(d.at[:n+1])))
	}
}

// little is how much of a pigment is tried to see whether it helps, in phr.
const little = 0.015

// cover minimises F over the set d.at[:n], or excludes it, and returns the way
// that larger sets start from.
func (d *descent) cover(n int, from way, low float64) way {
	w := d.work
	w.take(d.at[:n])
	bound := d.limit()
	enough := bound - w.constant
	if n >= 3 && low > enough {
		d.excluded.Add(1)
		return nowhere
	}
	start := d.reach.best(d.at[:n], from)
	first := start.c // with some of each
	for k := range n {
		first[k] = math.Max(first[k], math.Max(w.lo[k], 0.006))
	}
	if n > 4 && !math.IsInf(start.value, 1) {
		// a little of what it lacks, the colour kept: if that is no better than
		// none, the larger set's optimum is this one's
		absent := false
		w.c = start.c
		for k := range n {
			if w.c[k] == 0 {
				w.c[k] = little
				absent = w.lo[k] == 0
			}
		}
		w.clamp(&w.c)
		w.correct()
		if absent && w.expected(&w.c) >= start.value {
			d.solved.Add(1)
			return start
		}
		first = w.c
	}
	// A thin mixture on a light backing and a thick one may be ways apart, and
	// the thick one is usually the surer.
	thin := !w.hides(&first)
	here, f := nowhere, math.Inf(1)
	try := func() {
		g := w.solve(enough)
		f = math.Min(f, g)
		if g > enough {
			return
		}
		if v := w.slide(bound); v < here.value {
			here = way{c: w.c, value: v}
			d.keepBest(n, g, v)
		}
	}
	w.c = first
	if n >= 3 {
		try()
	}
	if n <= 4 || thin || f > enough {
		w.opaque()
		try()
	}
	if f > enough && n < 3 {
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

// limit is what F must beat to be worth keeping.
func (d *descent) limit() float64 { return math.Min(near(d.bound()), d.list.limit()) }

func (d *descent) keepBest(n int, f, v float64) {
	d.lower(v)
	if v >= d.list.limit() {
		return
	}
	item := found{n: n, value: v, f: f, c: d.work.c}
	copy(item.at[:], d.at[:n])
	d.list.add(d.b.stripped(item))
}
