package archive

import (
	"errors"
	"fmt"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestMade: a thing is made of a record once while it is among those last used,
// whoever asks; what failed is made again, and the number kept is limited.
func TestMade(t *testing.T) {
	b := &Bench{made: newMakings()}
	count := 0
	next := func() (int, error) { count++; return count, nil }
	get := func(ref string) int {
		v, err := Made(b.With(Options{Who: "bo"}), ref, next)
		require.NoError(t, err)
		return v
	}
	require.Equal(t, 1, get("a"))
	require.Equal(t, 1, get("a"))
	text, err := Made(b, "a", func() (string, error) { return "of another type", nil })
	require.NoError(t, err)
	require.Equal(t, "of another type", text)

	_, err = Made(b, "z", func() (int, error) { return 0, errors.New("no") })
	require.Error(t, err)
	require.Equal(t, 2, get("z"))

	for i := range mostMade - 1 {
		get(fmt.Sprint("other ", i))
		require.Equal(t, 1, get("a"), "it is used")
	}
	require.Len(t, b.made.of, mostMade)
	require.Len(t, b.made.order, mostMade)
	before := count
	require.Greater(t, get("z"), before, "it was used longest ago")

	var together sync.WaitGroup
	for i := range 64 {
		together.Go(func() { _, _ = Made(b, fmt.Sprint(i%40), func() (int, error) { return i, nil }) })
	}
	together.Wait()
	require.Len(t, b.made.of, mostMade)
}
