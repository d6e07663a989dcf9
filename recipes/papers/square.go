package papers

import (
	"fmt"
	"strconv"

	"github.com/boombuler/barcode/qr"
)

// squares is a QR code (ISO/IEC 18004) as its dark modules, row by row,
// without the quiet zone.
type squares [][]bool

// quiet is the light margin that a code needs around it, in modules (ISO/IEC
// 18004). Beside a page's head the page gives it.
const quiet = 4

// codeOf encodes a reference with correction level M, 15 % of the code.
func codeOf(r Ref) (squares, error) {
	if r.None() {
		return nil, nil
	}
	code, err := qr.Encode(r.String(), qr.M, qr.Auto)
	if err != nil {
		return nil, fmt.Errorf("papers: code %s: %w", r, err)
	}
	size := code.Bounds().Dx()
	out := make(squares, size)
	for y := range out {
		out[y] = make([]bool, size)
		for x := range out[y] {
			level, _, _, _ := code.At(x, y).RGBA()
			out[y][x] = level == 0
		}
	}
	return out, nil
}

// runs calls f for every horizontal run of dark modules, whose pieces would
// otherwise show seams on paper.
func (s squares) runs(f func(x, y, length int)) {
	for y, row := range s {
		for x := 0; x < len(row); {
			from := x
			for x < len(row) && row[x] {
				x++
			}
			if x > from {
				f(from, y, x-from)
			}
			x++
		}
	}
}

// Path is the code as an SVG path, one unit a module.
func (s squares) Path() string {
	var d []byte
	s.runs(func(x, y, length int) {
		d = append(d, 'M')
		d = strconv.AppendInt(d, int64(x), 10)
		d = append(d, ' ')
		d = strconv.AppendInt(d, int64(y), 10)
		d = append(d, 'h')
		d = strconv.AppendInt(d, int64(length), 10)
		d = append(d, "v1h-"...)
		d = strconv.AppendInt(d, int64(length), 10)
		d = append(d, 'z')
	})
	return string(d)
}

// Side is the modules on a side, without the quiet zone.
func (s squares) Side() int { return len(s) }

// Framed is Side with the quiet zone.
func (s squares) Framed() int { return len(s) + 2*quiet }
