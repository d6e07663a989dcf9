package papers_test

import (
	"fmt"
	"regexp"
	"strings"
	"testing"

	"github.com/rivo/uniseg"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/color/cell"
	"masstone/recipes/papers"
)

var escape = regexp.MustCompile("\x1b\\[[0-9;]*m")

// TestTextWidth: no line is wider than asked for, whatever is on the paper, and
// what is called by its name is there whole or in pieces.
func TestTextWidth(t *testing.T) {
	for _, width := range []int{40, 60, 80, 132} {
		for _, s := range samples(t) {
			text := string(write(t, s.paper, papers.Text, papers.Options{Width: width, Swatch: width == 80}))
			for line := range strings.Lines(text) {
				line = strings.TrimSuffix(line, "\n")
				require.Equal(t, strings.TrimRight(line, " "), line, "%s: blanks at the end", s.name)
				line = escape.ReplaceAllString(line, "")
				require.LessOrEqual(t, uniseg.StringWidth(line), width, "%s at %d: %q", s.name, width, line)
			}
		}
	}
}

func TestSwatchOnlyWhenTold(t *testing.T) {
	require.NotContains(t, string(write(t, housing(t), papers.Text, papers.Options{})), "\x1b")
	text := string(write(t, housing(t), papers.Text, papers.Options{Swatch: true}))
	require.Equal(t, 2, strings.Count(text, "\x1b[48;2;"))
	require.Equal(t, 2, strings.Count(text, "\x1b[0m"))
}

// TestNoControl: a name cannot move the cursor, change colours, turn the
// direction of writing or hide a letter on any paper.
func TestNoControl(t *testing.T) {
	c := certificate()
	c.Target = "a\x1b[31mb\x07\u202ec\u200bd\r\ne\xff"
	const shown = `a [31mb \u202ec\u200bd  e`
	c.Client = "u\u0308" // ü in two
	for _, f := range []papers.Format{papers.Text, papers.CSV, papers.HTML} {
		text := string(write(t, c, f, papers.Options{}))
		require.NotContains(t, text, "\x1b", f)
		require.NotContains(t, text, "\u202e", f)
		require.Contains(t, text, shown+"\ufffd", f)
		require.Contains(t, text, "\u00fc", f)
		require.NotContains(t, text, "u\u0308", f)
	}
	require.Contains(t, pdfText(t, write(t, c, papers.PDF, papers.Options{})), shown)
}

// TestNoFormulas: what begins a formula in a spreadsheet is marked as text, after "CSV
// Injection", owasp.org/www-community/attacks/CSV_Injection.
func TestNoFormulas(t *testing.T) {
	c := certificate()
	c.Target = "=1+1"
	require.Contains(t, string(write(t, c, papers.CSV, papers.Options{})), "'=1+1")
}

func TestWrap(t *testing.T) {
	letters := func(s string) float64 { return float64(uniseg.StringWidth(s)) }
	for _, c := range []struct {
		text  string
		width float64
		want  []string
	}{
		{"", 10, []string{""}},
		{"one two three", 7, []string{"one two", "three"}},
		{"one", 3, []string{"one"}},
		{"abcdefgh ij", 3, []string{"abc", "def", "gh", "ij"}},
		{"a\u00a0b c", 3, []string{"a\u00a0b", "c"}},
		{"RD0.2-WH1-black", 9, []string{"RD0.2-", "WH1-black"}},
		{"漢字漢字", 4, []string{"漢字", "漢字"}},
	} {
		require.Equal(t, c.want, papers.Wrap(c.text, c.width, letters), "%q", c.text)
	}
	rapid.Check(t, func(t *rapid.T) {
		text := papers.Tidy(rapid.String().Draw(t, "text"))
		width := rapid.IntRange(1, 30).Draw(t, "width")
		lines := papers.Wrap(text, float64(width), letters)
		for _, l := range lines {
			require.True(t, uniseg.StringWidth(l) <= width || uniseg.GraphemeClusterCount(l) == 1, "%q is wider than %d", l, width)
		}
		blanks := regexp.MustCompile(`\s`)
		require.Equal(t, blanks.ReplaceAllString(text, ""), blanks.ReplaceAllString(strings.Join(lines, ""), ""), "letters were lost")
	})
}

// TestFit: columns fit wherever they can, figures are never narrowed while
// text can be, and nothing is narrowed without need.
func TestFit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 9).Draw(t, "columns")
		columns, wraps := make([][3]float64, n), make([]bool, n)
		natural, hard := 0.0, 0.0
		for i := range columns {
			h := rapid.Float64Range(0, 20).Draw(t, "hard")
			l := h + rapid.Float64Range(0, 20).Draw(t, "words")
			columns[i] = [3]float64{l + rapid.Float64Range(0, 60).Draw(t, "line"), l, h}
			wraps[i] = rapid.Bool().Draw(t, "wraps")
			natural, hard = natural+columns[i][0], hard+h
		}
		width := rapid.Float64Range(0, 200).Draw(t, "width")
		sum := 0.0
		for i, w := range papers.FitColumns(columns, wraps, width) {
			sum += w
			require.GreaterOrEqual(t, w, -1e-9)
			require.LessOrEqual(t, w, columns[i][0]+1e-9)
			if natural <= width {
				require.InDelta(t, columns[i][0], w, 1e-9)
			}
			if hard <= width {
				require.GreaterOrEqual(t, w, columns[i][2]-1e-9, "column %d is no longer readable", i)
			}
		}
		require.LessOrEqual(t, sum, width+1e-9)
	})
}

func TestFigures(t *testing.T) {
	for _, c := range []struct {
		v            float64
		fixed, signs string
	}{
		{0, "0.00", "0.00"}, {0.314, "0.31", "+0.31"}, {-0.2, "\u22120.20", "\u22120.20"},
		{-0.001, "0.00", "0.00"}, {0.001, "0.00", "0.00"}, {-12.345, "\u221212.35", "\u221212.35"},
	} {
		require.Equal(t, c.fixed, papers.Fixed(c.v, 2), fmt.Sprint(c.v))
		require.Equal(t, c.signs, papers.Signed(c.v), fmt.Sprint(c.v))
	}
}

func TestHarmless(t *testing.T) {
	for _, c := range [][2]string{
		{"", ""}, {"WH", "WH"}, {"-0.3", "-0.3"}, {"+1e3", "+1e3"}, {"=1+1", "'=1+1"}, {"@SUM(A1)", "'@SUM(A1)"},
		{"-black", "'-black"}, {"+49 431", "'+49 431"}, {"a=b", "a=b"},
	} {
		require.Equal(t, c[1], cell.Safe(c[0]))
	}
}
