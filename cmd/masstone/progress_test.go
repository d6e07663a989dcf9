package main

import (
	"bytes"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"masstone/recipes/workbench"
)

// What long work is at is shown after a second even where it is at one thing for long, of
// short work nothing, and where there is no terminal nothing either.
func TestProgressOfOneLongStep(t *testing.T) {
	for _, c := range []struct {
		live  bool
		takes time.Duration
		shown bool
	}{{true, 2 * quiet, true}, {true, quiet / 2, false}, {false, 2 * quiet, false}} {
		synctest.Test(t, func(t *testing.T) {
			var out display
			p := (&Env{Stderr: &out, Live: c.live}).progress()
			p.hear(workbench.Progress{Step: "finding the curves"})
			time.Sleep(c.takes)
			p.end()
			time.Sleep(quiet) // nothing is drawn after the end, and the bar's own clock stops
			if c.shown {
				require.Contains(t, out.String(), "finding the curves")
			} else {
				require.Empty(t, out.String())
			}
		})
	}
}

// A display is written to by whoever draws the bar.
type display struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (s *display) Write(b []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.Write(b)
}

func (s *display) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.String()
}
