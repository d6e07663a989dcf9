package tagged

import (
	"bytes"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// Append returns a finished PDF with the tree added to it: every page is told
// its place in the tree, and the catalog that the document is tagged and that
// its title names the window. The file must have one cross-reference table and
// no streams of objects, as an incremental update of it has to (7.5.6).
func (t *Tree) Append(pdf []byte) ([]byte, error) {
	f, err := parse(pdf)
	if err != nil {
		return nil, fmt.Errorf("tagged: %w", err)
	}
	if len(f.pages) < len(t.pages) {
		return nil, fmt.Errorf("tagged: content is marked on page %d of %d", len(t.pages), len(f.pages))
	}
	u := update{file: f, out: slices.Clone(pdf), at: map[int]int{}, next: f.size}
	root, parents := u.number(), u.number()
	numbers := map[*Element]int{}
	t.root.each(func(e *Element) { numbers[e] = u.number() })

	u.object(root, fmt.Sprintf("<</Type /StructTreeRoot /K %s /ParentTree %s /ParentTreeNextKey %d>>", ref(numbers[t.root]), ref(parents), len(f.pages)))
	u.object(parents, t.parents(numbers))
	t.root.each(func(e *Element) {
		parent := root
		if e.parent != nil {
			parent = numbers[e.parent]
		}
		u.object(numbers[e], e.dictionary(parent, numbers, f.pages))
	})
	for n, page := range f.pages {
		if err := u.extend(page, fmt.Sprintf("/StructParents %d /Tabs /S", n)); err != nil {
			return nil, fmt.Errorf("tagged: page %d: %w", n+1, err)
		}
	}
	catalog := fmt.Sprintf("/Version /1.7 /MarkInfo <</Marked true>> /StructTreeRoot %s /ViewerPreferences <</DisplayDocTitle true>>", ref(root))
	if err := u.extend(f.root, catalog); err != nil {
		return nil, fmt.Errorf("tagged: catalog: %w", err)
	}
	return u.close(), nil
}

// each visits an element and all below it, parents first.
func (e *Element) each(visit func(*Element)) {
	visit(e)
	for _, k := range e.kids {
		if kid, ok := k.(*Element); ok {
			kid.each(visit)
		}
	}
}

func ref(object int) string { return fmt.Sprintf("%d 0 R", object) }

// parents is the number tree that leads from a page's content back to its
// elements (14.7.4.4).
func (t *Tree) parents(numbers map[*Element]int) string {
	var b strings.Builder
	b.WriteString("<</Nums [")
	for n, page := range t.pages {
		fmt.Fprintf(&b, "%d [", n)
		for _, e := range page {
			b.WriteString(ref(numbers[e]) + " ")
		}
		b.WriteString("] ")
	}
	b.WriteString("]>>")
	return b.String()
}

// dictionary is an element as an object (14.7.2, Table 323).
func (e *Element) dictionary(parent int, numbers map[*Element]int, pages []int) string {
	var b strings.Builder
	fmt.Fprintf(&b, "<</Type /StructElem /S /%s /P %s", e.Role, ref(parent))
	own := -1 // the page of content without a page of its own
	for _, k := range e.kids {
		if m, ok := k.(mark); ok && own < 0 {
			own = m.page
			fmt.Fprintf(&b, " /Pg %s", ref(pages[own]))
		}
	}
	if e.Alt != "" {
		b.WriteString(" /Alt " + textString(e.Alt))
	}
	if e.Actual != "" {
		b.WriteString(" /ActualText " + textString(e.Actual))
	}
	if e.Scope != "" || e.Span > 1 { // 14.8.5.7
		b.WriteString(" /A <</O /Table")
		if e.Scope != "" {
			b.WriteString(" /Scope /" + e.Scope)
		}
		if e.Span > 1 {
			fmt.Fprintf(&b, " /ColSpan %d", e.Span)
		}
		b.WriteString(">>")
	}
	if e.Box != nil { // 14.8.5.4.3
		fmt.Fprintf(&b, " /A <</O /Layout /BBox [%.2f %.2f %.2f %.2f]>>", e.Box[0], e.Box[1], e.Box[2], e.Box[3])
	}
	b.WriteString(" /K [")
	for i, k := range e.kids {
		if i > 0 {
			b.WriteByte(' ')
		}
		switch k := k.(type) {
		case *Element:
			b.WriteString(ref(numbers[k]))
		case mark:
			if k.page == own {
				b.WriteString(strconv.Itoa(k.id))
			} else {
				fmt.Fprintf(&b, "<</Type /MCR /Pg %s /MCID %d>>", ref(pages[k.page]), k.id)
			}
		}
	}
	b.WriteString("]>>")
	return b.String()
}

// update is an incremental update while it is written.
type update struct {
	file
	out  []byte
	at   map[int]int // where its objects begin
	next int
}

// number is that of a new object.
func (u *update) number() int {
	u.next++
	return u.next - 1
}

func (u *update) object(n int, body string) {
	u.at[n] = len(u.out)
	u.out = fmt.Appendf(u.out, "%d 0 obj\n%s\nendobj\n", n, body)
}

// extend adds entries to an object that is a dictionary.
func (u *update) extend(n int, entries string) error {
	d, err := u.dictionary(n)
	if err != nil {
		return err
	}
	u.object(n, string(d[:len(d)-len(">>")])+" "+entries+">>")
	return nil
}

// close writes the cross-reference section of the update and its trailer.
func (u *update) close() []byte {
	start := len(u.out)
	u.out = append(u.out, "xref\n"...)
	var numbers []int
	for n := range u.at {
		numbers = append(numbers, n)
	}
	slices.Sort(numbers)
	for len(numbers) > 0 {
		run := 1
		for run < len(numbers) && numbers[run] == numbers[0]+run {
			run++
		}
		u.out = fmt.Appendf(u.out, "%d %d\n", numbers[0], run)
		for _, n := range numbers[:run] {
			u.out = fmt.Appendf(u.out, "%010d 00000 n \n", u.at[n])
		}
		numbers = numbers[run:]
	}
	u.out = fmt.Appendf(u.out, "trailer\n<</Size %d /Root %s", u.next, ref(u.root))
	if u.info > 0 {
		u.out = fmt.Appendf(u.out, " /Info %s", ref(u.info))
	}
	return fmt.Appendf(u.out, " /Prev %d>>\nstartxref\n%d\n%%%%EOF\n", u.start, start)
}

// file is what an update needs to know of the PDF it follows.
type file struct {
	data       []byte
	start      int   // of the cross-reference table
	offsets    []int // of the objects
	size       int
	root, info int
	pages      []int // objects, in their order
}

var (
	startPart  = regexp.MustCompile(`startxref\s+(\d+)\s+%%EOF\s*$`)
	tablePart  = regexp.MustCompile(`^xref\s+0 (\d+)\s+`)
	sizeEntry  = regexp.MustCompile(`/Size (\d+)`)
	rootEntry  = regexp.MustCompile(`/Root (\d+) 0 R`)
	infoEntry  = regexp.MustCompile(`/Info (\d+) 0 R`)
	pagesEntry = regexp.MustCompile(`/Pages (\d+) 0 R`)
	kidsEntry  = regexp.MustCompile(`/Kids \[([^\]]*)\]`)
	reference  = regexp.MustCompile(`(\d+) 0 R`)
)

// entry reads the number in a match, 0 if there is none.
func entry(in []byte, which *regexp.Regexp) int {
	m := which.FindSubmatch(in)
	if m == nil {
		return 0
	}
	n, err := strconv.Atoi(string(m[1]))
	if err != nil {
		return 0
	}
	return n
}

const entrySize = 20 // bytes of a line of a cross-reference table (7.5.4)

func parse(data []byte) (file, error) {
	f := file{data: data, start: entry(data, startPart)}
	if f.start == 0 || f.start >= len(data) {
		return f, fmt.Errorf("no cross-reference table at the end of the PDF")
	}
	table := data[f.start:]
	count := entry(table, tablePart)
	lines := table[len(tablePart.Find(table)):]
	if count == 0 || len(lines)/entrySize < count {
		return f, fmt.Errorf("no cross-reference table at byte %d", f.start)
	}
	for i := range count {
		n, err := strconv.ParseUint(string(lines[i*entrySize:i*entrySize+10]), 10, 31)
		if err != nil {
			return f, fmt.Errorf("cross-reference of object %d: %w", i, err)
		}
		f.offsets = append(f.offsets, int(n))
	}
	trailer := lines[count*entrySize:]
	f.size, f.root, f.info = entry(trailer, sizeEntry), entry(trailer, rootEntry), entry(trailer, infoEntry)
	catalog, err := f.dictionary(f.root)
	if err != nil {
		return f, fmt.Errorf("catalog: %w", err)
	}
	pages, err := f.dictionary(entry(catalog, pagesEntry))
	if err != nil {
		return f, fmt.Errorf("pages: %w", err)
	}
	kids := kidsEntry.FindSubmatch(pages)
	if kids == nil {
		return f, fmt.Errorf("pages: no /Kids")
	}
	for _, m := range reference.FindAll(kids[1], -1) {
		f.pages = append(f.pages, entry(m, reference))
	}
	return f, nil
}

// dictionary is an object that is a dictionary, from << to >>.
func (f file) dictionary(n int) ([]byte, error) {
	if n <= 0 || n >= len(f.offsets) || f.offsets[n] >= len(f.data) {
		return nil, fmt.Errorf("object %d is not in the PDF", n)
	}
	body, found := bytes.CutPrefix(f.data[f.offsets[n]:], fmt.Appendf(nil, "%d 0 obj", n))
	body, _, ends := bytes.Cut(body, []byte("endobj"))
	body = bytes.TrimSpace(body)
	if !found || !ends || !bytes.HasPrefix(body, []byte("<<")) || !bytes.HasSuffix(body, []byte(">>")) {
		return nil, fmt.Errorf("object %d is not a dictionary", n)
	}
	return body, nil
}
