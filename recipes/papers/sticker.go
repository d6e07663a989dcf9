package papers

import "strings"

// labelLine is a line of a label as it is set.
type labelLine struct {
	Text string
	Of   string  // the text whose first line it is
	Size float64 // points
	Bold bool
}

// Leading of a label's lines, and its measures in mm. Printers leave about 4 mm
// at the edge of a sheet blank, so nothing stands nearer to a side.
const (
	labelLeading = 1.22
	labelSide    = 4.0 // left and right
	labelEdge    = 1.2 // above and below
	labelCode    = 1.5 // left of a code, which has a light margin of its own
	stripWidth   = 5.0
	stripGap     = 1.5
)

// fitted sets a label's texts into the room beside its code: the code as large
// as it goes on one line, the name on at most two lines, and as many further
// lines as there is room for.
func (s sticker) fitted(g Grid, fonts [2]*face) []labelLine {
	width, height := g.Width-2*labelSide, g.Height-2*labelEdge
	if s.Squares != nil {
		width -= g.codeSide() + labelCode + 0.5 - labelSide
	}
	if s.Screen != nil {
		width -= stripWidth + stripGap
	}
	var out []labelLine
	add := func(text string, size float64, bold bool, most int) {
		f := fonts[map[bool]int{false: 0, true: 1}[bold]]
		wide := func(t string) float64 { return f.ems(f.printable(t)) * size * mmPerPoint }
		deep := size * labelLeading * mmPerPoint
		lines := wrap(text, width, wide)
		most = min(most, int(height/deep))
		if len(lines) > most && most > 0 {
			// the last line says that there is more
			rest := strings.Join(lines[most-1:], " ")
			part, _ := cut(rest, width-wide("…"), wide)
			lines[most-1] = strings.TrimRight(part, " ") + "…"
		}
		of := text
		for _, l := range lines[:min(len(lines), most)] {
			height -= deep
			out = append(out, labelLine{l, of, size, bold})
			of = ""
		}
	}
	size := 14.0
	for size > 8 && fonts[1].ems(fonts[1].printable(s.Code))*size*mmPerPoint > width {
		size -= 0.5
	}
	add(s.Code, size, true, 3)
	if s.Name != "" {
		add(s.Name, 8.5, false, 2)
	}
	for _, l := range s.Lines {
		add(l, 7.5, false, 2)
	}
	return out
}
