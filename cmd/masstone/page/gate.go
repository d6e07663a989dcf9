package page

import (
	"cmp"
	"crypto/rand"
	"crypto/subtle"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"

	"masstone/color/legible"
)

// A gate lets in who knows the passcode and says a name. Sessions live as long as
// the program at most.
type gate struct {
	now          func() time.Time
	secure       bool
	salt, hashed []byte
	memory       uint32        // of a try, KiB
	trying       chan struct{} // a place to hash in, which takes memory

	mu       sync.Mutex
	sessions map[string]session
	wrong    *tries
}

// A session is a browser that was let in.
type session struct {
	who   string
	last  time.Time
	ended chan struct{} // closed once it has
}

// Limits of the gate.
const (
	forgotten    = 7 * 24 * time.Hour // a browser that was not used for so long
	mostSessions = 500
	triesWithin  = 10 * time.Minute
	mostTries    = 8   // wrong ones from one address
	mostTriesAll = 100 // wrong ones from all together
	// Guesses at links of clients; who has a link is never kept out.
	mostGuessesAll = 1000
	longestName    = 60
	mostEntry      = 16 << 10 // bytes of the form
)

// Cost of a try, the second choice of RFC 9106, section 4.
const (
	hashPasses  = 3
	hashMemory  = 64 << 10 // KiB
	hashThreads = 4
	hashLength  = 32
)

func newGate(s *Server, passcode string) (*gate, error) {
	g := &gate{now: s.o.Now, secure: s.o.TLS != nil, salt: make([]byte, 16), memory: cmp.Or(s.o.memory, hashMemory), trying: make(chan struct{}, 1), sessions: map[string]session{}, wrong: newTries(mostTriesAll)}
	if _, err := rand.Read(g.salt); err != nil {
		return nil, err
	}
	g.hashed = g.hash(passcode)
	return g, nil
}

func (g *gate) hash(passcode string) []byte {
	return argon2.IDKey([]byte(passcode), g.salt, hashPasses, g.memory, hashThreads, hashLength)
}

// cookie is the name of the one that holds a session. The prefix keeps other
// hosts and plain pages from setting it.
func (g *gate) cookie() string {
	if g.secure {
		return "__Host-masstone"
	}
	return "masstone"
}

// person finds who is behind a request, "" for nobody.
func (g *gate) person(r *http.Request) string {
	g.mu.Lock()
	defer g.mu.Unlock()
	token, known := g.session(r)
	if token == "" {
		return ""
	}
	known.last = g.now()
	g.sessions[token] = known
	return known.who
}

// session finds the one behind a request, and ends it if it was not used for long; the
// lock is held.
func (g *gate) session(r *http.Request) (token string, known session) {
	c, err := r.Cookie(g.cookie())
	if err != nil {
		return "", known
	}
	known, is := g.sessions[c.Value]
	if is && g.now().Sub(known.last) > forgotten {
		g.end(c.Value)
		is = false
	}
	if !is {
		return "", session{}
	}
	return c.Value, known
}

// end ends a session and what goes on in it; the lock is held.
func (g *gate) end(token string) {
	if known, is := g.sessions[token]; is {
		close(known.ended)
		delete(g.sessions, token)
	}
}

// ended is closed once the session behind a request has ended, nil where there are no
// sessions.
func (s *Server) ended(r *http.Request) <-chan struct{} {
	if s.gate == nil {
		return nil
	}
	s.gate.mu.Lock()
	defer s.gate.mu.Unlock()
	if token, known := s.gate.session(r); token != "" {
		return known.ended
	}
	over := make(chan struct{})
	close(over)
	return over
}

// let lets a person in.
func (g *gate) let(w http.ResponseWriter, who string) {
	token := rand.Text()
	g.mu.Lock()
	if len(g.sessions) >= mostSessions {
		oldest := ""
		for t, s := range g.sessions {
			if oldest == "" || s.last.Before(g.sessions[oldest].last) {
				oldest = t
			}
		}
		g.end(oldest)
	}
	g.sessions[token] = session{who, g.now(), make(chan struct{})}
	g.mu.Unlock()
	g.set(w, token, int(forgotten/time.Second))
}

func (g *gate) set(w http.ResponseWriter, token string, seconds int) {
	http.SetCookie(w, &http.Cookie{Name: g.cookie(), Value: token, Path: "/", MaxAge: seconds, HttpOnly: true, Secure: g.secure, SameSite: http.SameSiteLaxMode})
}

// leave forgets the session behind a request.
func (g *gate) leave(w http.ResponseWriter, r *http.Request) {
	if c, err := r.Cookie(g.cookie()); err == nil {
		g.mu.Lock()
		g.end(c.Value)
		g.mu.Unlock()
	}
	g.set(w, "", -1)
}

// who is the person behind a request.
func (s *Server) who(r *http.Request) string {
	if s.gate == nil {
		return s.o.Who
	}
	return s.gate.person(r)
}

// entry is the way in: what is no part of the gate itself needs a person.
func (s *Server) entry(next http.Handler) http.Handler {
	if s.gate == nil {
		return next
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch {
		case r.URL.Path == "/enter" || strings.HasPrefix(r.URL.Path, "/asset/") || strings.HasPrefix(r.URL.Path, clientPath) || s.gate.person(r) != "":
			next.ServeHTTP(w, r)
		case r.URL.Path == changesPath || r.URL.Path == "/mix/color":
			s.refuse(w, r, http.StatusUnauthorized, "enter first")
		case r.Method == http.MethodGet || r.Method == http.MethodHead:
			http.Redirect(w, r, path("/enter", "to", r.URL.RequestURI()), http.StatusSeeOther)
		default:
			q := s.ask(w, r)
			q.show(http.StatusUnauthorized, view{"failed", "Enter first", []string{"Nothing was stored: this browser was not used for long, or the program was started anew. Open /enter in another tab, then go back and send the form again."}})
		}
	})
}

func (q *ask) enterForm() form {
	return newForm("Enter", "/enter", "Enter", hidden("to", q.text("to")),
		text("who", "Your name", "").needed().help("it stands in the log beside what you do"),
		field{Name: "passcode", Label: "Passcode", Kind: codeField, Need: true, Help: "that the program printed when it started"})
}

var errTooOften = refusal{http.StatusTooManyRequests, "too many wrong passcodes; wait ten minutes"}

// gatePages let in and out.
func (s *Server) gatePages() {
	if s.gate == nil {
		return
	}
	s.get("/enter", func(q *ask) (view, error) { return view{"alone", "Enter", q.enterForm()}, nil })
	refused := func(q *ask, code int, err error) {
		f := q.enterForm()
		f.retyped(q)
		f.refused(q, err)
		q.show(code, view{"alone", "Enter", f})
	}
	s.mux.HandleFunc("POST /enter", func(w http.ResponseWriter, r *http.Request) {
		r.Body = http.MaxBytesReader(w, r.Body, mostEntry) // a stranger's
		q := s.ask(w, r)
		if err := q.parse(); err != nil {
			q.fail(unread(err))
			return
		}
		who := legible.Text(q.text("who"))
		if who == "" || utf8.RuneCountInString(who) > longestName {
			q.blame("who", fmt.Errorf("is missing or longer than %d letters; say who you are", longestName))
		}
		if q.text("passcode") == "" {
			q.blame("passcode", errors.New("is missing; the program printed it when it started"))
		}
		if err := q.fault(); err != nil {
			refused(q, http.StatusUnprocessableEntity, err)
			return
		}
		if !s.gate.wrong.may(from(r), s.o.Now()) {
			refused(q, http.StatusTooManyRequests, errTooOften)
			return
		}
		select {
		case s.gate.trying <- struct{}{}:
		case <-r.Context().Done():
			return
		}
		is := subtle.ConstantTimeCompare(s.gate.hash(q.text("passcode")), s.gate.hashed) == 1
		<-s.gate.trying
		if !is {
			s.o.Log("a wrong passcode from %s", from(r))
			q.blame("passcode", errors.New("is wrong; the program printed it when it started"))
			refused(q, http.StatusForbidden, q.fault())
			return
		}
		s.gate.wrong.right(from(r))
		s.gate.let(w, who)
		http.Redirect(w, r, inside(q.text("to")), http.StatusSeeOther)
	})
	s.post("/leave", action{nil, func(q *ask) (string, error) {
		s.gate.leave(q.w, q.Request)
		return "/enter", nil
	}})
}

// inside is an address of this server, Today for any other.
func inside(to string) string {
	if !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") || strings.ContainsAny(to, "\\\r\n\t") {
		return "/"
	}
	return to
}
