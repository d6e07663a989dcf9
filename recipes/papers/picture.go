package papers

import (
	"bytes"
	"fmt"
	"html/template"
	"image/png"

	"codeberg.org/go-pdf/fpdf"
)

// picture is a chart: SVG on a page of HTML, PNG in a PDF. Text has none.
type picture struct {
	Alt  string
	Wide float64 // share of the width of the page
	svg  []byte
	png  []byte
}

func (b *picture) texts(f func(...*string)) { f(&b.Alt) }

// SVG is the drawing as it stands within a page of HTML.
func (b *picture) SVG() template.HTML {
	if i := bytes.Index(b.svg, []byte("<svg")); i > 0 {
		return template.HTML(b.svg[i:])
	}
	return template.HTML(b.svg)
}

// Percent is its share of the width of the page.
func (b *picture) Percent() string { return fmt.Sprintf("%.0f%%", 100*b.Wide) }

// picture sets a chart as wide as it is to be, less where a page is too short for it.
func (p *pdfPage) picture(b *picture) {
	size, err := png.DecodeConfig(bytes.NewReader(b.png))
	if err != nil {
		p.SetErrorf("papers: chart %q is no PNG: %v", b.Alt, err)
		return
	}
	wide := b.Wide * (p.right - p.left)
	high := wide * float64(size.Height) / float64(size.Width)
	if most := p.bottom - p.setting.top - 12; high > most {
		wide, high = wide*most/high, most
	}
	p.need(high)
	name := fmt.Sprintf("picture %d", p.pictures)
	p.pictures++
	options := fpdf.ImageOptions{ImageType: "PNG"}
	p.RegisterImageOptionsReader(name, options, bytes.NewReader(b.png))
	p.drawing(p.tags.Root(), b.Alt, p.left, p.y, wide, high, func() {
		p.drawn()
		p.ImageOptions(name, p.left, p.y, wide, high, false, options, 0, "")
	})
	p.y += high
}
