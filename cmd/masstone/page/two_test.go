package page

import (
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/recipes/archive/postgres/ownserver"
	"masstone/recipes/batch"
	"masstone/recipes/workbench"
)

// Two servers of the page on one database show what is stored at the other: open
// pages hear of it, and a page that is asked for has it.
func TestTwoServersOnADatabase(t *testing.T) {
	database := ownserver.Start(t)
	address := database.Address("owner", database.Database(""))
	open := func(who string, by func(workbench.Options) (*workbench.Bench, error)) (*workbench.Bench, *Server) {
		b, err := by(workbench.Options{Who: who, Program: "test"})
		require.NoError(t, err)
		t.Cleanup(func() { b.Close() })
		s, err := New(Options{Bench: b, Who: who, Hosts: []string{"localhost"}})
		require.NoError(t, err)
		t.Cleanup(s.Close)
		return b, s
	}
	bo, here := open("bo", func(o workbench.Options) (*workbench.Bench, error) { return workbench.Create(t.Context(), address, o) })
	cy, there := open("cy", func(o workbench.Options) (*workbench.Bench, error) { return workbench.Open(t.Context(), address, o) })
	for code, move := range map[string]struct {
		by *workbench.Bench
		at *Server
	}{"NORTH": {bo, there}, "SOUTH": {cy, here}} {
		known, err := move.at.changes.newest(t.Context())
		require.NoError(t, err)
		hears := move.at.changes.join(known)
		_, err = workbench.AddResin(t.Context(), move.by, workbench.AddResinRequest{Code: code, Name: code, Mix: batch.Ratio{A: 100, B: 90}, PigmentSide: "B"})
		require.NoError(t, err)
		line := <-hears
		move.at.changes.leave(hears)
		require.Equal(t, code, line.Subject)
		w := httptest.NewRecorder()
		move.at.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "http://localhost/shelf", nil))
		require.Contains(t, w.Body.String(), code)
	}
}
