// Package page is the bench in a browser, the second face of the verbs of
// recipes/workbench: a form becomes a request, a verb answers it, its result
// becomes a page. It decides nothing about colour.
//
// Pages are plain HTML with forms and work without scripts; small scripts make
// sliders live, count a pot life down and tell what others change. Everything is
// part of the program and nothing is asked of the network.
//
//	guard    hosts, sizes, times, headers            guard.go
//	gate     passcode, sessions, names of people     gate.go
//	once     a form that is sent twice counts once   once.go
//	ask      what a form says, as a request          ask.go, form.go
//	words    what verbs advise, named as pages do    words.go
//	changes  what others change, as it happens       changes.go
package page

import (
	"context"
	"crypto/tls"
	"errors"
	"log"
	"net"
	"net/http"
	"runtime"
	"strings"
	"sync"
	"time"

	"masstone/color/readings"
	"masstone/recipes/workbench"
)

// Options of a server.
type Options struct {
	Bench   *workbench.Bench // open
	Program string           // name and version of the program, for the log
	Who     string           // who is at the bench where nobody says a name
	Shop    []string         // who makes papers: name, then lines of the address
	Hosts   []string         // names and addresses it may be asked for by, without a port
	Now     func() time.Time // time.Now if nil, and for stamps the clock of where the bench is
	// Passcode lets people in who are elsewhere; empty where only this machine
	// reaches the server.
	Passcode string
	TLS      *tls.Config                   // nil for plain HTTP
	Log      func(format string, a ...any) // hears of faults; nil for nobody

	memory uint32 // of a try of the passcode, KiB; 0 for what is safe
}

// A Server answers for one bench.
type Server struct {
	o       Options
	stamps  func() time.Time // clock of what is stored, nil for that of where the bench is
	mux     *http.ServeMux
	handler http.Handler
	gate    *gate
	guesses *tries // at links of clients
	once    *once
	kept    *results
	files   *results
	changes *changes
	jobs    sync.WaitGroup
	heavy   chan struct{} // a place for each calculation that somebody waits for
	long    chan struct{} // a place for each work in the background
	ctx     context.Context
	stop    context.CancelFunc
}

// New makes a server. Close ends what it began.
func New(o Options) (*Server, error) {
	stamps := o.Now
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = func(string, ...any) {}
	}
	s := &Server{o: o, stamps: stamps, mux: http.NewServeMux(), once: newOnce(o.Now), kept: newResults(mostResults), files: newResults(mostFiles),
		heavy: make(chan struct{}, max(1, runtime.GOMAXPROCS(0))), long: make(chan struct{}, max(1, runtime.GOMAXPROCS(0)/2))}
	s.ctx, s.stop = context.WithCancel(context.Background())
	s.changes = newChanges(s)
	s.guesses = newTries(mostGuessesAll)
	if o.Passcode != "" {
		g, err := newGate(s, o.Passcode)
		if err != nil {
			return nil, err
		}
		s.gate = g
	}
	s.routes()
	s.handler = s.guard(s.entry(s.mux))
	return s, nil
}

// ServeHTTP answers a request.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.handler.ServeHTTP(w, r) }

// Close stops what is under way in the background and waits for it: a verb ends
// or is rolled back.
func (s *Server) Close() {
	s.stop()
	s.jobs.Wait()
}

// Serve answers on a listener until the context is done, then lets the requests
// under way end.
func (s *Server) Serve(ctx context.Context, on net.Listener) error {
	h := &http.Server{Handler: s, ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 2 * time.Minute, WriteTimeout: 2 * time.Minute, IdleTimeout: 2 * time.Minute,
		MaxHeaderBytes: 32 << 10, TLSConfig: s.o.TLS, ErrorLog: log.New(fateful{s}, "", 0), BaseContext: func(net.Listener) context.Context { return s.ctx }}
	h.RegisterOnShutdown(s.changes.end)
	failed := make(chan error, 1)
	go func() {
		if s.o.TLS != nil {
			failed <- h.ServeTLS(on, "", "")
			return
		}
		failed <- h.Serve(on)
	}()
	select {
	case err := <-failed:
		s.Close()
		return err
	case <-ctx.Done():
	}
	last, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	err := h.Shutdown(last)
	s.Close()
	if err != nil {
		err = errors.Join(err, h.Close())
	}
	return err
}

// fateful passes on what a server says of itself but of browsers that hang up
// because they do not know the certificate yet.
type fateful struct{ s *Server }

func (f fateful) Write(line []byte) (int, error) {
	if text := strings.TrimSpace(string(line)); !strings.Contains(text, "TLS handshake error") {
		f.s.o.Log("%s", text)
	}
	return len(line), nil
}

// A view is a page to show.
type view struct {
	name  string // of its template
	title string
	data  any
}

// get adds a page.
func (s *Server) get(path string, show func(*ask) (view, error)) {
	s.mux.HandleFunc("GET "+path, func(w http.ResponseWriter, r *http.Request) {
		q := s.ask(w, r)
		v, err := show(q)
		if err != nil {
			q.fail(err)
			return
		}
		q.show(http.StatusOK, v)
	})
}

// An action is a form and what it does.
type action struct {
	// form is the form as the bench would have it now; it stands alone where the
	// verb refuses.
	form func(*ask) (form, error)
	// do does it and says which page to go to.
	do func(*ask) (string, error)
}

// post adds an action. What it did is done once for every form that was shown.
func (s *Server) post(path string, a action) {
	s.mux.HandleFunc("POST "+path, func(w http.ResponseWriter, r *http.Request) {
		q := s.ask(w, r)
		if err := q.parse(); err != nil {
			q.fail(unread(err))
			return
		}
		to, err := s.once.do(r.Context(), r.URL.Path+" "+q.text("key"), func() (string, error) {
			to, err := a.do(q)
			if err == nil {
				err = q.fault()
			}
			return to, err
		})
		if err == nil {
			http.Redirect(w, r, to, http.StatusSeeOther)
			return
		}
		if a.form == nil {
			q.fail(err)
			return
		}
		f, failed := a.form(q)
		if failed != nil {
			q.fail(failed)
			return
		}
		f.retyped(q)
		f.refused(q, err)
		q.show(status(err), view{"refused", f.Title, f})
	})
}

// A refusal is why a request is not answered as it stands, in a line.
type refusal struct {
	status int
	text   string
}

func (r refusal) Error() string { return r.text }

// status is the status of a fault.
func status(err error) int {
	var late *http.MaxBytesError
	var typed *faults
	var rows *readings.Errors
	var refused refusal
	switch {
	case errors.As(err, &late):
		return http.StatusRequestEntityTooLarge
	case errors.As(err, &refused):
		return refused.status
	case errors.As(err, &typed), errors.As(err, &rows):
		return http.StatusUnprocessableEntity
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return http.StatusServiceUnavailable
	}
	switch workbench.KindOf(err) {
	case workbench.Invalid, workbench.OutOfReach:
		return http.StatusUnprocessableEntity
	case workbench.NotFound:
		return http.StatusNotFound
	case workbench.Conflict, workbench.Repeated:
		return http.StatusConflict
	}
	return http.StatusInternalServerError
}

// calculating waits for a place among those who calculate, so that many at once do
// not keep pages from being shown. A work in the background, which may last for
// minutes, has places of its own and takes none from who waits.
func calculating(ctx context.Context, places chan struct{}) (done func(), err error) {
	select {
	case places <- struct{}{}:
		return func() { <-places }, nil
	case <-ctx.Done():
		return nil, refusal{http.StatusServiceUnavailable, "too much is being calculated at once; try again"}
	}
}

// from is where a request comes from.
func from(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	return strings.TrimPrefix(host, "::ffff:")
}
