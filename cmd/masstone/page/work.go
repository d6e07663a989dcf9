package page

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"sync"

	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

// A work is something long that goes on in the background: its page shows how far
// it is, and it can be cancelled.
type work struct {
	what   string
	bench  *workbench.Bench
	ctx    context.Context
	cancel context.CancelFunc

	mu    sync.Mutex
	step  string
	share string
	to    string // where the result is, once it is there
	err   error
	ended chan struct{}
}

// begin begins a work and gives its page.
func (s *Server) begin(q *ask, what string, do func(*work) (string, error)) string {
	w := &work{what: what, step: "begins", ended: make(chan struct{})}
	w.ctx, w.cancel = context.WithCancel(s.ctx)
	w.bench = s.o.Bench.With(workbench.Options{Now: s.stamps, Who: q.who, Program: s.o.Program + ", page from " + from(q.Request), Progress: w.hear})
	s.jobs.Add(1)
	go func() {
		defer s.jobs.Done()
		defer w.cancel()
		defer close(w.ended)
		defer func() {
			if fault := recover(); fault != nil {
				s.o.Log("%s: internal fault (%v); please report this line", what, fault)
				w.end("", fmt.Errorf("internal fault; nothing of this was stored. Please report what you did"))
			}
		}()
		done, err := calculating(w.ctx, s.long)
		if err != nil {
			w.end("", err)
			return
		}
		defer done()
		w.end(do(w))
	}()
	return "/work/" + s.kept.put(w)
}

func (w *work) hear(p workbench.Progress) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if p.Step != "" {
		w.step, w.share = p.Step, ""
	}
	if p.Total > 0 {
		w.share = fmt.Sprintf("%d of %s", p.Done, figure.Short(float64(p.Total)))
	}
}

func (w *work) end(to string, err error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.to, w.err = to, err
}

// progress is how far it is.
func (w *work) progress() (step, share, to string, err error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.step, w.share, w.to, w.err
}

func (s *Server) workPages() {
	s.get("/work/{id}", func(q *ask) (view, error) {
		w, is := result[*work](s.kept, q.PathValue("id"))
		if !is {
			return view{}, errGone
		}
		step, share, to, err := w.progress()
		switch {
		case to != "":
			return view{"moved", w.what, to}, nil
		case err != nil && w.ctx.Err() != nil && s.ctx.Err() == nil && context.Cause(w.ctx) != nil && isCancelled(err):
			return view{"failed", w.what, []string{"It was cancelled; nothing was stored."}}, nil
		case err != nil:
			return view{}, err
		}
		return view{"work", w.what, struct {
			What, Step, Share string
			Cancel            form
		}{w.what, step, share, button("/work/"+q.PathValue("id")+"/cancel", "Cancel it")}}, nil
	})
	s.post("/work/{id}/cancel", action{nil, func(q *ask) (string, error) {
		w, is := result[*work](s.kept, q.PathValue("id"))
		if !is {
			return "", errGone
		}
		w.cancel()
		select {
		case <-w.ended:
		case <-q.Context().Done():
		}
		return "/work/" + q.PathValue("id"), nil
	}})
}

func isCancelled(err error) bool { return errors.Is(err, context.Canceled) }

// noSheet is a batch that has lines but no sheet.
func noSheet(batch string) error {
	return refusal{http.StatusNotFound, fmt.Sprintf("batch %s has no sheet of its own: it was drawn from a stock or added to a pot", batch)}
}
