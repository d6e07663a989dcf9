package main

import (
	"fmt"
	"slices"

	"masstone/recipes/figure"
)

// stored is what a command put on the bench so far, which stays there however the
// command ends.
type stored struct{ what []string }

func (e *Env) hasStored() bool { return e.stored != nil && len(e.stored.what) > 0 }

// noteStored hears what a verb stored.
func (e *Env) noteStored(what []string) {
	if e.stored != nil {
		e.stored.what = append(e.stored.what, what...)
	}
}

// wasStored says what of a command that did not end well is on the bench.
func (e *Env) wasStored() string {
	const most = 8
	if !e.hasStored() {
		return "nothing of this command was stored"
	}
	what := e.stored.what
	if more := len(what) - most; more > 0 {
		what = append(slices.Clone(what[:most]), fmt.Sprintf("%d more", more))
	}
	return "this was stored and stays, so do not repeat the command: " + figure.List(what)
}
