package papers

import (
	"fmt"
	"io"
	"strings"

	"github.com/rivo/uniseg"

	"masstone/color"
)

// textPage sets a design in a terminal's columns.
type textPage struct {
	strings.Builder
	width  int
	swatch bool
}

func columnsOf(s string) float64 { return float64(uniseg.StringWidth(s)) }

func writeText(w io.Writer, d design, o Options) error {
	d.bind()
	d.each(spelled.Replace)
	p := &textPage{width: o.Width, swatch: o.Swatch}
	p.top(d)
	for _, b := range d.Blocks {
		if _, drawn := b.(*picture); drawn {
			continue
		}
		p.WriteByte('\n')
		p.block(b)
	}
	// a space that held a number and its unit together is a space like any other
	_, err := io.WriteString(w, strings.ReplaceAll(p.String(), "\u00a0", " "))
	return err
}

func (p *textPage) top(d design) {
	title := strings.TrimSpace(d.Kind + " " + d.Name)
	if room := p.width - uniseg.StringWidth(title) - uniseg.StringWidth(d.Day); room > 1 {
		p.line(title + strings.Repeat(" ", room) + d.Day)
	} else {
		p.paragraph("", title)
		p.line(d.Day)
	}
	p.paragraph("", d.About)
	for _, s := range d.Shop {
		p.paragraph("", s)
	}
	if !d.Ref.None() {
		p.paragraph("", "find again: "+d.Ref.String())
	}
}

func (p *textPage) line(s string) {
	p.WriteString(strings.TrimRight(s, " \u00a0"))
	p.WriteByte('\n')
}

// paragraph wraps text; lines after the first are set in below it.
func (p *textPage) paragraph(first, s string) {
	if s == "" {
		return
	}
	in := uniseg.StringWidth(first)
	for i, l := range wrap(s, float64(p.width-in), columnsOf) {
		if i > 0 {
			first = strings.Repeat(" ", in)
		}
		p.line(first + l)
	}
}

func (p *textPage) title(s string) {
	if s != "" {
		p.paragraph("", s+":")
	}
}

func (p *textPage) block(b block) {
	switch b := b.(type) {
	case *facts:
		p.facts(b)
	case *band:
		for _, x := range b.Patches {
			p.patch(x)
		}
	case *table:
		p.table(b)
	case *points:
		p.title(b.Title)
		for _, s := range b.List {
			p.paragraph(map[bool]string{true: "[ ] ", false: "- "}[b.Tick], s)
		}
	case *clock:
		p.title(b.Title)
		for _, ms := range [][]moment{b.Steps, b.Ends} {
			var parts []string
			for _, m := range ms {
				// no-break spaces keep a time with its word
				parts = append(parts, clockTime(m.Minutes)+"\u00a0"+strings.ReplaceAll(m.Word, " ", "\u00a0"))
			}
			for _, l := range wrap(strings.Join(parts, ",  "), float64(p.width-2), columnsOf) {
				p.line("  " + strings.ReplaceAll(l, "\u00a0", " "))
			}
		}
	case *verdict:
		p.paragraph("", strings.ToUpper(b.Word))
		p.paragraph("", b.Words)
	case *lines:
		p.lines(b)
	case *stickers:
		p.stickers(b)
	}
}

func (p *textPage) facts(b *facts) {
	p.title(b.Title)
	in := 0
	for _, f := range b.List {
		in = max(in, min(uniseg.StringWidth(f.Label), p.width/2))
	}
	for _, f := range b.List {
		if pad := in - uniseg.StringWidth(f.Label); pad >= 0 {
			p.paragraph(f.Label+strings.Repeat(" ", pad+2), f.Value)
		} else {
			p.paragraph("", f.Label)
			p.paragraph(strings.Repeat(" ", in+2), f.Value)
		}
	}
}

const swatchColumns = 8

// paint is a stretch of colour, nothing where swatches are off.
func (p *textPage) paint(s color.Swatch, columns int) string {
	if !p.swatch {
		return ""
	}
	return fmt.Sprintf("\x1b[48;2;%d;%d;%dm%s\x1b[0m", s.R, s.G, s.B, strings.Repeat(" ", columns))
}

func (p *textPage) patch(x patch) {
	first := fmt.Sprintf("%-9s  ", x.Role)
	text := x.Lab + "  " + x.Under
	if x.Remark != "" {
		text += " (" + x.Remark + ")"
	}
	if p.swatch {
		// the escape sequences take no room
		first = strings.Repeat(" ", swatchColumns+2) + first
	}
	in := uniseg.StringWidth(first)
	for i, l := range wrap(text, float64(p.width-in), columnsOf) {
		switch {
		case i > 0:
			first = strings.Repeat(" ", in)
		case p.swatch:
			first = p.paint(x.Screen, swatchColumns) + first[swatchColumns:]
		}
		p.line(first + l)
	}
}

// Drawn cells.
const (
	textTick  = "[ ]"
	textWrite = "______"
)

func textCell(s string) string {
	switch s {
	case tickCell:
		return textTick
	case writeCell:
		return textWrite
	}
	return s
}

func (p *textPage) table(b *table) {
	p.title(b.Title)
	p.paragraph("", b.Intro)
	n := len(b.Columns)
	columns := make([]room, n)
	for i, c := range b.Columns {
		columns[i] = cellRoom(c.Head, longestPiece(c.Head, columnsOf), columnsOf)
		columns[i].natural = max(columns[i].least, min(columns[i].natural, 12)) // a head may take two lines
		columns[i].wraps = c.Wraps
	}
	for _, g := range b.Groups {
		for _, row := range g.Rows {
			for i, cell := range row {
				if text := textCell(cell); text != cell || b.Columns[i].Right {
					columns[i] = columns[i].with(whole(columnsOf(text)))
				} else {
					columns[i] = columns[i].with(cellRoom(cell, 8, columnsOf))
				}
			}
		}
	}
	const gap = 2
	widths := make([]int, n)
	for i, w := range fit(columns, float64(p.width-gap*(n-1))) {
		widths[i] = max(1, int(w+1e-9))
	}
	row := func(cells []string) {
		set, high := make([][]string, n), 0
		for i, c := range cells {
			set[i] = wrap(textCell(c), float64(widths[i]), columnsOf)
			high = max(high, len(set[i]))
		}
		for k := range high {
			var out strings.Builder
			for i := range cells {
				cell := ""
				if k < len(set[i]) {
					cell = set[i][k]
				}
				pad := strings.Repeat(" ", max(0, widths[i]-uniseg.StringWidth(cell)))
				if b.Columns[i].Right {
					cell = pad + cell
				} else {
					cell += pad
				}
				if i > 0 {
					out.WriteString(strings.Repeat(" ", gap))
				}
				out.WriteString(cell)
			}
			p.line(out.String())
		}
	}
	heads := make([]string, n)
	for i, c := range b.Columns {
		heads[i] = c.Head
	}
	row(heads)
	for _, g := range b.Groups {
		if g.Head != "" {
			p.WriteByte('\n')
			p.paragraph("", g.Head)
			p.paragraph("  ", g.Tail)
			var ticks []string
			for _, t := range g.Ticks {
				ticks = append(ticks, textTick+" "+t)
			}
			p.paragraph("  ", strings.Join(ticks, "   "))
		}
		for _, cells := range g.Rows {
			row(cells)
		}
	}
}

func (p *textPage) lines(b *lines) {
	var parts []string
	for _, l := range b.Labels {
		parts = append(parts, strings.ReplaceAll(l, " ", "\u00a0")+"\u00a0"+strings.Repeat("_", 12))
	}
	for _, l := range wrap(strings.Join(parts, "  "), float64(p.width), columnsOf) {
		p.line(strings.ReplaceAll(l, "\u00a0", " "))
	}
}

func (p *textPage) stickers(b *stickers) {
	for i, s := range b.List {
		if i > 0 {
			p.WriteByte('\n')
		}
		if s.Screen != nil && p.swatch {
			p.line(p.paint(*s.Screen, swatchColumns))
		}
		p.paragraph("", s.Code)
		p.paragraph("  ", s.Name)
		for _, l := range s.Lines {
			p.paragraph("  ", l)
		}
		p.paragraph("  ", s.Ref.String())
	}
}
