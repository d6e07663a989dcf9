package page

import (
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"masstone/recipes/batch"
	"masstone/recipes/workbench"
)

// What is stored between the reading of a page's content and the first look at the
// log is news to the page.
func TestNoChangeIsMissed(t *testing.T) {
	b, err := workbench.Create(t.Context(), filepath.Join(t.TempDir(), "bench.db"), workbench.Options{Who: "ada", Program: "test"})
	require.NoError(t, err)
	t.Cleanup(func() { b.Close() })
	s, err := New(Options{Bench: b, Who: "ada"})
	require.NoError(t, err)
	t.Cleanup(s.Close)
	store := func(code string) {
		_, err := workbench.AddResin(t.Context(), b, workbench.AddResinRequest{Code: code, Name: code, Mix: batch.Ratio{A: 100, B: 90}, PigmentSide: "B"})
		require.NoError(t, err)
	}
	store("WH")

	w := httptest.NewRecorder()
	q := s.ask(w, httptest.NewRequest(http.MethodGet, "/shelf", nil))
	known := q.head
	store("BK") // after the page's content was read
	q.fail(http.ErrNoLocation)
	require.Contains(t, w.Body.String(), `data-head="1"`)
	require.EqualValues(t, 1, known)

	l := s.changes.join(known)
	require.EqualValues(t, 2, (<-l).ID)
	s.changes.leave(l)
	require.Eventually(t, func() bool { // nobody listens and nobody looks
		s.changes.mu.Lock()
		defer s.changes.mu.Unlock()
		return !s.changes.looking
	}, time.Minute, 10*time.Millisecond)

	// one that claims to know more than there is keeps nothing from others
	liar := s.changes.join(1 << 40)
	defer s.changes.leave(liar)
	l = s.changes.join(2)
	defer s.changes.leave(l)
	for range 2 { // before it looks or after
		time.Sleep(lookEvery)
		store("C" + key()[:6])
	}
	require.GreaterOrEqual(t, (<-l).ID, int64(3))
}
