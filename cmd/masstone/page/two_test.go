package page

import (
	"database/sql"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"masstone/recipes/archive"
	"masstone/recipes/archive/postgres/ownserver"
	"masstone/recipes/batch"
	"masstone/recipes/workbench"
)

// Two servers of the page on one database show what is stored at the other at once, as
// the database tells them: neither looks by itself before an hour is over. When the
// connection for that is lost they look.
func TestTwoServersOnADatabase(t *testing.T) {
	database := ownserver.Start(t)
	name := database.Database("")
	address := database.Address("owner", name)
	open := func(who string, by func(workbench.Options) (*workbench.Bench, error)) (*workbench.Bench, *Server) {
		b, err := by(workbench.Options{Who: who, Program: "test"})
		require.NoError(t, err)
		t.Cleanup(func() { b.Close() })
		s, err := New(Options{Bench: b, Who: who, Hosts: []string{"localhost"}})
		require.NoError(t, err)
		s.changes.every, s.changes.seldom, s.changes.again = time.Hour, time.Hour, time.Hour
		t.Cleanup(s.Close)
		return b, s
	}
	bo, here := open("bo", func(o workbench.Options) (*workbench.Bench, error) { return workbench.Create(t.Context(), address, o) })
	cy, there := open("cy", func(o workbench.Options) (*workbench.Bench, error) { return workbench.Open(t.Context(), address, o) })
	listening := func(want int) {
		t.Helper()
		db, err := sql.Open("pgx", address)
		require.NoError(t, err)
		defer db.Close()
		for have := -1; have != want; time.Sleep(20 * time.Millisecond) {
			require.NoError(t, db.QueryRow(`SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND query LIKE 'LISTEN%' AND pid <> pg_backend_pid()`).Scan(&have))
		}
	}
	told := func(by *workbench.Bench, at *Server, hears chan archive.LogLine, code string) {
		t.Helper()
		_, err := workbench.AddResin(t.Context(), by, workbench.AddResinRequest{Code: code, Name: code, Mix: batch.Ratio{A: 100, B: 90}, PigmentSide: "B"})
		require.NoError(t, err)
		line := <-hears
		require.Equal(t, code, line.Subject)
		w := httptest.NewRecorder()
		at.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "http://localhost/shelf", nil))
		require.Contains(t, w.Body.String(), code)
	}
	for code, move := range map[string]struct {
		by *workbench.Bench
		at *Server
	}{"NORTH": {bo, there}, "SOUTH": {cy, here}} {
		known, err := move.at.changes.newest(t.Context())
		require.NoError(t, err)
		hears := move.at.changes.join(known)
		listening(1)
		told(move.by, move.at, hears, code)
		move.at.changes.leave(hears)
		listening(0) // nobody is left that it would be for
	}

	there.changes.every = 20 * time.Millisecond
	known, err := there.changes.newest(t.Context())
	require.NoError(t, err)
	hears := there.changes.join(known)
	defer there.changes.leave(hears)
	listening(1)
	database.Say("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '" + name + "' AND query LIKE 'LISTEN%'")
	listening(0)
	told(bo, there, hears, "EAST")
}
