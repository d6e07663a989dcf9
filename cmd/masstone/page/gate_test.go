package page

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// atGate is a gate with a clock of its own.
func atGate(t *testing.T) (*gate, *time.Time) {
	now := time.Date(2026, 11, 29, 8, 0, 0, 0, time.UTC)
	g, err := newGate(&Server{o: Options{Now: func() time.Time { return now }, memory: 8 * hashThreads}}, "open-says-me")
	require.NoError(t, err)
	return g, &now
}

// entered lets somebody in, and is a request of theirs.
func entered(g *gate, who string) *http.Request {
	w := httptest.NewRecorder()
	g.let(w, who)
	r := httptest.NewRequest(http.MethodGet, "/", nil)
	for _, c := range w.Result().Cookies() {
		r.AddCookie(c)
	}
	return r
}

// TestSessions: a browser that is used stays in, and where there are too many the
// one that was not used for longest goes.
func TestSessions(t *testing.T) {
	g, now := atGate(t)
	ada := entered(g, "ada")
	for range 10 {
		*now = now.Add(6 * 24 * time.Hour)
		require.Equal(t, "ada", g.person(ada))
	}
	idle := entered(g, "idle")
	for i := range mostSessions - 2 {
		*now = now.Add(time.Second)
		entered(g, fmt.Sprint(i))
	}
	require.Equal(t, "ada", g.person(ada))
	last := entered(g, "last")
	require.Empty(t, g.person(idle))
	require.Equal(t, "ada", g.person(ada))
	require.Equal(t, "last", g.person(last))
}

// TestTries: wrong tries are counted by address and in all, a right one is none.
func TestTries(t *testing.T) {
	g, now := atGate(t)
	for range 3 * mostTriesAll {
		require.True(t, g.wrong.may("192.0.2.1", g.now()))
		g.wrong.right("192.0.2.1")
	}
	for i := range mostTriesAll {
		require.True(t, g.wrong.may(fmt.Sprint("192.0.2.", i), g.now()))
	}
	require.False(t, g.wrong.may("192.0.2.200", g.now()), "too many in all")
	*now = now.Add(triesWithin + time.Second)
	for range mostTries {
		require.True(t, g.wrong.may("192.0.2.1", g.now()))
	}
	require.False(t, g.wrong.may("192.0.2.1", g.now()))
	require.True(t, g.wrong.may("192.0.2.2", g.now()))
}

// TestInside: a browser takes a backslash for a slash (WHATWG URL, 4.4, special
// URLs), and drops tabs and ends of lines.
func TestInside(t *testing.T) {
	for to, want := range map[string]string{"/recipe/R1?x=1": "/recipe/R1?x=1", "": "/", "recipe": "/", "//evil.example": "/", `/\evil.example`: "/", "/\t/evil.example": "/", "/\n/evil.example": "/", "https://evil.example": "/"} {
		require.Equal(t, want, inside(to), to)
	}
}

// TestNamed: hosts are compared as browsers write them, whatever the port.
func TestNamed(t *testing.T) {
	s := &Server{o: Options{Hosts: []string{"bench.example", "::1", "192.0.2.1"}}}
	for _, host := range []string{"bench.example", "Bench.Example:7357", "[::1]", "[::1]:7357", "192.0.2.1:80"} {
		require.True(t, s.named(host), host)
	}
	for _, host := range []string{"", "evil.example", "bench.example.evil.example:7357", "192.0.2.10", "::2"} {
		require.False(t, s.named(host), host)
	}
}
