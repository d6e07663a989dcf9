package main

import (
	"fmt"
	"slices"
	"sync"

	"masstone/recipes/figure"
)

// stored is what a command put on the bench so far, which stays there however the
// command ends. What ends a command may ask from another goroutine.
type stored struct {
	mu   sync.Mutex
	what []string
}

// list is what was stored so far; of no command, nothing.
func (s *stored) list() []string {
	if s == nil {
		return nil
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.what)
}

func (e *Env) hasStored() bool { return len(e.stored.list()) > 0 }

// noteStored hears what a verb stored.
func (e *Env) noteStored(what []string) {
	if e.stored == nil {
		return
	}
	e.stored.mu.Lock()
	defer e.stored.mu.Unlock()
	e.stored.what = append(e.stored.what, what...)
}

// wasStored says what of a command that did not end well is on the bench.
func (e *Env) wasStored() string {
	const most = 8
	what := e.stored.list()
	if len(what) == 0 {
		return "nothing of this command was stored"
	}
	if more := len(what) - most; more > 0 {
		what = append(what[:most], fmt.Sprintf("%d more", more))
	}
	return "this was stored and stays, so do not repeat the command: " + figure.List(what)
}
