package papers

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strings"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"

	"masstone/recipes/papers/tagged"
)

// Margins of a page in mm.
const (
	marginX      = 16.0
	marginTop    = 12.0
	marginBottom = 14.0
)

// Sizes of type in points, the same as in page.css.
const (
	body  = 9.5
	tiny  = 7.0
	note  = 8.5
	large = 12.5
)

// ink is a grey, 0 black to 255 white.
type ink int

const (
	black ink = 22
	grey  ink = 89
	line  ink = 180
)

// Widths of rules in mm.
const (
	thin  = 0.14
	thick = 0.26
)

// pdfPage sets a design on sheets, with y growing downwards from the top.
type pdfPage struct {
	*fpdf.Fpdf
	setting
	tags        *tagged.Tree
	at          *tagged.Element // what text belongs to; nil: to the page, as its foot does
	figure      *tagged.Element // what lines and fills belong to; nil: to the layout
	fonts       [2]*face
	left, right float64
	bottom      float64
	y           float64 // of the next block
	running     string  // at the top of further pages
	pictures    int     // so far
}

// style is a size of type, its weight and its grey.
type style struct {
	size float64
	bold bool
	ink  ink
}

func writePDF(w io.Writer, d design, o Options) error {
	d.bind()
	p, _, err := d.shortest(o)
	if err != nil {
		return err
	}
	return p.finish(w)
}

// set sets a design.
func (d design) set(o Options, how setting) (*pdfPage, error) {
	p, err := newPDF(d, o, how)
	if err != nil {
		return nil, err
	}
	for _, b := range d.Blocks {
		if s, ok := b.(*stickers); ok {
			return p, p.stickers(s, o.Size)
		}
	}
	p.AddPage()
	p.y = p.setting.top
	if err := p.top(d); err != nil {
		return nil, err
	}
	for _, b := range d.Blocks {
		p.y += p.gap
		p.block(b)
	}
	p.feet(d)
	return p, p.Error()
}

// finish writes the pages and, which the library cannot, their structure.
func (p *pdfPage) finish(w io.Writer) error {
	p.tags.Close()
	var pages bytes.Buffer
	if err := p.Output(&pages); err != nil {
		return err
	}
	all, err := p.tags.Append(pages.Bytes())
	if err != nil {
		return fmt.Errorf("papers: %w", err)
	}
	_, err = w.Write(all)
	return err
}

// AddPage and SetPage leave a page, which ends what is marked there.
func (p *pdfPage) AddPage() {
	p.tags.Close()
	p.Fpdf.AddPage()
}

func (p *pdfPage) SetPage(n int) {
	p.tags.Close()
	p.Fpdf.SetPage(n)
}

// into makes the texts that follow those of a new element.
func (p *pdfPage) into(parent *tagged.Element, r tagged.Role) *tagged.Element {
	p.at = parent.Add(r)
	return p.at
}

// drawing draws a figure that fills a rectangle, with words for who cannot see
// it.
func (p *pdfPage) drawing(parent *tagged.Element, alt string, x, y, w, h float64, draw func()) {
	_, deep := p.GetPageSize()
	p.figure = parent.Add(tagged.Figure)
	p.figure.Alt = alt
	p.figure.Box = &[4]float64{x / mmPerPoint, (deep - y - h) / mmPerPoint, (x + w) / mmPerPoint, (deep - y) / mmPerPoint}
	draw()
	p.figure = nil
}

// drawn is called before anything is drawn but text.
func (p *pdfPage) drawn() {
	if p.figure == nil {
		p.tags.Aside(tagged.Layout)
		return
	}
	p.tags.Into(p.figure)
}

func newPDF(d design, o Options, how setting) (*pdfPage, error) {
	fonts, err := faces()
	if err != nil {
		return nil, err
	}
	width, height := o.Size.mm()
	p := &pdfPage{Fpdf: fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: width, Ht: height}}), setting: how,
		fonts: fonts, left: marginX, right: width - marginX, bottom: height - how.bottom, running: strings.TrimSpace(d.Kind + " " + d.Name)}
	p.SetAutoPageBreak(false, 0)
	p.SetMargins(0, 0, 0)
	p.tags = tagged.New(p.Fpdf)
	// the same paper gives the same bytes
	made := d.Made.UTC()
	p.SetCatalogSort(true)
	p.SetCreationDate(made)
	p.SetModificationDate(made)
	p.SetProducer("masstone", true)
	p.SetTitle(strings.TrimSpace(d.Kind+" "+d.Name), true)
	p.SetSubject(d.About, true)
	p.SetLang("en")
	p.AddUTF8FontFromBytes("sans", "", liberationsansregular.TTF)
	p.AddUTF8FontFromBytes("sans", "B", liberationsansbold.TTF)
	return p, p.Error()
}

func (p *pdfPage) face(s style) *face {
	if s.bold {
		return p.fonts[1]
	}
	return p.fonts[0]
}

// measure gives widths in mm.
func (p *pdfPage) measure(s style) measure {
	f := p.face(s)
	return func(t string) float64 { return f.ems(f.printable(t)) * s.size * mmPerPoint }
}

// wrap breaks text into lines of at most width mm. A blank between two lines,
// or at the end, stays at the end of its line: it is not seen there, but parts
// the words for who does not read by their places (ISO 32000-1, 14.8.2.5).
func (p *pdfPage) wrap(t string, width float64, s style) []string {
	lines := wrap(t, width+1e-6, p.measure(s))
	for i, l := range lines {
		t = strings.TrimPrefix(strings.TrimLeft(t, " "), l)
		if strings.HasPrefix(t, " ") {
			lines[i] += " "
		}
	}
	return lines
}

// put sets one line of text with its baseline at y.
func (p *pdfPage) put(x, y float64, t string, s style) {
	if t == "" {
		return
	}
	shown := p.face(s).printable(t)
	switch {
	case p.at == nil:
		p.tags.Aside(tagged.Pagination)
	case shown != t:
		p.tags.Instead(p.at, t)
	default:
		p.tags.Into(p.at)
	}
	weight := ""
	if s.bold {
		weight = "B"
	}
	p.SetFont("sans", weight, s.size)
	p.SetTextColor(int(s.ink), int(s.ink), int(s.ink))
	p.Text(x, y, shown)
}

// putRight sets a line that ends at x.
func (p *pdfPage) putRight(x, y float64, t string, s style) {
	p.put(x-p.measure(s)(strings.TrimRight(t, " ")), y, t, s)
}

// leading is the distance of baselines in mm.
func (s style) leading(factor float64) float64 { return s.size * factor * mmPerPoint }

// rise is from the top of a line of text to its baseline.
func (s style) rise(factor float64) float64 {
	return (s.size*0.72 + s.size*(factor-1)/2 + 0.06*s.size) * mmPerPoint
}

func (p *pdfPage) rule(x1, y1, x2, y2, width float64, i ink) {
	p.drawn()
	p.SetLineWidth(width)
	p.SetDrawColor(int(i), int(i), int(i))
	p.Line(x1, y1, x2, y2)
}

func (p *pdfPage) box(x, y, w, h, width float64) {
	p.drawn()
	p.SetLineWidth(width)
	p.SetDrawColor(int(black), int(black), int(black))
	p.Rect(x, y, w, h, "D")
}

func (p *pdfPage) fill(x, y, w, h float64, r, g, b uint8) {
	p.drawn()
	p.SetFillColor(int(r), int(g), int(b))
	p.Rect(x, y, w, h, "F")
}

const tickSide = 3.6

// tick draws a box to tick that stands on the baseline y.
func (p *pdfPage) tick(in *tagged.Element, x, y float64) {
	x, y = x+0.1, y-tickSide+0.5
	p.drawing(in, "box to tick", x, y, tickSide, tickSide, func() { p.box(x, y, tickSide, tickSide, thick) })
}

// blank draws a line to write on, at y.
func (p *pdfPage) blank(in *tagged.Element, x, y, width float64) {
	const room = 6.0
	p.drawing(in, "line to write on", x, y-room, width, room, func() { p.rule(x, y, x+width, y, thick, black) })
}

// need starts a new page unless h mm are left on this one.
func (p *pdfPage) need(h float64) {
	if p.y+h > p.bottom {
		p.turn()
	}
}

func (p *pdfPage) turn() {
	p.AddPage()
	at, s := p.at, style{tiny, false, grey}
	p.at = nil
	p.put(p.left, p.setting.top+s.rise(1.2), p.clipped(p.running+", continued", p.right-p.left, s), s)
	p.at = at
	p.y = p.setting.top + 5
}

// clipped is the beginning of a text that fits on a line.
func (p *pdfPage) clipped(t string, width float64, s style) string {
	if p.measure(s)(t) <= width {
		return t
	}
	part, _ := cut(t, width-p.measure(s)("…"), p.measure(s))
	return part + "…"
}

// text sets running text from p.y down, page by page, and moves p.y below it.
func (p *pdfPage) text(x, width float64, t string, s style, factor float64) {
	if t == "" {
		return
	}
	for _, l := range p.wrap(t, width, s) {
		p.need(s.leading(factor))
		p.put(x, p.y+s.rise(factor), l, s)
		p.y += s.leading(factor)
	}
}

// height is what running text takes.
func (p *pdfPage) height(t string, width float64, s style, factor float64) float64 {
	if t == "" {
		return 0
	}
	return float64(len(p.wrap(t, width, s))) * s.leading(factor)
}

func (p *pdfPage) top(d design) error {
	code, err := codeOf(d.Ref)
	if err != nil {
		return err
	}
	width, start := p.right-p.left, p.y
	if code != nil {
		width -= p.setting.code + 10
	}
	root := p.tags.Root()
	p.into(root, tagged.H1)
	p.text(p.left, width, d.Kind+" ", style{body, true, grey}, p.spaced)
	p.text(p.left, width, d.Name, style{p.name, true, black}, 1.15)
	p.into(root, tagged.P)
	p.text(p.left, width, d.About, style{11, false, black}, p.spaced)
	p.y++
	p.into(root, tagged.P)
	p.text(p.left, width, strings.Join(append([]string{d.Day}, d.Shop...), " · "), style{body, false, grey}, p.spaced)
	if code == nil {
		return nil
	}
	p.code(root, d.Ref, code, p.right-p.setting.code, start+1, p.setting.code/float64(code.Side()))
	s, under := style{6, false, grey}, start+1+p.setting.code*(1+float64(quiet)/float64(code.Side()))
	p.into(root, tagged.P)
	for _, l := range p.wrap(d.Ref.String(), p.setting.code+6, s) {
		p.putRight(p.right, under+s.rise(1.2), l, s)
		under += s.leading(1.2)
	}
	p.y = max(p.y, under)
	return nil
}

// code draws the QR code of a reference with modules unit mm wide.
func (p *pdfPage) code(in *tagged.Element, r Ref, s squares, x, y, unit float64) {
	side := float64(s.Side()) * unit
	p.drawing(in, "code of "+r.String(), x, y, side, side, func() {
		s.runs(func(i, k, length int) {
			p.fill(x+float64(i)*unit, y+float64(k)*unit, float64(length)*unit, unit, 0, 0, 0)
		})
	})
}

// feet numbers the pages once there are all of them.
func (p *pdfPage) feet(d design) {
	pages, s := p.PageCount(), style{tiny, false, grey}
	p.at = nil
	for n := 1; n <= pages; n++ {
		p.SetPage(n)
		p.SetFont("sans", "", s.size+1) // so that the next one is written into this page
		p.SetFillColor(255, 255, 255)
		of := fmt.Sprintf("%d of %d", n, pages)
		y := p.bottom + p.setting.bottom/2
		p.put(p.left, y, p.clipped(d.foot(), p.right-p.left-20, s), s)
		p.putRight(p.right, y, of, s)
	}
}

func (p *pdfPage) heading(t string) {
	if t == "" {
		return
	}
	s := style{body, true, black}
	p.into(p.tags.Root(), tagged.H2)
	for _, l := range p.wrap(t, p.right-p.left, s) {
		p.put(p.left, p.y+s.rise(p.spaced), l, s)
		p.y += s.leading(p.spaced)
	}
	p.y += p.setting.heading
}

func (p *pdfPage) block(b block) {
	switch b := b.(type) {
	case *facts:
		p.facts(b)
	case *band:
		p.band(b)
	case *table:
		p.table(b)
	case *points:
		p.points(b)
	case *clock:
		p.clock(b)
	case *verdict:
		p.verdict(b)
	case *lines:
		p.lines(b)
	case *picture:
		p.picture(b)
	}
}

func (p *pdfPage) facts(b *facts) {
	const columns, gap = 4, 5.0
	p.need(20)
	p.heading(b.Title)
	p.rule(p.left, p.y, p.right, p.y, thick, black)
	width := (p.right - p.left - (columns-1)*gap) / columns
	list := p.tags.Root().Add(tagged.List)
	label, value := style{tiny, false, grey}, style{body, false, black}
	for i := 0; i < len(b.List); i += columns {
		row := b.List[i:min(i+columns, len(b.List))]
		high := 0.0
		for _, f := range row {
			high = max(high, p.height(f.Label, width, label, 1.2)+p.height(f.Value, width, value, 1.3))
		}
		high += p.fact
		p.need(min(high, p.bottom-p.setting.top-10))
		start, end := p.y, p.y+high
		for k, f := range row {
			x := p.left + float64(k)*(width+gap)
			y := start + p.fact/2
			item := list.Add(tagged.Item)
			p.into(item, tagged.Label)
			for _, t := range p.wrap(f.Label, width, label) {
				p.put(x, y+label.rise(1.2), t, label)
				y += label.leading(1.2)
			}
			p.into(item, tagged.Body)
			for _, t := range p.wrap(f.Value, width, value) {
				if y+value.leading(1.3) > p.bottom+4 {
					break // longer than a page: what is left is in the other formats
				}
				p.put(x, y+value.rise(1.3), t, value)
				y += value.leading(1.3)
			}
			p.rule(x, end, x+width, end, thin, line)
		}
		p.y = end
	}
}

func (p *pdfPage) band(b *band) {
	high := p.setting.band
	p.need(high + 12)
	n := float64(len(b.Patches))
	width := (p.right - p.left) / n
	below := p.y
	root := p.tags.Root()
	p.drawing(root, "the colours side by side", p.left, p.y, p.right-p.left, high, func() {
		for i, x := range b.Patches {
			at := p.left + float64(i)*width
			p.fill(at, p.y, width, high, x.Screen.R, x.Screen.G, x.Screen.B)
		}
		p.box(p.left, p.y, p.right-p.left, high, thin)
	})
	for i, x := range b.Patches {
		at := p.left + float64(i)*width
		y := p.y + high + 1
		bold, plain, quietly := style{note, true, black}, style{note, false, black}, style{note, false, grey}
		base := y + plain.rise(p.spaced)
		p.into(root, tagged.P)
		p.put(at, base, x.Role+" ", bold)
		from := at + p.measure(bold)(x.Role+" ")
		p.put(from, base, x.Lab+" ", plain)
		rest := x.Under
		if x.Remark != "" {
			rest += "; " + x.Remark
		}
		from += p.measure(plain)(x.Lab + " ")
		first := p.wrap(rest, at+width-3-from, quietly)
		p.put(from, base, first[0], quietly)
		y += plain.leading(p.spaced)
		for _, l := range p.wrap(strings.TrimSpace(strings.TrimPrefix(rest, first[0])), width-3, quietly) {
			if l != "" {
				p.put(at, y+quietly.rise(p.spaced), l, quietly)
				y += quietly.leading(p.spaced)
			}
		}
		below = max(below, y)
	}
	p.y = below
}

func (p *pdfPage) points(b *points) {
	s, factor, gap, below := style{p.size, false, black}, p.point, 5.0, p.below
	if b.Small {
		s.size, factor = tiny, p.small
	}
	in := 3.5
	if b.Tick {
		in, below = tickColumn, p.setting.tick
	}
	columns := b.Columns()
	width := (p.right - p.left - float64(columns-1)*gap) / float64(columns)
	highs, whole := make([]float64, len(b.List)), p.bottom-p.setting.top-12
	for i, t := range b.List {
		highs[i] = p.height(t, width-in, s, factor) + below
	}
	deep := shallowest(highs, columns)
	if columns > 1 && deep <= whole {
		p.need(deep + 6)
	} else if len(b.List) > 0 {
		p.need(min(highs[0], whole) + 6)
	}
	p.heading(b.Title)
	x, start, deepest := p.left, p.y, p.y
	list := p.tags.Root().Add(tagged.List)
	for i, t := range b.List {
		item := list.Add(tagged.Item)
		p.into(item, tagged.Label)
		switch {
		case columns > 1 && deep <= whole && p.y > start && p.y+highs[i] > start+deep+1e-6:
			x, p.y = x+width+gap, start
		case p.y+highs[i] > p.bottom && highs[i] < whole:
			p.turn()
			start, deepest = p.y, p.y
		}
		if b.Tick {
			p.tick(p.at, x, p.y+s.rise(factor))
		} else {
			p.put(x, p.y+s.rise(factor), "–", style{s.size, false, grey})
		}
		p.into(item, tagged.Body)
		p.text(x+in, width-in, t, s, factor)
		p.y += below
		deepest = max(deepest, p.y)
	}
	p.y = deepest
}

// shallowest is the least height at which pieces fit into that many columns in
// their order.
func shallowest(highs []float64, columns int) float64 {
	least, most := 0.0, 0.0
	for _, h := range highs {
		least, most = max(least, h), most+h
	}
	fits := func(deep float64) bool {
		n, y := 1, 0.0
		for _, h := range highs {
			if y > 0 && y+h > deep+1e-6 {
				n, y = n+1, 0
			}
			y += h
		}
		return n <= columns
	}
	for most-least > 0.05 {
		if mid := (least + most) / 2; fits(mid) {
			most = mid
		} else {
			least = mid
		}
	}
	return most
}

func (p *pdfPage) clock(b *clock) {
	const high = 3.6
	p.need(24)
	p.heading(b.Title)
	span := b.Span()
	if !(span > 0) || math.IsInf(span, 0) {
		return
	}
	at := func(minutes float64) float64 { return p.left + (p.right-p.left)*minutes/span }
	p.drawing(p.tags.Root(), "time line", p.left, p.y, p.right-p.left, high+2, func() {
		for i, x := range bars(b) {
			shade := [2]uint8{0x9a, 0xd4}[i%2]
			p.fill(at(x.From), p.y+1, at(x.To)-at(x.From), high, shade, shade, shade)
		}
		p.box(p.left, p.y+1, p.right-p.left, high, thick)
		for _, m := range b.Ends {
			p.rule(at(m.Minutes), p.y, at(m.Minutes), p.y+high+2, 0.7, black)
		}
	})
	p.y += high + 3
	all := append(append([]moment{}, b.Steps...), b.Ends...)
	width := (p.right - p.left) / float64(len(all))
	big, word := style{11, true, black}, style{note, false, black}
	deep := big.leading(1.25) + word.leading(1.25)
	list := p.tags.Root().Add(tagged.List)
	for i, m := range all {
		x := p.left + float64(i)*width
		if i >= len(b.Steps) {
			p.rule(x, p.y, x, p.y+deep, thick, black)
			x += 2
		}
		item := list.Add(tagged.Item)
		p.into(item, tagged.Label)
		p.put(x, p.y+big.rise(1.25), clockTime(m.Minutes), big)
		set := p.clipped(m.Word, width-2, word)
		if p.into(item, tagged.Body); set != m.Word {
			p.at.Actual = m.Word
		}
		p.put(x, p.y+big.leading(1.25)+word.rise(1.25), set, word)
	}
	p.y += deep
}

func (p *pdfPage) verdict(b *verdict) {
	const padX, padY = 5.6, 3.0
	word, words := style{17, true, black}, style{body, false, black}
	width := p.right - p.left - padX - 4
	high := p.height(b.Word, width, word, 1.2) + p.height(b.Words, width, words, p.spaced) + 2*padY
	p.need(high)
	p.box(p.left, p.y, p.right-p.left, high, thick)
	if b.Passes {
		p.fill(p.left, p.y, 1.6, high, uint8(black), uint8(black), uint8(black))
	} else {
		p.box(p.left+0.8, p.y+0.8, p.right-p.left-1.6, high-1.6, thick)
	}
	end := p.y + high
	p.y += padY
	p.into(p.tags.Root(), tagged.P)
	p.text(p.left+padX, width, b.Word, word, 1.2)
	p.into(p.tags.Root(), tagged.P)
	p.text(p.left+padX, width, b.Words, words, p.spaced)
	p.y = end
}

func (p *pdfPage) lines(b *lines) {
	const gap, least = 4.0, 21.0
	width := p.right - p.left
	s := style{tiny, false, grey}
	perRow := max(1, min(len(b.Labels), int((width+gap)/(least+gap))))
	rows := (len(b.Labels) + perRow - 1) / perRow
	p.need(float64(rows) * (p.write + 4))
	for i := 0; i < len(b.Labels); i += perRow {
		row := b.Labels[i:min(i+perRow, len(b.Labels))]
		each := (width - float64(len(row)-1)*gap) / float64(len(row))
		p.y += p.write - 4
		deep := 0.0
		for k, t := range row {
			x := p.left + float64(k)*(each+gap)
			p.into(p.tags.Root(), tagged.P)
			for n, l := range p.wrap(t, each, s) {
				p.put(x, p.y+0.6+float64(n)*s.leading(1.2)+s.rise(1.2), l, s)
				deep = max(deep, float64(n+1)*s.leading(1.2)+0.6)
			}
			p.blank(p.at, x, p.y, each)
		}
		p.y += deep
	}
}

func (p *pdfPage) stickers(b *stickers, size Size) error {
	g, err := b.on(size)
	if err != nil {
		return err
	}
	for _, sheet := range b.sheets(g) {
		p.AddPage()
		for _, x := range sheet.Places {
			p.sticker(x, g, b.Cut)
		}
	}
	return p.Error()
}

func (p *pdfPage) sticker(at placed, g Grid, cutAlong bool) {
	s, label := at.Label, p.tags.Root().Add(tagged.Section)
	if cutAlong {
		p.drawn()
		p.SetDashPattern([]float64{0.4, 0.8}, 0)
		p.SetDrawColor(int(grey), int(grey), int(grey))
		p.SetLineWidth(0.1)
		p.Rect(at.X, at.Y, g.Width, g.Height, "D")
		p.SetDashPattern(nil, 0)
	}
	x := at.X + g.Side()
	if at.Code > 0 {
		x = at.X + g.Before() + at.Code + 0.5
	}
	set := s.fitted(g, p.fonts)
	deep := 0.0
	for _, l := range set {
		deep += l.Size * labelLeading * mmPerPoint
	}
	y, role := at.Y+(g.Height-deep)/2, tagged.H1
	for _, l := range set {
		s := style{l.Size, l.Bold, black}
		if l.Of != "" {
			p.into(label, role)
			role = tagged.P
			if l.Of != l.Text {
				p.at.Actual = l.Of
			}
		}
		p.put(x, y+s.rise(labelLeading), l.Text, s)
		y += s.leading(labelLeading)
	}
	if at.Code > 0 {
		unit := at.Code / float64(s.Squares.Framed())
		p.code(label, s.Ref, s.Squares, at.X+g.Before()+quiet*unit, at.Y+(g.Height-at.Code)/2+quiet*unit, unit)
	}
	if s.Screen != nil {
		from, high := at.X+g.Width-g.Side()-g.Strip(), g.Height-2*g.Side()
		p.drawing(label, "the colour", from, at.Y+g.Side(), g.Strip(), high, func() {
			p.fill(from, at.Y+g.Side(), g.Strip(), high, s.Screen.R, s.Screen.G, s.Screen.B)
			p.box(from, at.Y+g.Side(), g.Strip(), high, thin)
		})
	}
}
