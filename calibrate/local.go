package calibrate

import (
	"masstone/calibrate/minimize"
	"masstone/color"
)

// A local is the normal equations of a straight shop: smoothness and spectra tie
// neighbouring bands, what is a casting's own and what all share of the surface stand
// in the border, and colours are a few far-reaching rows.
type local struct {
	*minimize.Bordered
	at     []int // per unknown: its place, -1 for one that nothing speaks of
	own    []int // per casting: the place of its first
	g      []float64
	far    int     // rows filled so far
	border []entry // of a row
}

// isLocal reports whether the equations are local, and better solved so: their work goes
// with the cube of what is in the border or reaches far, that of blocks with the cube of
// the curves.
func (p *problem) isLocal() bool {
	if !p.isStraight() {
		return false
	}
	reaching := 0
	for i := range p.castings {
		for _, k := range p.castings[i].readings {
			if r := &p.readings[k]; r.chip.Spectrum == nil {
				reaching += r.rows()
			}
		}
		if p.bySpectra {
			reaching += p.strays(&p.castings[i])
		}
	}
	return 3*reaching <= 2*p.curves*perCurve // as timed
}

// newLocal makes the equations of a problem. With spectra in evidence the bands of all
// curves stand together, since a spectrum ties curves within a band; with colours
// alone each curve stands by itself, since only smoothness is local.
func newLocal(p *problem) *local {
	n, far := 2*p.curves*color.Bands, 0
	l := &local{at: make([]int, p.n)}
	for q := range p.curves {
		for kind := range 2 {
			for b := range color.Bands {
				place := (2*q+kind)*color.Bands + b
				if p.bySpectra {
					place = b*2*p.curves + 2*q + kind
				}
				l.at[p.unknown(q, kind == 1, b)] = place
			}
		}
		if q > 0 {
			l.at[p.start[q]+perCurve] = -1
		}
	}
	next := n
	for i := p.start[p.curves]; i < p.n; i++ {
		if l.at[i] = -1; i != p.crowd {
			l.at[i] = next
			next++
		}
	}
	for i := range p.castings {
		c := &p.castings[i]
		l.own = append(l.own, next)
		next += p.strays(c)
		for _, k := range c.readings {
			if r := &p.readings[k]; r.chip.Spectrum == nil {
				far += r.rows()
			}
		}
	}
	width := 2
	if p.bySpectra {
		width = 4 * p.curves
	}
	l.Bordered, l.g = minimize.NewBordered(n, next-n, far, width), make([]float64, next)
	return l
}

// factor factors the equations of what s has linearised.
func (l *local) factor(s *system, damping float64) error {
	p := s.p
	l.Zero()
	for k := range p.prec {
		q, scatter := k/2, k%2 == 1
		for b := range color.Bands {
			i := l.at[p.unknown(q, scatter, b)]
			l.AddBand(i, i, p.prec[k][0][b]+damping)
			for gap := 1; gap < min(b+1, 3); gap++ {
				l.AddBand(i, l.at[p.unknown(q, scatter, b-gap)], p.prec[k][gap][b])
			}
		}
	}
	for i := p.start[p.curves]; i < p.n; i++ {
		if l.at[i] >= 0 {
			l.AddCorner(l.at[i]-l.N, l.at[i]-l.N, 1)
		}
	}
	l.far = 0
	for i := range s.linear {
		for e := range s.linear[i].own.Cols {
			d := l.own[i] + e - l.N
			l.AddCorner(d, d, 1)
		}
		l.add(p, i, &s.linear[i])
	}
	return l.Factor()
}

// entry is one derivative of a number read.
type entry struct {
	at    int
	value float64
}

// add adds a casting's readings, row after row.
func (l *local) add(p *problem, casting int, of *linear) {
	var room [2 * (MaxComponents + 1)]entry
	for row := range of.n {
		if of.band[row] < 0 {
			l.addFar(p, casting, of, row)
			continue
		}
		inner, border, b := room[:0], l.border[:0], of.band[row]
		put := func(unknown int, v float64) {
			if at := l.at[unknown]; v == 0 || at < 0 {
				return
			} else if at < l.N {
				inner = append(inner, entry{at, v})
			} else {
				border = append(border, entry{at, v})
			}
		}
		of.all(func(c *columns) {
			start := p.start[c.block]
			if c.k != nil {
				put(start+b, c.k[row])
				put(start+color.Bands+b, c.s[row])
			}
			for j, v := range c.dense.Data[row*c.dense.Stride : row*c.dense.Stride+c.dense.Cols] {
				put(start+c.at+j, v)
			}
		})
		for e, v := range of.own.Data[row*of.own.Stride : row*of.own.Stride+of.own.Cols] {
			if v != 0 {
				border = append(border, entry{l.own[casting] + e, v})
			}
		}
		l.border = border
		for i, u := range inner {
			for _, v := range inner[:i+1] {
				l.AddBand(max(u.at, v.at), min(u.at, v.at), u.value*v.value)
			}
			for _, v := range border {
				l.AddBorder(u.at, v.at-l.N, u.value*v.value)
			}
		}
		for i, u := range border {
			for _, v := range border[:i+1] {
				l.AddCorner(max(u.at, v.at)-l.N, min(u.at, v.at)-l.N, u.value*v.value)
			}
		}
	}
}

// addFar adds a row of a colour.
func (l *local) addFar(p *problem, casting int, of *linear, row int) {
	far := l.Row(l.far)
	l.far++
	of.all(func(c *columns) {
		start := p.start[c.block]
		for j, v := range c.dense.Data[row*c.dense.Stride : row*c.dense.Stride+c.dense.Cols] {
			if at := l.at[start+c.at+j]; at >= 0 {
				far[at] = v
			}
		}
	})
	copy(far[l.own[casting]:], of.own.Data[row*of.own.Stride:row*of.own.Stride+of.own.Cols])
}

// solve overwrites g, of what castings share, with H^-1 g.
func (l *local) solve(g []float64) {
	clear(l.g)
	for i, at := range l.at {
		if at >= 0 {
			l.g[at] = g[i]
		}
	}
	l.Solve(l.g)
	for i, at := range l.at {
		if at >= 0 {
			g[i] = l.g[at]
		}
	}
}

// logDet is ln det H once each casting's own unknowns are taken out.
func (l *local) logDet(s *system) float64 {
	sum := l.LogDet()
	for i := range s.linear {
		sum -= s.linear[i].logDet
	}
	return sum
}
