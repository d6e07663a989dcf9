package papers

import (
	"fmt"
	"strings"
	"sync"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	point26 "golang.org/x/image/math/fixed"
)

// face measures one of the two fonts a page is set in.
type face struct {
	file *sfnt.Font
	unit point26.Int26_6
	buf  sfnt.Buffer
	wide map[rune]float64 // in ems; negative where the font has no glyph
}

// parsed are the fonts; a parsed font is safe to share.
var parsed = sync.OnceValues(func() (fonts [2]*sfnt.Font, err error) {
	for i, data := range [2][]byte{liberationsansregular.TTF, liberationsansbold.TTF} {
		if fonts[i], err = sfnt.Parse(data); err != nil {
			return fonts, fmt.Errorf("papers: font: %w", err)
		}
	}
	return fonts, nil
})

// faces are the regular and the bold, for one page at a time.
func faces() (out [2]*face, err error) {
	fonts, err := parsed()
	if err != nil {
		return out, err
	}
	for i, f := range fonts {
		out[i] = &face{file: f, unit: point26.I(int(f.UnitsPerEm())), wide: map[rune]float64{}}
	}
	return out, nil
}

// missing stands for what the font has no glyph of.
const missing = '\u25a1'

// advance is a letter's width in ems, and whether the font has it. Letters
// beyond the basic plane are not embedded.
func (f *face) advance(r rune) (ems float64, has bool) {
	if w, known := f.wide[r]; known {
		return max(w, 0), w >= 0
	}
	f.wide[r] = -1
	if r > 0xffff {
		return 0, false
	}
	glyph, err := f.file.GlyphIndex(&f.buf, r)
	if err != nil || glyph == 0 {
		return 0, false
	}
	a, err := f.file.GlyphAdvance(&f.buf, glyph, f.unit, font.HintingNone)
	if err != nil {
		return 0, false
	}
	f.wide[r] = float64(a) / float64(f.unit)
	return f.wide[r], true
}

// printable is s in letters that the font has.
func (f *face) printable(s string) string {
	return strings.Map(func(r rune) rune {
		if _, has := f.advance(r); !has {
			return missing
		}
		return r
	}, s)
}

// ems is the width of a printable text.
func (f *face) ems(s string) float64 {
	sum := 0.0
	for _, r := range s {
		w, _ := f.advance(r)
		sum += w
	}
	return sum
}

// mmPerPoint is a typographic point, 1/72 inch.
const mmPerPoint = 25.4 / 72
