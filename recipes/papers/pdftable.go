package papers

import (
	"slices"

	"masstone/recipes/papers/tagged"
)

// cellPad is between columns, mm.
const cellPad = 3.6

// Widths of the drawn cells in mm.
const (
	tickColumn  = 6.2
	writeColumn = 24.0
)

// pdfTable is a table while it is set.
type pdfTable struct {
	*table
	page   *pdfPage
	widths []float64
	pad    float64 // above and below a row
	tag    *tagged.Element
	names  int // the column that names its row
}

func (p *pdfPage) table(b *table) {
	t := &pdfTable{table: b, page: p, pad: p.setting.row}
	if b.Large {
		t.pad = p.setting.large
	}
	t.measure()
	// a title is kept with the first rows
	first := 0.0
	if len(b.Groups) > 0 {
		first = min(t.groupHeight(b.Groups[0]), 40)
	}
	p.need(14 + first)
	p.heading(b.Title)
	if b.Intro != "" {
		p.into(p.tags.Root(), tagged.P)
		p.text(p.left, p.right-p.left, b.Intro, style{body, false, black}, p.spaced)
		p.y++
	}
	t.tag = p.tags.Root().Add(tagged.Table)
	t.names = slices.IndexFunc(b.Columns, func(c column) bool { return c.Head != "" })
	t.head(t.tag.Add(tagged.Head).Add(tagged.Row))
	for i, g := range b.Groups {
		if h := t.groupHeight(g); p.y+h > p.bottom && h < p.bottom-p.setting.top-20 && (i > 0 || g.Head != "") {
			t.turn()
		}
		rows := t.tag.Add(tagged.Rows)
		t.groupHead(rows, g)
		for _, row := range g.Rows {
			if p.y+t.rowHeight(row) > p.bottom {
				t.turn()
			}
			t.row(rows.Add(tagged.Row), row)
		}
	}
}

func (t *pdfTable) turn() {
	t.page.turn()
	t.head(nil)
}

var headStyle = style{tiny, false, grey}

// style is how the cells of a column are set.
func (t *pdfTable) style(column int) style {
	s := style{body, false, black}
	if t.Columns[column].Strong {
		s.bold = true
		if t.Large {
			s.size = large
		}
	}
	return s
}

// measure fits the columns into the page and gives what is left over to those
// that wrap, else evenly.
func (t *pdfTable) measure() {
	n := len(t.Columns)
	columns := make([]room, n)
	for i, c := range t.Columns {
		wide := t.page.measure(headStyle)
		columns[i] = cellRoom(c.Head, longestPiece(c.Head, wide), wide)
		columns[i].natural = max(columns[i].least, min(columns[i].natural, 18)) // a head may take two lines
		columns[i].wraps = c.Wraps
		wide = t.page.measure(t.style(i))
		for _, g := range t.Groups {
			for _, row := range g.Rows {
				cell := cellRoom(row[i], 14, wide)
				switch {
				case row[i] == tickCell:
					cell = whole(tickColumn - cellPad)
				case row[i] == writeCell:
					cell = room{natural: writeColumn - cellPad, least: 11, hard: 11}
				case c.Right:
					cell = whole(wide(row[i]))
				}
				columns[i] = columns[i].with(cell)
			}
		}
	}
	width := t.page.right - t.page.left - float64(n-1)*cellPad
	t.widths = fit(columns, width)
	spare, takers := width, 0
	for i, w := range t.widths {
		spare -= w
		if columns[i].wraps {
			takers++
		}
	}
	if spare <= 0 {
		return
	}
	for i := range t.widths {
		switch {
		case takers > 0 && columns[i].wraps:
			t.widths[i] += spare / float64(takers)
		case takers == 0 && columns[i].natural > tickColumn-cellPad:
			t.widths[i] += spare / float64(n)
		}
	}
}

// each calls f with every column's left edge and width.
func (t *pdfTable) each(f func(i int, x, width float64)) {
	x := t.page.left
	for i, w := range t.widths {
		f(i, x, w)
		x += w + cellPad
	}
}

// head sets the columns' heads into a row of headers; on further pages, where
// they are only repeated, into none.
func (t *pdfTable) head(row *tagged.Element) {
	p := t.page
	high := 0.0
	for i, c := range t.Columns {
		high = max(high, p.height(c.Head, t.widths[i], headStyle, 1.2))
	}
	p.y += 0.6
	t.each(func(i int, x, width float64) {
		if p.at = nil; row != nil {
			th := p.into(row, tagged.Header)
			if th.Scope = "Column"; t.Columns[i].Head == "" {
				th.Actual = "done" // over the boxes to tick
			}
		}
		set := p.wrap(t.Columns[i].Head, width, headStyle)
		y := p.y + high - float64(len(set))*headStyle.leading(1.2)
		for _, l := range set {
			if t.Columns[i].Right {
				p.putRight(x+width, y+headStyle.rise(1.2), l, headStyle)
			} else {
				p.put(x, y+headStyle.rise(1.2), l, headStyle)
			}
			y += headStyle.leading(1.2)
		}
	})
	p.y += high + 0.9
	p.rule(p.left, p.y, p.right, p.y, thick, black)
}

func (t *pdfTable) rowHeight(row []string) float64 {
	high := style{body, false, black}.leading(t.page.cell)
	for i, cell := range row {
		if cell != tickCell && cell != writeCell {
			high = max(high, t.page.height(cell, t.widths[i], t.style(i), t.page.cell))
		}
	}
	return high + 2*t.pad
}

// row sets a row whose first lines share a baseline.
func (t *pdfTable) row(tag *tagged.Element, row []string) {
	p := t.page
	high, rise := t.rowHeight(row), style{body, false, black}.rise(p.cell)
	for i, cell := range row {
		if cell != tickCell && cell != writeCell && cell != "" {
			rise = max(rise, t.style(i).rise(p.cell))
		}
	}
	base := p.y + t.pad + rise
	end := p.y + high
	p.rule(p.left, end, p.right, end, thin, line)
	t.each(func(i int, x, width float64) {
		cell := p.into(tag, tagged.Cell)
		if i == t.names && row[i] != "" {
			cell.Role, cell.Scope = tagged.Header, "Row"
		}
		switch row[i] {
		case tickCell:
			p.tick(cell, x, base)
			return
		case writeCell:
			p.blank(cell, x, base+0.8, width)
			return
		}
		s, y := t.style(i), base
		for _, l := range p.wrap(row[i], width, s) {
			if y > p.bottom+3 {
				break // longer than a page: what is left is in the other formats
			}
			if t.Columns[i].Right {
				p.putRight(x+width, y, l, s)
			} else {
				p.put(x, y, l, s)
			}
			y += s.leading(p.cell)
		}
	})
	p.y = end
}

var (
	groupStyle = style{11, true, black}
	tailStyle  = style{note, false, grey}
)

// groupParts sets a group's head: its name and what is beside it on the left,
// the boxes to tick on the right.
func (t *pdfTable) groupParts(g group) (name, tail []string, room float64) {
	p := t.page
	room = p.right - p.left
	for _, tick := range g.Ticks {
		room -= tickSide + 1.5 + p.measure(style{note, false, black})(tick) + 4
	}
	return p.wrap(g.Head, room, groupStyle), p.wrap(g.Tail, room, tailStyle), room
}

func (t *pdfTable) groupHeadHeight(g group) float64 {
	if g.Head == "" {
		return 0
	}
	name, tail, _ := t.groupParts(g)
	high := 3.5 + 0.8 + float64(len(name))*groupStyle.leading(t.page.cell)
	if g.Tail != "" {
		high += float64(len(tail)) * tailStyle.leading(t.page.cell)
	}
	return high
}

func (t *pdfTable) groupHead(rows *tagged.Element, g group) {
	if g.Head == "" {
		return
	}
	p := t.page
	end := p.y + t.groupHeadHeight(g)
	name, tail, room := t.groupParts(g)
	header := rows.Add(tagged.Row).Add(tagged.Header)
	header.Scope, header.Span = "Column", len(t.Columns)
	p.y += 3.5
	base := p.y + groupStyle.rise(p.cell)
	p.into(header, tagged.P)
	for _, l := range name {
		p.put(p.left, p.y+groupStyle.rise(p.cell), l, groupStyle)
		p.y += groupStyle.leading(p.cell)
	}
	if g.Tail != "" {
		p.into(header, tagged.P)
		for _, l := range tail {
			p.put(p.left, p.y+tailStyle.rise(p.cell), l, tailStyle)
			p.y += tailStyle.leading(p.cell)
		}
	}
	x, s := p.left+room, style{note, false, black}
	for _, tick := range g.Ticks {
		x += 4
		box := p.into(header, tagged.P)
		p.tick(box, x, base)
		p.put(x+tickSide+1.5, base, tick, s)
		x += tickSide + 1.5 + p.measure(s)(tick)
	}
	p.y = end
	p.rule(p.left, p.y, p.right, p.y, thick, black)
}

func (t *pdfTable) groupHeight(g group) float64 {
	high := t.groupHeadHeight(g)
	for _, row := range g.Rows {
		high += t.rowHeight(row)
	}
	return high
}
