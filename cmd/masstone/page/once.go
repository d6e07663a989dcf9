package page

import (
	"context"
	"crypto/rand"
	"errors"
	"net/http"
	"strings"
	"sync"
	"time"
)

// once does what a form asks for once, however often the form is sent: by a
// double tap, or again because the answer was lost.
type once struct {
	mu   sync.Mutex
	done map[string]*outcome
	now  func() time.Time
}

// An outcome is that of a form, once ready is closed.
type outcome struct {
	ready chan struct{}
	to    string
	err   error
	left  bool // nobody waited for it any more, and it failed
	at    time.Time
}

// How long and how many outcomes are remembered.
const (
	remembered  = 24 * time.Hour
	mostForms   = 20000
	mostResults = 200
	mostFiles   = 8
)

func newOnce(now func() time.Time) *once { return &once{done: map[string]*outcome{}, now: now} }

// key is one of a form: 128 random bits.
func key() string { return rand.Text() }

var errNoKey = refusal{http.StatusBadRequest, "the form has no key; open its page again and send it from there"}

// do runs fn unless the form of the key was done or is being done, whose outcome
// it gives then. What failed may be done again; what was given up because its
// browser hung up, as one does at a double tap, is done for who still waits.
func (o *once) do(ctx context.Context, key string, fn func() (string, error)) (string, error) {
	if strings.HasSuffix(key, " ") || len(key) > 300 {
		return "", errNoKey
	}
	o.mu.Lock()
	for known, is := o.done[key]; is; known, is = o.done[key] {
		o.mu.Unlock()
		select {
		case <-known.ready:
		case <-ctx.Done():
			return "", ctx.Err()
		}
		if !known.left {
			return known.to, known.err
		}
		o.mu.Lock()
	}
	o.forget()
	mine := &outcome{ready: make(chan struct{}), at: o.now()}
	o.done[key] = mine
	o.mu.Unlock()
	mine.err = errors.New("it was not done; send the form again") // if fn panics
	defer func() {
		o.mu.Lock()
		if mine.err != nil {
			mine.left = ctx.Err() != nil
			delete(o.done, key)
		}
		o.mu.Unlock()
		close(mine.ready)
	}()
	mine.to, mine.err = fn()
	return mine.to, mine.err
}

// forget drops old outcomes.
func (o *once) forget() {
	if len(o.done) < mostForms {
		return
	}
	var oldest string
	for k, d := range o.done {
		if o.now().Sub(d.at) > remembered {
			delete(o.done, k)
		} else if oldest == "" || d.at.Before(o.done[oldest].at) {
			oldest = k
		}
	}
	if len(o.done) >= mostForms {
		delete(o.done, oldest)
	}
}

// results keeps what verbs answered that the bench itself does not keep, so that
// their pages can be shown again; the newest only.
type results struct {
	mu    sync.Mutex
	of    map[string]any
	order []string
	most  int
}

func newResults(most int) *results { return &results{of: map[string]any{}, most: most} }

// put keeps a result and gives its name.
func (r *results) put(v any) string {
	name := key()
	r.set(name, v)
	return name
}

// set keeps a result under a name.
func (r *results) set(name string, v any) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if _, is := r.of[name]; !is {
		r.order = append(r.order, name)
	}
	r.of[name] = v
	for len(r.order) > r.most {
		delete(r.of, r.order[0])
		r.order = r.order[1:]
	}
}

// result finds what was kept under a name.
func result[T any](r *results, name string) (T, bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	v, is := r.of[name].(T)
	return v, is
}
