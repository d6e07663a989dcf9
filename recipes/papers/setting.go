package papers

// A setting is how closely a page is set: measures in mm, sizes in points,
// leading in sizes of type.
type setting struct {
	top     float64 // blank above the text of a page
	bottom  float64 // and below
	code    float64 // side of the code beside the name
	name    float64 // size of the paper's name
	spaced  float64 // leading of running text
	gap     float64 // between blocks
	heading float64 // below a heading
	fact    float64 // above and below a fact, together
	band    float64 // height of colours side by side
	row     float64 // above and below a row of a table
	large   float64 // the same at the scale
	cell    float64 // leading of cells
	size    float64 // of points
	point   float64 // leading of points
	small   float64 // the same of reference matter
	below   float64 // below a point
	tick    float64 // below one that is ticked off
	write   float64 // above a line to write on, by itself
}

// usually is the setting of most papers; closely takes the place of it where that
// saves a page, so that a short sheet is one page with its cautions.
var (
	usually = setting{top: marginTop, bottom: marginBottom, code: 18, name: 25, spaced: 1.4, gap: 3.9, heading: 1.2, fact: 2.6, band: 11, row: 1.1, large: 1.25, cell: 1.25,
		size: 9, point: 1.36, small: 1.3, below: 0.7, tick: 0.7, write: 8}
	closely = setting{top: 8, bottom: 12, code: 15, name: 18, spaced: 1.25, gap: 2.5, heading: 0.6, fact: 1.5, band: 6, row: 0.6, large: 0.6, cell: 1.13,
		size: 8.5, point: 1.2, small: 1.18, below: 0.3, tick: 0.8, write: 6.5}
)

// shortest sets a design, closely where that takes fewer pages.
func (d design) shortest(o Options) (p *pdfPage, close bool, err error) {
	if p, err = d.set(o, usually); err != nil || p.PageCount() < 2 {
		return p, false, err
	}
	c, err := d.set(o, closely)
	if err == nil && c.PageCount() < p.PageCount() {
		return c, true, nil
	}
	return p, false, err
}
