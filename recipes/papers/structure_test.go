package papers_test

import (
	"bytes"
	"cmp"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/ledongthuc/pdf"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"masstone/recipes/papers"
)

// piece is what is marked as one content on a page.
type piece struct{ page, id int }

// text is what is drawn, and what is meant where the fonts lack a glyph; lines
// says that lines are drawn too, areas or pictures.
type text struct {
	drawn, meant string
	lines        bool
}

// marked collects the text of every marked content of a PDF, and requires that
// nothing is drawn outside of one (ISO 32000-1, 14.8.2.2), nor inside of two.
func marked(t *testing.T, r *pdf.Reader) map[piece]text {
	t.Helper()
	out := map[piece]text{}
	for n := range r.NumPage() {
		var open *piece
		artifact := false
		pdf.Interpret(r.Page(n+1).V.Key("Contents"), func(stack *pdf.Stack, op string) {
			var args []pdf.Value
			for stack.Len() > 0 {
				args = append([]pdf.Value{stack.Pop()}, args...)
			}
			switch op {
			case "BDC":
				require.True(t, open == nil && !artifact, "page %d: marks in marks", n+1)
				if args[0].Name() == "Artifact" {
					artifact = true
					return
				}
				p := piece{n, int(args[1].Key("MCID").Int64())}
				require.NotContains(t, out, p)
				open, out[p] = &p, text{meant: args[1].Key("ActualText").Text()}
			case "EMC":
				require.True(t, open != nil || artifact, "page %d: an end without a beginning", n+1)
				open, artifact = nil, false
			case "Tj":
				require.True(t, open != nil || artifact, "page %d: text without a mark", n+1)
				if open == nil {
					return
				}
				raw := args[0].RawString()
				codes := make([]uint16, len(raw)/2)
				for i := range codes {
					codes[i] = uint16(raw[2*i])<<8 | uint16(raw[2*i+1])
				}
				x := out[*open]
				x.drawn += string(utf16.Decode(codes))
				out[*open] = x
			case "f", "S", "B", "re", "l", "Do":
				require.True(t, open != nil || artifact, "page %d: %s without a mark", n+1, op)
				if open != nil {
					x := out[*open]
					x.lines = true
					out[*open] = x
				}
			}
		})
		require.True(t, open == nil && !artifact, "page %d: a mark without an end", n+1)
	}
	return out
}

// element is an element of a document's structure, read back.
type element struct {
	role, alt, scope string
	span             int
	actual           string // of all of it, where it had to be cut
	text                    // of its own content
	kids             []*element
}

// all visits an element and all below it, in the order of reading.
func (e *element) all(visit func(*element)) {
	visit(e)
	for _, k := range e.kids {
		k.all(visit)
	}
}

// said is what an element says, word by word; meant are the words instead of
// those drawn where they are others.
func (e *element) said(meant bool) []string {
	var out []string
	switch {
	case meant && e.actual != "":
		return strings.Fields(e.actual)
	case e.role == "Lbl" && e.drawn == "–":
	case meant:
		out = strings.Fields(e.meant)
	default:
		out = strings.Fields(e.drawn)
	}
	for _, k := range e.kids {
		out = append(out, k.said(meant)...)
	}
	return out
}

// structure reads the structure of a PDF by its way up and its way down.
func structure(t *testing.T, data []byte) *element {
	t.Helper()
	r := openPDF(t, data)
	texts := marked(t, r)
	root := r.Trailer().Key("Root").Key("StructTreeRoot")
	require.Equal(t, "StructTreeRoot", root.Key("Type").Name())
	parents := root.Key("ParentTree").Key("Nums")
	owner := map[int64]pdf.Value{}
	for i := 0; i < parents.Len(); i += 2 {
		owner[parents.Index(i).Int64()] = parents.Index(i + 1)
	}
	pages := map[string]int{} // by what they hold, which tells them apart
	for n := range r.NumPage() {
		v := r.Page(n + 1).V
		require.NotContains(t, pages, v.String())
		pages[v.String()] = n
		require.EqualValues(t, n, v.Key("StructParents").Int64())
	}
	pageOf := func(v pdf.Value) int {
		require.Contains(t, pages, v.String())
		return pages[v.String()]
	}
	seen := map[piece]bool{}
	var read func(v pdf.Value) *element
	read = func(v pdf.Value) *element {
		attributes := v.Key("A")
		e := &element{role: v.Key("S").Name(), alt: v.Key("Alt").Text(), actual: v.Key("ActualText").Text(),
			scope: attributes.Key("Scope").Name(), span: int(attributes.Key("ColSpan").Int64())}
		kids := v.Key("K")
		for i := range kids.Len() {
			kid := kids.Index(i)
			var p piece
			switch {
			case kid.Kind() == pdf.Integer:
				p = piece{pageOf(v.Key("Pg")), int(kid.Int64())}
			case kid.Key("Type").Name() == "MCR":
				p = piece{pageOf(kid.Key("Pg")), int(kid.Key("MCID").Int64())}
			default:
				require.Equal(t, e.role, kid.Key("P").Key("S").Name(), "the way up")
				e.kids = append(e.kids, read(kid))
				continue
			}
			x, known := texts[p]
			require.True(t, known && !seen[p], "%s: %v is not marked, or twice in the tree", e.role, p)
			require.Equal(t, e.role == "Figure", x.lines, "%s: %q", e.role, x.drawn)
			seen[p] = true
			e.drawn += x.drawn
			e.meant += cmp.Or(x.meant, x.drawn)
			up := owner[int64(p.page)].Index(p.id)
			require.Equal(t, []string{e.role, v.Key("K").String()}, []string{up.Key("S").Name(), up.Key("K").String()}, "the way from %v up", p)
		}
		return e
	}
	top := read(root.Key("K"))
	require.Len(t, seen, len(texts), "marked but in no element")
	return top
}

// readAloud are the words of a page of HTML, in their order, and those of its
// headings below the first.
func readAloud(t *testing.T, page []byte) (out, headings []string) {
	t.Helper()
	root, err := html.Parse(bytes.NewReader(page))
	require.NoError(t, err)
	for n := range root.Descendants() {
		switch {
		case n.Type == html.TextNode && n.Parent.Data != "style" && n.Parent.Data != "title":
			out = append(out, strings.Fields(n.Data)...)
			if n.Parent.Data == "h2" {
				headings = append(headings, strings.Fields(n.Data)...)
			}
		case n.Type == html.ElementNode && n.Data == "th":
			for _, a := range n.Attr {
				if a.Key == "aria-label" {
					out = append(out, strings.Fields(a.Val)...)
				}
			}
		}
	}
	return out, headings
}

// TestReadAloud: every paper as PDF has a structure, which holds all that is
// said, in the order of the page of HTML; its tables have headers and as many
// cells in every row, its figures words, its headings their order.
func TestReadAloud(t *testing.T) {
	for _, size := range []papers.Size{papers.A4, papers.Letter} {
		for _, s := range samples(t) {
			t.Run(fmt.Sprint(s.name, " ", size), func(t *testing.T) {
				data := write(t, s.paper, papers.PDF, papers.Options{Size: size})
				r := openPDF(t, data)
				root := r.Trailer().Key("Root")
				require.True(t, root.Key("MarkInfo").Key("Marked").Bool())
				require.True(t, root.Key("ViewerPreferences").Key("DisplayDocTitle").Bool())
				require.Equal(t, "en", root.Key("Lang").Text())
				require.NotEmpty(t, r.Trailer().Key("Info").Key("Title").Text())
				for n := range r.NumPage() {
					require.Equal(t, "S", r.Page(n+1).V.Key("Tabs").Name())
				}
				top := structure(t, data)
				require.Equal(t, "Document", top.role)
				sheets := strings.HasPrefix(s.name, "labels")
				want, headings := readAloud(t, write(t, s.paper, papers.HTML, papers.Options{Size: size}))
				got := top.said(true)
				if sheets { // set line by line there, which breaks words
					for label := range strings.SplitSeq(strings.Join(want, ""), "…") {
						require.Contains(t, strings.Join(got, ""), label)
					}
				} else {
					dot := func(w string) bool { return w == "·" }
					require.Equal(t, slices.DeleteFunc(want, dot), slices.DeleteFunc(got, dot))
				}
				var under []string
				top.all(func(e *element) {
					switch e.role {
					case "H2":
						under = append(under, e.said(true)...)
					case "Figure":
						require.NotEmpty(t, e.alt)
					case "TH":
						require.NotEmpty(t, e.scope)
						require.NotEmpty(t, e.said(true), "a header says nothing")
					case "Table":
						require.Equal(t, "THead", e.kids[0].role)
						columns := len(e.kids[0].kids[0].kids)
						for _, part := range e.kids {
							for _, row := range part.kids {
								require.Equal(t, "TR", row.role)
								wide := 0
								for _, cell := range row.kids {
									require.Contains(t, []string{"TH", "TD"}, cell.role)
									wide += max(1, cell.span)
								}
								require.Equal(t, columns, wide)
							}
						}
					}
				})
				require.Equal(t, headings, under)
				require.True(t, top.kids[0].role == "H1" || sheets && top.kids[0].kids[0].role == "H1")
				checked(t, data)
			})
		}
	}
}

// checked requires that qpdf finds nothing wrong with a file, if it is here.
func checked(t *testing.T, data []byte) {
	t.Helper()
	tool, err := exec.LookPath("qpdf")
	if err != nil {
		t.Log("not checked with qpdf, which is not here")
		return
	}
	file := filepath.Join(t.TempDir(), "paper.pdf")
	require.NoError(t, os.WriteFile(file, data, 0o600))
	out, err := exec.Command(tool, "--check", file).CombinedOutput()
	require.NoError(t, err, string(out))
}

// TestHeardElsewhere: poppler, which draws the pages anew for every element and
// is spared long ones, hears the same words in the same order.
func TestHeardElsewhere(t *testing.T) {
	tool, err := exec.LookPath("pdfinfo")
	if err != nil {
		t.Skip("pdfinfo is not here; install poppler-utils")
	}
	chips, stickers := plan(), labels()
	chips.Chips, stickers.Labels = chips.Chips[:2], stickers.Labels[len(stickers.Labels)-4:]
	for _, p := range []papers.Paper{housing(t), card(), certificate(), chips, stickers} {
		data := write(t, p, papers.PDF, papers.Options{})
		file := filepath.Join(t.TempDir(), "paper.pdf")
		require.NoError(t, os.WriteFile(file, data, 0o600))
		out, err := exec.Command(tool, "-struct-text", file).Output()
		require.NoError(t, err)
		var heard []string
		label := false // of a list
		for l := range strings.Lines(string(out)) {
			l = strings.TrimSpace(l)
			said, quoted := strings.CutPrefix(l, `"`)
			if said = strings.TrimSuffix(said, `"`); quoted && !(label && said == "–") {
				heard = append(heard, strings.Fields(said)...)
			}
			label = strings.HasPrefix(l, "Lbl")
		}
		require.Equal(t, strings.Join(structure(t, data).said(false), " "), strings.Join(heard, " "))
	}
}

// TestLettersMeant: what the fonts have no glyph of, and what a label has no
// room for, is in the structure all the same.
func TestLettersMeant(t *testing.T) {
	name := "海の青 of a very long and winding road that leads to nowhere in particular but further than that one"
	one := papers.Labels{Heading: head, Labels: []papers.Label{{Code: "P-1", Name: name}}}
	data := write(t, one, papers.PDF, papers.Options{})
	require.Equal(t, strings.Fields("P-1 "+name), structure(t, data).said(true))
	sheet := housing(t)
	sheet.Target = "海の青"
	data = write(t, sheet, papers.PDF, papers.Options{})
	require.Contains(t, strings.Join(structure(t, data).said(true), " "), "for “海の青” of")
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("pdftotext is not here; install poppler-utils")
	}
	file := filepath.Join(t.TempDir(), "paper.pdf")
	require.NoError(t, os.WriteFile(file, data, 0o600))
	out, err := exec.Command(tool, file, "-").Output()
	require.NoError(t, err)
	require.Contains(t, string(out), "“海の青”")
}
