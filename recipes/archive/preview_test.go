package archive

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// A preview reports what the import would, refuses what it would, and leaves
// the bench as it was.
func TestPreviewStoresNothing(t *testing.T) {
	b := newShop(t)
	before, err := b.Checksum(ctx(t))
	require.NoError(t, err)
	logged, err := b.Log(ctx(t), LogFilter{})
	require.NoError(t, err)

	chips := twoChips()
	chips[0].Note = "read again"
	chips = append(chips, Chip{Name: "new one", Backing: "white", ThicknessMM: 3, Readings: []Reading{reading(50, 1, 2)}})
	seen, err := b.PreviewChips(ctx(t), "CLR", chips)
	require.NoError(t, err)
	require.Equal(t, Report{Added: []string{"new one"}, Changed: []string{chips[0].Name}, Unchanged: []string{chips[1].Name}}, seen)

	pigments := threePigments()
	pigments[1].Density = 1.6
	pigments = append(pigments, Pigment{Code: "BK"})
	list, err := b.PreviewPigments(ctx(t), pigments)
	require.NoError(t, err)
	require.Equal(t, Report{Added: []string{"BK"}, Changed: []string{"RD"}, Unchanged: []string{"WH", "YE"}}, list)

	_, err = b.PreviewPigments(ctx(t), []Pigment{{Code: "two words"}})
	require.ErrorIs(t, err, ErrInvalid)
	_, err = b.PreviewChips(ctx(t), "CLR", []Chip{{Name: "x", Backing: "grey", ThicknessMM: 3, Readings: []Reading{reading(50, 1, 2)}}})
	require.ErrorIs(t, err, ErrNotFound)
	_, err = b.PreviewChips(ctx(t), "NIX", chips)
	require.ErrorIs(t, err, ErrNotFound)

	after, err := b.Checksum(ctx(t))
	require.NoError(t, err)
	require.Equal(t, before, after)
	still, err := b.Log(ctx(t), LogFilter{})
	require.NoError(t, err)
	require.Equal(t, logged, still)
	did, err := b.ImportChips(ctx(t), "CLR", chips, Replace)
	require.NoError(t, err)
	require.Equal(t, seen, did)
}
