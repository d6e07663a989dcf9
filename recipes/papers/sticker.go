package papers

import (
	"math"
	"strings"
)

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

// Of labels that are cut out, away from the edge of the sheet, mm.
const (
	cutSide  = 1.0
	cutEdge  = 0.6
	cutStrip = 2.0
)

// leastModule is the smallest square of a code that a telephone reads, mm (common
// practice, no source).
const leastModule = 0.25

// cutOut tells whether no label is at the edge of its sheet.
func (g Grid) cutOut() bool { return g.Left >= blankEdge }

// Side, Strip and Before are the margins of a label, the width of its colour, and
// what is left of its code, mm.
func (g Grid) Side() float64   { return map[bool]float64{true: cutSide, false: labelSide}[g.cutOut()] }
func (g Grid) Strip() float64  { return map[bool]float64{true: cutStrip, false: stripWidth}[g.cutOut()] }
func (g Grid) Before() float64 { return map[bool]float64{true: 0, false: labelCode}[g.cutOut()] }

func (g Grid) edge() float64 { return map[bool]float64{true: cutEdge, false: labelEdge}[g.cutOut()] }

// scale is how much smaller than usual the type of a low label is.
func (g Grid) scale() float64 { return min(1, max(0.6, g.Height/25)) }

// codeOn is the side of a label's code, quiet zone included; 0 without one, or where
// its squares would be too small to read.
func (s sticker) codeOn(g Grid) float64 {
	if s.Squares == nil || g.codeSide()/float64(s.Squares.Framed()) < leastModule {
		return 0
	}
	return g.codeSide()
}

// fitted sets a label's texts into the room beside its code: the code as large
// as it goes on one line, the name on at most two lines, and as many further
// lines as there is room for.
func (s sticker) fitted(g Grid, fonts [2]*face) []labelLine {
	width, height := g.Width-2*g.Side(), g.Height-2*g.edge()
	if code := s.codeOn(g); code > 0 {
		width -= code + g.Before() + 0.5 - g.Side()
	}
	if s.Screen != nil {
		width -= g.Strip() + stripGap
	}
	points := func(size float64) float64 { return max(5, math.Round(2*size*g.scale())/2) }
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
	size := points(14)
	for size > points(8) && fonts[1].ems(fonts[1].printable(s.Code))*size*mmPerPoint > width {
		size -= 0.5
	}
	add(s.Code, size, true, 3)
	if s.Name != "" {
		add(s.Name, points(8.5), false, 2)
	}
	for _, l := range s.Lines {
		add(l, points(7.5), false, 2)
	}
	return out
}
