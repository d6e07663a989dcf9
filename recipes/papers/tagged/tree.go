// Package tagged gives a PDF the structure that a program reads it by, aloud or
// into a table: headings, paragraphs, lists, tables with their headers, figures
// with words for them, in the order of reading.
//
// While pages are drawn, a [Tree] marks each piece of them as content of an
// element or as an artifact, which no reader needs to hear. [Tree.Append] then
// adds the elements to the finished file as an incremental update.
//
// Source: ISO 32000-1:2008, 7.5.6 (incremental updates), 14.6 (marked content),
// 14.7 (logical structure), 14.8 (tagged PDF), 14.9 (words instead of
// pictures).
package tagged

import (
	"encoding/hex"
	"fmt"
	"unicode/utf16"
)

// A Role is a standard structure type (ISO 32000-1, 14.8.4).
type Role string

// The roles in use here.
const (
	Document Role = "Document"
	Section  Role = "Sect"
	H1       Role = "H1"
	H2       Role = "H2"
	P        Role = "P"
	List     Role = "L"
	Item     Role = "LI"
	Label    Role = "Lbl"
	Body     Role = "LBody"
	Table    Role = "Table"
	Head     Role = "THead"
	Rows     Role = "TBody"
	Row      Role = "TR"
	Header   Role = "TH"
	Cell     Role = "TD"
	Figure   Role = "Figure"
)

// An Element of the structure holds marked content and further elements, in
// the order of reading.
type Element struct {
	Role   Role
	Alt    string      // what a figure shows
	Actual string      // the text, where what is drawn is cut or set in pieces
	Scope  string      // of a header: "Column" or "Row"
	Span   int         // columns of a cell, where more than one
	Box    *[4]float64 // of a figure: left, bottom, right, top in points

	parent *Element
	kids   []any // *Element or mark
}

// mark is a marked-content sequence: on a page, by its identifier there.
type mark struct{ page, id int }

// Add appends an element.
func (e *Element) Add(r Role) *Element {
	kid := &Element{Role: r, parent: e}
	e.kids = append(e.kids, kid)
	return kid
}

// An Artifact is content that is not part of what a page says (14.8.2.2).
type Artifact string

// The artifacts in use here.
const (
	Layout     Artifact = "Layout"     // rules, frames
	Pagination Artifact = "Pagination" // heads and feet of pages
)

// A Canvas takes operators of the page that is being drawn, counted from 1.
type Canvas interface {
	RawWriteStr(operators string)
	PageNo() int
}

// A Tree is the structure of one document while it is drawn.
type Tree struct {
	canvas Canvas
	root   *Element
	pages  [][]*Element // of each page, the element of each identifier
	open   any          // what the open sequence belongs to, nil if none is open
}

// New is the tree of a document that is drawn on a canvas.
func New(c Canvas) *Tree { return &Tree{canvas: c, root: &Element{Role: Document}} }

// Root is the document's element.
func (t *Tree) Root() *Element { return t.root }

// Into makes what is drawn from here on content of e.
func (t *Tree) Into(e *Element) {
	if t.open == e {
		return
	}
	t.begin(e, fmt.Sprintf("/%s <</MCID %d>> BDC", e.Role, t.next(e)))
}

// Instead is Into for what cannot be drawn as it is, for lack of a glyph: text
// is what is meant by it (14.9.4). It ends with the next call of a method.
func (t *Tree) Instead(e *Element, text string) {
	t.begin(replaced{}, fmt.Sprintf("/Span <</MCID %d /ActualText %s>> BDC", t.next(e), textString(text)))
}

// replaced is what a sequence belongs to that takes no more content.
type replaced struct{}

// next notes that e has one more piece of content, and returns its identifier.
func (t *Tree) next(e *Element) int {
	n := t.canvas.PageNo() - 1
	for len(t.pages) <= n {
		t.pages = append(t.pages, nil)
	}
	m := mark{n, len(t.pages[n])}
	t.pages[n] = append(t.pages[n], e)
	e.kids = append(e.kids, m)
	return m.id
}

// Aside makes what is drawn from here on an artifact.
func (t *Tree) Aside(a Artifact) {
	if t.open == a {
		return
	}
	t.begin(a, fmt.Sprintf("/Artifact <</Type /%s>> BDC", a))
}

func (t *Tree) begin(what any, operators string) {
	t.Close()
	t.open = what
	t.canvas.RawWriteStr(operators)
}

// Close ends the content that is being marked: to be called before a page is
// left, and at the end.
func (t *Tree) Close() {
	if t.open != nil {
		t.open = nil
		t.canvas.RawWriteStr("EMC")
	}
}

// textString is a PDF text string in UTF-16 (7.9.2.2), as hexadecimal digits.
func textString(s string) string {
	b := []byte{0xfe, 0xff}
	for _, u := range utf16.Encode([]rune(s)) {
		b = append(b, byte(u>>8), byte(u))
	}
	return "<" + hex.EncodeToString(b) + ">"
}
