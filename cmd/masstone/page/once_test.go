package page

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestHungUp: a browser hangs up on a form that it sends again; what was asked for
// is done for the second, once.
func TestHungUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := newOnce(time.Now)
		first, hangUp := context.WithCancel(t.Context())
		go o.do(first, "/form k", func() (string, error) { <-first.Done(); return "", first.Err() })
		synctest.Wait()
		times := 0
		for range 2 {
			go func() {
				to, err := o.do(t.Context(), "/form k", func() (string, error) { times++; return "/there", nil })
				assert.NoError(t, err)
				assert.Equal(t, "/there", to)
			}()
		}
		synctest.Wait()
		require.Zero(t, times, "it is still being done")
		hangUp()
		synctest.Wait()
		require.Equal(t, 1, times)

		_, err := o.do(t.Context(), "/form wrong", func() (string, error) { return "", errors.New("wrong") })
		require.Error(t, err)
		to, err := o.do(t.Context(), "/form wrong", func() (string, error) { return "/there", nil })
		require.NoError(t, err, "what failed may be done again")
		require.Equal(t, "/there", to)
	})
}

// TestForgotten: of too many outcomes the oldest goes, and only that.
func TestForgotten(t *testing.T) {
	now := time.Date(2026, 11, 29, 8, 0, 0, 0, time.UTC)
	o := newOnce(func() time.Time { return now })
	times := map[string]int{}
	send := func(key string) {
		now = now.Add(time.Millisecond)
		_, err := o.do(t.Context(), key, func() (string, error) { times[key]++; return "/", nil })
		require.NoError(t, err)
	}
	for i := range mostForms {
		send(fmt.Sprint("/form ", i))
	}
	send("/form new")
	require.LessOrEqual(t, len(o.done), mostForms)
	send("/form 1")
	require.Equal(t, 1, times["/form 1"])
	send("/form 0")
	require.Equal(t, 2, times["/form 0"])
}
