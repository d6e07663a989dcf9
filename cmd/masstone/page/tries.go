package page

import (
	"sync"
	"time"
)

// tries are the wrong ones of whoever guesses, by address, "" for all.
type tries struct {
	mu      sync.Mutex
	of      map[string][]time.Time
	mostAll int
}

func newTries(mostAll int) *tries { return &tries{of: map[string][]time.Time{}, mostAll: mostAll} }

// may tells whether an address may try now, and counts the try as wrong until right
// says otherwise.
func (t *tries) may(address string, now time.Time) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	for at, tries := range t.of {
		for len(tries) > 0 && now.Sub(tries[0]) > triesWithin {
			tries = tries[1:]
		}
		if t.of[at] = tries; len(tries) == 0 {
			delete(t.of, at)
		}
	}
	if len(t.of[address]) >= mostTries || len(t.of[""]) >= t.mostAll {
		return false
	}
	t.of[address], t.of[""] = append(t.of[address], now), append(t.of[""], now)
	return true
}

// right takes back the tries of an address that knows what it was asked.
func (t *tries) right(address string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	delete(t.of, address)
	if all := t.of[""]; len(all) > 0 {
		t.of[""] = all[:len(all)-1]
	}
}
