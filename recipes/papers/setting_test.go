package papers_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/recipes/batch"
	"masstone/recipes/papers"
)

// TestShortBatchIsOnePage counts the pages of the file itself, as another library
// reads it: a small batch with three pastes let down stays on one sheet of either
// size, with every caution.
func TestShortBatchIsOnePage(t *testing.T) {
	r := request(map[string]batch.PHR{"WH": 2.26, "FG": 0.427, "UM": 0.32, "OX": 0.244}, batch.Order{Total: batch.Grams(20)})
	r.Dilution = batch.DiluteWhenNeeded
	s, err := batch.Plan(r)
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(s.Predilutions), 2)
	sizes, err := batch.Smallest(r)
	require.NoError(t, err)
	b := housing(t)
	b.Sheet, b.Smallest, b.Order = s, &sizes, "20 g"
	for _, size := range []papers.Size{papers.A4, papers.Letter} {
		r := openPDF(t, write(t, b, papers.PDF, papers.Options{Size: size}))
		require.Equal(t, 1, r.NumPage(), size)
		var words []string
		for _, x := range runs(r.Page(1)) {
			words = append(words, strings.Fields(x.text)...)
		}
		text := strings.Join(words, " ")
		for _, caution := range batch.Cautions() {
			require.Contains(t, text, caution, size)
		}
	}
}
