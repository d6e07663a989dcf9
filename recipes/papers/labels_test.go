package papers_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/recipes/papers"
)

func TestParseLabelSize(t *testing.T) {
	for text, want := range map[string]string{"25x10": "25x10", " 40 x 20 mm": "40x20", "40×20": "40x20", "25.4x12.7": "25.4x12.7"} {
		l, err := papers.ParseLabelSize(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, l.String())
	}
	for text, says := range map[string]string{"": "such as 25x10", "25": "such as 25x10", "25,4x10": "such as 25x10", "24x10": "at least 25 x 10", "25x9.9": "at least 25 x 10",
		"201x20": "at most 200", "1" + strings.Repeat("0", 400) + "x10": "range", "-25x10": "such as", "25x10cm": "such as"} {
		_, err := papers.ParseLabelSize(text)
		require.ErrorContains(t, err, says, text)
		require.NotContains(t, err.Error(), "\n")
	}
}

// TestCutLabels: a sheet holds as many labels as go on it edge to edge, 8 mm from its
// edges, by hand 7 x 28 of 25 x 10 mm on A4 (194 and 281 mm free) and 4 x 14 of
// 40 x 20; the code of a chip, 29 squares and its margin, has squares of 0.41 mm on
// 40 x 20 and is left out on 25 x 10, where they would be too small to scan.
func TestCutLabels(t *testing.T) {
	for size, want := range map[string]struct {
		across, down int
		codes        bool
	}{"25x10": {7, 28, false}, "40x20": {4, 14, true}} {
		each, err := papers.ParseLabelSize(size)
		require.NoError(t, err)
		l := papers.Labels{Heading: head, Each: &each}
		for i := range want.across*want.down + 1 {
			name := fmt.Sprintf("BK0.1-WH2-%d", i)
			l.Labels = append(l.Labels, papers.Label{Code: name, Name: "CLR, 3 mm, over white", Find: papers.RefTo(papers.ChipRef, "CLR", name)})
		}
		r := openPDF(t, write(t, l, papers.PDF, papers.Options{}))
		assert.Equal(t, 2, r.NumPage(), size)
		page := string(write(t, l, papers.HTML, papers.Options{}))
		assert.Equal(t, want.codes, strings.Contains(page, `class="square"`), size)
		for _, x := range l.Labels {
			assert.Contains(t, page, x.Code, "a code is never cut short")
		}
		assert.Equal(t, len(l.Labels), strings.Count(page, `class="label cut"`), "lines to cut along are drawn")
	}
}
