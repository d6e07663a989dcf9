package papers

import "image"

// Wrap, Fit and the rest are the setting's small parts, for tests.
var (
	Wrap   = wrap
	Tidy   = tidy
	Fixed  = fixed
	Signed = signed
)

// FitColumns fits columns given as natural, least and hard widths.
func FitColumns(columns [][3]float64, wraps []bool, width float64) []float64 {
	rooms := make([]room, len(columns))
	for i, c := range columns {
		rooms[i] = room{c[0], c[1], c[2], wraps[i]}
	}
	return fit(rooms, width)
}

// CodeImage draws the code of a reference, scale pixels a module.
func CodeImage(r Ref, scale int) (image.Image, error) {
	s, err := codeOf(r)
	if err != nil {
		return nil, err
	}
	img := image.NewGray(image.Rect(0, 0, s.Framed()*scale, s.Framed()*scale))
	for i := range img.Pix {
		img.Pix[i] = 0xff
	}
	s.runs(func(x, y, length int) {
		for dy := range scale {
			for dx := range length * scale {
				img.Pix[img.PixOffset((x+quiet)*scale+dx, (y+quiet)*scale+dy)] = 0
			}
		}
	})
	return img, nil
}

// Advances are the widths of letters in ems, in the PDF's regular and bold
// font, and whether the font has them.
func Advances() ([2]func(rune) (float64, bool), error) {
	f, err := faces()
	return [2]func(rune) (float64, bool){f[0].advance, f[1].advance}, err
}

// Page margins in mm.
const (
	MarginX    = marginX
	LabelSide  = labelSide
	MMPerPoint = mmPerPoint
)

// MarginTop and MarginBottom are what every setting leaves blank.
func MarginTop() float64    { return min(usually.top, closely.top) }
func MarginBottom() float64 { return min(usually.bottom, closely.bottom) }
