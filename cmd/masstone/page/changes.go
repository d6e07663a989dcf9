package page

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"sync"
	"sync/atomic"
	"time"

	"masstone/color/legible"
	"masstone/recipes/archive"
	"masstone/recipes/workbench"
)

const changesPath = "/changes"

// How often the log is looked at while a page is open: where nobody tells of changes,
// and where somebody does. How long after listening failed it is tried again. And how
// many pages may be open.
const (
	lookEvery     = 700 * time.Millisecond
	lookSeldom    = 5 * time.Second
	listenAgain   = 2 * time.Second
	mostListeners = 200
)

// changes tells open pages what is stored on the bench, by whomever: other
// people here, or commands at a terminal.
type changes struct {
	s         *Server
	mu        sync.Mutex
	listeners map[chan archive.LogLine]bool
	looking   bool
	told      chan struct{} // the bench said that something changed
	ended     chan struct{}
	over      sync.Once

	every, seldom, again time.Duration
}

func newChanges(s *Server) *changes {
	return &changes{s: s, listeners: map[chan archive.LogLine]bool{}, told: make(chan struct{}, 1), ended: make(chan struct{}),
		every: lookEvery, seldom: lookSeldom, again: listenAgain}
}

func (c *changes) end() { c.over.Do(func() { close(c.ended) }) }

// newest is the number of the newest line of the log.
func (c *changes) newest(ctx context.Context) (int64, error) {
	lines, err := workbench.Log(ctx, c.s.o.Bench, workbench.LogRequest{Limit: 1})
	if err != nil || len(lines.Log) == 0 {
		return 0, err
	}
	return lines.Log[0].ID, nil
}

// join adds a listener that says up to which line it knows the log; nil if there are
// too many.
func (c *changes) join(known int64) chan archive.LogLine {
	c.mu.Lock()
	defer c.mu.Unlock()
	if len(c.listeners) >= mostListeners {
		return nil
	}
	l := make(chan archive.LogLine, 64)
	c.listeners[l] = true
	if !c.looking {
		c.looking = true
		c.s.jobs.Add(1)
		go c.look(known)
	}
	return l
}

func (c *changes) leave(l chan archive.LogLine) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if delete(c.listeners, l); len(c.listeners) == 0 {
		c.wake()
	}
}

// wake has the log looked at now.
func (c *changes) wake() {
	select {
	case c.told <- struct{}{}:
	default:
	}
}

// watch has the bench itself say when something changed, where it can, and marks
// while it does.
func (c *changes) watch(ctx context.Context, watched *atomic.Bool) {
	for ctx.Err() == nil {
		err := workbench.Watch(ctx, c.s.o.Bench, func() {
			watched.Store(true)
			c.wake()
		})
		watched.Store(false)
		c.wake() // and from now on it is looked at more often
		if errors.Is(err, errors.ErrUnsupported) {
			return
		}
		select {
		case <-ctx.Done():
		case <-time.After(c.again):
		}
	}
}

// look follows the log from a line on, while anybody listens.
func (c *changes) look(seen int64) {
	defer c.s.jobs.Done()
	ctx, end := context.WithCancel(c.s.ctx)
	var watching sync.WaitGroup
	var watched atomic.Bool
	watching.Go(func() { c.watch(ctx, &watched) })
	defer watching.Wait()
	defer end()
	for {
		c.mu.Lock()
		if len(c.listeners) == 0 || c.s.ctx.Err() != nil {
			c.looking = false
			c.mu.Unlock()
			return
		}
		c.mu.Unlock()
		pause := c.every
		if watched.Load() {
			pause = c.seldom
		}
		select {
		case <-time.After(pause):
		case <-c.told:
		case <-c.s.ctx.Done():
			continue
		}
		now, err := c.newest(c.s.ctx)
		if err != nil {
			continue
		}
		seen = min(seen, now) // whoever listened first may say anything
		if now == seen {
			continue
		}
		lines, err := workbench.Log(c.s.ctx, c.s.o.Bench, workbench.LogRequest{Limit: int(min(now-seen, 50))})
		if err != nil {
			continue
		}
		seen = now
		c.mu.Lock()
		for l := range c.listeners {
			for _, line := range lines.Log {
				select {
				case l <- line:
				default: // it does not read; the next line it hears will do
				}
			}
		}
		c.mu.Unlock()
	}
}

// serve is the stream of changes to a page.
func (c *changes) serve(w http.ResponseWriter, r *http.Request) {
	known, _ := strconv.ParseInt(r.FormValue("after"), 10, 64)
	l := c.join(known)
	if l == nil {
		http.Error(w, "too many pages are open", http.StatusServiceUnavailable)
		return
	}
	defer c.leave(l)
	control := http.NewResponseController(w)
	_ = control.SetWriteDeadline(time.Time{}) // it lasts as long as the page
	_ = control.SetReadDeadline(time.Time{})
	w.Header().Set("Content-Type", "text/event-stream")
	say := func(format string, a ...any) bool {
		_, err := fmt.Fprintf(w, format, a...)
		return err == nil && control.Flush() == nil
	}
	if !say("retry: 2000\n\n") {
		return
	}
	// what was stored between the page and this
	if lines, err := workbench.Log(r.Context(), c.s.o.Bench, workbench.LogRequest{Limit: 1}); err == nil && len(lines.Log) > 0 && lines.Log[0].ID > known && !say("data: %s\n\n", told(lines.Log[0])) {
		return
	}
	left := c.s.ended(r)
	beat := time.NewTicker(20 * time.Second)
	defer beat.Stop()
	for {
		select {
		case line := <-l:
			if !say("data: %s\n\n", told(line)) {
				return
			}
		case <-left:
			return
		case <-beat.C:
			left = c.s.ended(r) // by its age too
			if !say(": still here\n\n") {
				return
			}
		case <-r.Context().Done():
			return
		case <-c.ended:
			return
		case <-c.s.ctx.Done():
			return
		}
	}
}

// told is a line of the log as pages hear it.
func told(l archive.LogLine) []byte {
	text, err := json.Marshal(struct {
		ID   int64  `json:"id"`
		Text string `json:"text"`
	}{l.ID, legible.Text(fmt.Sprintf("%s: %s %s", l.Who, l.Verb, l.Subject))})
	if err != nil {
		return []byte("{}")
	}
	return text
}
