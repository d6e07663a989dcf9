package papers_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"masstone/recipes/papers"
)

// TestHTMLHarmless: what people have named stays text. The page is parsed as a
// browser would; it may hold no element and no attribute beyond the template's.
func TestHTMLHarmless(t *testing.T) {
	elements := map[string]bool{}
	for _, e := range strings.Fields("html head meta title style body header div p h1 h2 b i span section dl dt dd svg rect path line table thead tbody tr th td ul ol li") {
		elements[e] = true
	}
	attributes := map[string]bool{}
	for _, a := range strings.Fields("lang charset name content class style viewbox role aria-label shape-rendering d preserveaspectratio x y x1 x2 y1 y2 width height fill colspan scope xmlns") {
		attributes[a] = true
	}
	for _, s := range samples(t) {
		for _, size := range []papers.Size{papers.A4, papers.Letter} {
			page := write(t, s.paper, papers.HTML, papers.Options{Size: size})
			root, err := html.Parse(bytes.NewReader(page))
			require.NoError(t, err)
			var words strings.Builder
			for n := range root.Descendants() {
				switch n.Type {
				case html.ElementNode:
					require.True(t, elements[n.Data], "%s: <%s>", s.name, n.Data)
					for _, a := range n.Attr {
						require.True(t, attributes[strings.ToLower(a.Key)], "%s: <%s %s=%q>", s.name, n.Data, a.Key, a.Val)
						require.NotContains(t, a.Val, "url(", s.name)
					}
				case html.TextNode:
					if n.Parent.Data != "style" {
						words.WriteString(n.Data)
						continue
					}
					require.NotContains(t, n.Data, "url(", s.name)
					require.NotContains(t, n.Data, "@import", s.name)
					require.NotContains(t, n.Data, "ZgotmplZ", s.name)
					require.Equal(t, strings.Count(n.Data, "{"), strings.Count(n.Data, "}"), "%s: a name broke out of the style sheet", s.name)
				}
			}
			require.NotContains(t, string(page), "ZgotmplZ", s.name)
			if strings.HasPrefix(s.name, "batch_crowded") || s.name == "certificate_refused" {
				require.Contains(t, words.String(), hostile)
				require.Contains(t, words.String(), breakout)
				require.Contains(t, words.String(), bundled)
			}
		}
	}
}
