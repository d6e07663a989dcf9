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
	mu    sync.Mutex
	what  []string
	wrote []string // files that are complete
}

// soFar is what was stored and which files were written; of no command, nothing.
func (s *stored) soFar() (what, wrote []string) {
	if s == nil {
		return nil, nil
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.what), slices.Clone(s.wrote)
}

// add notes what is on the bench and which files are complete.
func (s *stored) add(what, wrote []string) {
	if s == nil {
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.what = append(s.what, what...)
	for _, file := range wrote {
		if !slices.Contains(s.wrote, file) {
			s.wrote = append(s.wrote, file)
		}
	}
}

func (e *Env) hasStored() bool {
	what, _ := e.stored.soFar()
	return len(what) > 0
}

// noteStored hears what a verb stored.
func (e *Env) noteStored(what []string) { e.stored.add(what, nil) }

// noteWritten hears of a file that was written whole.
func (e *Env) noteWritten(name string) { e.stored.add(nil, []string{title(name)}) }

// wasStored says what of a command that did not end well is on the bench, and
// which files it wrote.
func (e *Env) wasStored() string {
	const most = 8
	what, files := e.stored.soFar()
	if len(what) == 0 && len(files) == 0 {
		return "nothing of this command was stored"
	}
	if len(what) == 0 {
		return "nothing of this command was stored on the bench, but this was written and is complete: " + figure.List(files)
	}
	if more := len(what) - most; more > 0 {
		what = append(what[:most], fmt.Sprintf("%d more", more))
	}
	text := "this was stored and stays, so do not repeat the command: " + figure.List(what)
	if len(files) > 0 {
		text += "; written and complete: " + figure.List(files)
	}
	return text
}
