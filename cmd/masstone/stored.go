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

// noteWritten hears of a file that was written whole.
func (e *Env) noteWritten(name string) {
	if e.stored == nil {
		return
	}
	e.stored.mu.Lock()
	defer e.stored.mu.Unlock()
	e.stored.wrote = append(e.stored.wrote, title(name))
}

// files are what was written so far.
func (s *stored) files() []string {
	if s == nil {
		return nil
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.wrote)
}

// wasStored says what of a command that did not end well is on the bench, and
// which files it wrote.
func (e *Env) wasStored() string {
	const most = 8
	what, files := e.stored.list(), e.stored.files()
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
