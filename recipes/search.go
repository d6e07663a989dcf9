package recipes

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// A search covers every subset of the bench.
type search struct {
	b         *bench
	fixed     int // leading pigments that every recipe holds
	makeWork  func() *subset
	makeReach func() *subset
	total     int
	progress  func(done, total int)

	list     shortlist
	bound    float64 // what F must beat, as it was when the round began
	reach    *reach
	solved   atomic.Int64 // subsets whose F was minimised
	excluded atomic.Int64 // subsets whose f alone already exceeds the bound
}

// A task is the start of the subsets that one worker covers in one go; -1 for
// no pigment.
type task struct{ first, second int }

// run covers all subsets on every core and returns the shortlist. Small sets
// come first: they show what larger ones can reach, and good recipes found
// early spare the walks of poor ones.
func (s *search) run(ctx context.Context, keep int) ([]found, error) {
	s.list.keep = keep
	n := len(s.b.pigments)
	s.reach = newReach(n)
	workers := make([]*descent, max(1, runtime.GOMAXPROCS(0)))
	for i := range workers {
		workers[i] = &descent{search: s, work: s.makeWork(), main: s.makeReach()}
	}
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
	} else {
		s.each(ctx, workers, singles, func(d *descent, t task) { d.enter(t, 1, 1) })
	}
	for _, sizes := range [][2]int{{1, 2}, {3, 3}, {4, s.b.size}} {
		from, to := sizes[0], min(sizes[1], s.b.size)
		if from > to {
			break
		}
		if from == 3 {
			s.each(ctx, workers, pairs, (*descent).threes)
		}
		s.each(ctx, workers, starts, func(d *descent, t task) { d.enter(t, from, to) })
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return s.list.items, nil
}

// A round of tasks is done before the bound is looked at again, more of them
// as it moves less. It does not follow who is done first, so that the same
// match gives the same recipes on any number of cores.
const firstRound, lastRound = 2, 32

// each shares tasks out among workers.
func (s *search) each(ctx context.Context, workers []*descent, tasks []task, do func(*descent, task)) {
	for round := firstRound; len(tasks) > 0 && ctx.Err() == nil; round = min(round+2, lastRound) {
		now := tasks[:min(round, len(tasks))]
		tasks = tasks[len(now):]
		s.bound = s.list.limit()
		var wait sync.WaitGroup
		var next atomic.Int64
		for _, d := range workers {
			wait.Go(func() {
				for ctx.Err() == nil {
					i := int(next.Add(1)) - 1
					if i >= len(now) {
						return
					}
					do(d, now[i])
				}
			})
		}
		wait.Wait()
		if s.progress != nil {
			s.progress(int(s.solved.Load()+s.excluded.Load()), s.total)
		}
	}
}
