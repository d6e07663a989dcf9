package recipes

import (
	"context"
	"math"
	"runtime"
	"sort"
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

// A shortlist keeps the best subsets found.
type shortlist struct {
	keep  int
	items []found
}

func (l *shortlist) worst() float64 {
	if len(l.items) < l.keep {
		return math.Inf(1)
	}
	return l.items[len(l.items)-1].value
}

func (l *shortlist) add(f found) {
	if f.value >= l.worst() {
		return
	}
	if len(l.items) < l.keep {
		l.items = append(l.items, f)
	} else {
		l.items[len(l.items)-1] = f
	}
	for i := len(l.items) - 1; i > 0 && l.items[i].value < l.items[i-1].value; i-- {
		l.items[i], l.items[i-1] = l.items[i-1], l.items[i]
	}
}

// A search covers every subset of the bench.
type search struct {
	b        *bench
	fixed    int // leading pigments that every recipe holds
	keep     int
	makeWork func() *subset
	total    int
	progress func(done, total int)

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

// run covers all subsets on every core and returns the shortlist.
func (s *search) run(ctx context.Context) ([]found, error) {
	s.best.Store(math.Float64bits(math.Inf(1)))
	type task struct{ first, second int }
	tasks := make(chan task)
	workers := max(1, runtime.GOMAXPROCS(0))
	lists := make([]shortlist, workers)
	var wait sync.WaitGroup
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	for w := range workers {
		lists[w].keep = s.keep
		work := s.makeWork()
		wait.Go(func() {
			d := descent{search: s, work: work, list: &lists[w]}
			for t := range tasks {
				if ctx.Err() == nil {
					d.enter(t.first, t.second)
				}
			}
		})
	}
	n := len(s.b.pigments)
	done := 0
	push := func(t task) {
		select {
		case tasks <- t:
		case <-ctx.Done():
		}
		done++
		if s.progress != nil {
			s.progress(int(s.solved.Load()+s.excluded.Load()), s.total)
		}
	}
	if s.fixed > 0 {
		push(task{-1, -1})
		for i := s.fixed; i < n && s.b.size > s.fixed; i++ {
			push(task{i, -1})
		}
	} else {
		for i := range n {
			push(task{i, -1})
			for j := i + 1; j < n && s.b.size > 1; j++ {
				push(task{i, j})
			}
		}
	}
	close(tasks)
	wait.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	var all []found
	for _, l := range lists {
		all = append(all, l.items...)
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].value < all[j].value })
	return all, nil
}

// A descent is one worker's way through the subsets.
type descent struct {
	*search
	work *subset
	list *shortlist
	at   [MaxPerRecipe]int
}

// enter covers the subsets that begin with the fixed pigments, then first and
// second (-1 for none), and all larger ones that start so. A single pigment's
// own subset is covered without its descendants, which come as pairs.
func (d *descent) enter(first, second int) {
	n := 0
	for i := range d.fixed {
		d.at[n] = i
		n++
	}
	none := [MaxPerRecipe]float64{}
	if first < 0 {
		d.visit(n, none, false)
		return
	}
	d.at[n] = first
	n++
	if second < 0 {
		d.visit(n, none, d.fixed > 0)
		return
	}
	d.at[n] = second
	d.visit(n+1, none, true)
}

// opaque sets the work's loadings to a hiding mixture: its best scatterer at
// the loading that hides, the others as tints of it.
func (d *descent) opaque() {
	w, b := d.work, d.b
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

// visit solves the subset d.at[:n] from c and, if deep, all that extend it.
func (d *descent) visit(n int, c [MaxPerRecipe]float64, deep bool) {
	w := d.work
	w.take(d.at[:n])
	// A thin mixture on a light backing and a thick one may be ways apart, and
	// the thick one is usually the surer. It is tried where others will start
	// from here and where the parent's way is thin; the parent's way where that
	// misses.
	bound := d.limit()
	enough := bound - w.constant
	f := math.Inf(1)
	here := c
	leaf := !deep || n >= d.b.size
	if !leaf || !w.hides(&c) {
		d.opaque()
		f = w.solve(enough)
		here = w.c
	}
	if f > enough {
		w.c = c
		if g := w.solve(enough); g < f {
			f, here = g, w.c
		}
		w.c = here
	}
	value := 0.0
	inside := f <= enough // F is at least f and what the target's own reading adds
	if !inside {
		d.excluded.Add(1)
	} else {
		value = w.slide(bound)
		d.keepBest(n, f, value)
		here = w.c
	}
	if !deep || n >= d.b.size {
		return
	}
	var slope [maxPigments]float64
	stuck := !inside && w.extras() == 0
	if stuck {
		// f is stationary here: a pigment that would raise it from nothing
		// stays out, and the larger subset's optimum is this one's
		w.residuals(&here)
		w.slopes(&slope)
	}
	last := d.at[n-1]
	for next := last + 1; next < len(d.b.pigments); next++ {
		if stuck && slope[next] >= 0 && d.b.lo[next] == 0 && n+1 == d.b.size {
			d.excluded.Add(1)
			continue
		}
		d.at[n] = next
		child := here
		if inside && n+1 == d.b.size && d.b.lo[next] == 0 {
			// a little of it, the colour kept: if that is no better than none,
			// the larger subset's optimum is this one's
			w.take(d.at[:n+1])
			w.c = child
			w.c[n] = 0.015
			w.clamp(&w.c)
			w.correct()
			if w.expected(&w.c) >= value {
				d.solved.Add(1)
				continue
			}
			child = w.c
		}
		child[n] = math.Max(child[n], math.Max(d.b.lo[next], 0.006))
		d.visit(n+1, child, true)
	}
}

// limit is what F must beat to be worth keeping.
func (d *descent) limit() float64 { return math.Min(near(d.bound()), d.list.worst()) }

func (d *descent) keepBest(n int, f, v float64) {
	d.solved.Add(1)
	d.lower(v)
	item := found{n: n, value: v, f: f, c: d.work.c}
	copy(item.at[:], d.at[:n])
	d.list.add(item)
}
