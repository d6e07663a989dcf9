package calibrate

import (
	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/mat"

	"masstone/calibrate/minimize"
	"masstone/color"
)

// A system is the normal equations of a problem and its castings linearised. In a
// straight shop each casting has so few unknowns of its own that the equations stay
// local (local.go), which is solved faster; by blocks they also give what is known of
// all unknowns, in any shop.
type system struct {
	*minimize.Blocks
	p       *problem
	linear  []linear // per casting
	work    workspace
	local   *local
	byLocal bool // solve by local
	filled  bool // the blocks hold the sum
}

// system makes room for the normal equations of this problem.
func (p *problem) system() *system {
	return &system{p: p, linear: make([]linear, len(p.castings))}
}

// blocks makes blocks of this problem's shape.
func (p *problem) blocks() *minimize.Blocks {
	var size []int
	shared := p.curves
	for q := range p.curves {
		end := p.start[q+1]
		size = append(size, end-p.start[q])
	}
	size = append(size, p.sharedCount())
	var groups [][]int
	for q := range p.curves {
		groups = append(groups, []int{q, shared})
	}
	for i := range p.castings {
		groups = append(groups, append([]int{shared}, p.readings[p.castings[i].readings[0]].curve...))
	}
	return minimize.NewBlocks(size, groups)
}

// fill fills the blocks with what was linearised.
func (s *system) fill() {
	p := s.p
	if s.Blocks == nil {
		s.Blocks = p.blocks()
	}
	s.filled = true
	s.Zero()
	for k := range p.prec {
		q, first := k/2, k%2*color.Bands
		for b := range color.Bands {
			for gap := range min(b+1, 3) {
				s.AddWithin(q, first+b, first+b-gap, p.prec[k][gap][b])
			}
		}
	}
	for q := 1; q < p.curves; q++ {
		s.AddWithin(q, perCurve, perCurve, 1)
	}
	for k := range p.sharedCount() {
		s.AddWithin(p.curves, k, k, 1)
	}
	each(len(s.linear), func(i int) { s.linear[i].weighAll() })
	each(p.curves+1, func(block int) { // which no other adds to
		for i := range s.linear {
			l := &s.linear[i]
			l.all(func(a *columns) {
				if a.block == block {
					s.add(l, a)
				}
			})
		}
	})
}

// Factor factors the equations with damping added to the diagonal, Solve and LogDet
// follow it.
func (s *system) Factor(damping float64) error {
	if s.byLocal {
		if s.local == nil {
			s.local = newLocal(s.p)
		}
		return s.local.factor(s, damping)
	}
	if !s.filled {
		s.fill()
	}
	return s.Blocks.Factor(damping)
}

func (s *system) Solve(g []float64) {
	if s.byLocal {
		s.local.solve(g)
		return
	}
	s.Blocks.Solve(g)
}

func (s *system) LogDet() float64 {
	if s.byLocal {
		return s.local.logDet(s)
	}
	return s.Blocks.LogDet()
}

// of lists the readings of a casting.
func (p *problem) of(c *casting) []*reading {
	out := make([]*reading, len(c.readings))
	for i, k := range c.readings {
		out[i] = &p.readings[k]
	}
	return out
}

// add adds what a casting says of the unknowns of one block, with those of blocks
// before it.
func (s *system) add(l *linear, a *columns) {
	l.all(func(b *columns) {
		if s.Later(a.block, b.block) {
			l.meet(a, b, s.Block(a.block, b.block), s.Size(b.block))
		}
	})
}

// pull adds J' M r of one block.
func (l *linear) pull(a *columns, start int, g []float64) {
	for i, v := range l.mr {
		if a.k != nil {
			g[start+l.band[i]] += a.k[i] * v
			g[start+color.Bands+l.band[i]] += a.s[i] * v
		}
	}
	if a.dense.Cols > 0 {
		blas64.Gemv(blas.Trans, 1, a.dense, vector(l.mr), 1, vector(g[start+a.at:start+a.at+a.dense.Cols]))
	}
}

// meet adds J_a' M J_b to rows of block a and columns of block b.
func (l *linear) meet(a, b *columns, out []float64, width int) {
	n := l.n
	if a.k != nil && b.k != nil {
		for i := range n {
			upper, lower := out[l.band[i]*width:], out[(color.Bands+l.band[i])*width:]
			ak, as := a.k[i], a.s[i]
			row := l.m.Data[i*n : i*n+n]
			for j, m := range row {
				c := l.band[j]
				bk, bs := m*b.k[j], m*b.s[j]
				upper[c] += ak * bk
				upper[color.Bands+c] += ak * bs
				lower[c] += as * bk
				lower[color.Bands+c] += as * bs
			}
		}
	}
	if a.k != nil && b.dense.Cols > 0 {
		for i := range n {
			upper, lower := out[l.band[i]*width+b.at:], out[(color.Bands+l.band[i])*width+b.at:]
			for j, v := range b.weighed.Data[i*b.weighed.Stride : i*b.weighed.Stride+b.dense.Cols] {
				upper[j] += a.k[i] * v
				lower[j] += a.s[i] * v
			}
		}
	}
	if a.dense.Cols > 0 && b.k != nil {
		for i := range n {
			c := l.band[i]
			for j, v := range a.weighed.Data[i*a.weighed.Stride : i*a.weighed.Stride+a.dense.Cols] {
				row := out[(a.at+j)*width:]
				row[c] += v * b.k[i]
				row[color.Bands+c] += v * b.s[i]
			}
		}
	}
	if a.dense.Cols > 0 && b.dense.Cols > 0 {
		part := blas64.General{Rows: a.dense.Cols, Cols: b.dense.Cols, Stride: width, Data: out[a.at*width+b.at:]}
		blas64.Gemm(blas.Trans, blas.NoTrans, 1, a.dense, b.weighed, 1, part)
	}
}

// along adds J dx to out.
func (l *linear) along(s *system, dx, out []float64) {
	l.all(func(a *columns) {
		start := s.p.start[a.block]
		if a.k != nil {
			for i := range out {
				out[i] += a.k[i]*dx[start+l.band[i]] + a.s[i]*dx[start+color.Bands+l.band[i]]
			}
		}
		if a.dense.Cols > 0 {
			blas64.Gemv(blas.NoTrans, 1, a.dense, vector(dx[start+a.at:start+a.at+a.dense.Cols]), 1, vector(out))
		}
	})
}

// settle returns what a casting's own unknowns are once the others move by dx,
// by (5).
func (l *linear) settle(s *system, dx, u []float64) {
	rest := make([]float64, l.n)
	l.along(s, dx, rest)
	for i := range rest {
		rest[i] = l.r[i] - rest[i]
	}
	m := make([]float64, l.n)
	blas64.Symv(1, l.m, vector(rest), 0, vector(m))
	if len(u) > 0 {
		blas64.Gemv(blas.Trans, 1, l.own, vector(m), 0, vector(u))
	}
}

// look sets the spread of every casting, J H^-1 J', once Invert was called.
func (s *system) look() {
	each(len(s.linear), func(i int) {
		l := &s.linear[i]
		l.spread = l.take(l.n * l.n)
		part := l.matrix(l.n, l.n)
		l.all(func(a *columns) {
			l.all(func(b *columns) {
				switch {
				case !s.Later(a.block, b.block):
				case a.block == b.block:
					s.spread(l, a, b, blas64.General{Rows: l.n, Cols: l.n, Stride: l.n, Data: l.spread})
				default:
					clear(part.Data)
					s.spread(l, a, b, part)
					for i := range l.n {
						for j := range l.n {
							l.spread[i*l.n+j] += part.Data[i*l.n+j] + part.Data[j*l.n+i]
						}
					}
				}
			})
		})
	})
}

// spread adds J_a Z J_b' to out, Z the part of H^-1 of two blocks, Later(a, b).
func (s *system) spread(l *linear, a, b *columns, out blas64.General) {
	data, _ := s.Inverse(a.block, b.block)
	wa, wb := s.Size(a.block), s.Size(b.block)
	used := l.used
	jz := l.matrix(l.n, wb)
	defer func() { l.used = used }() // the room is for the next
	if a.dense.Cols > 0 {
		z := blas64.General{Rows: wa - a.at, Cols: wb, Stride: wb, Data: data[a.at*wb:]}
		blas64.Gemm(blas.NoTrans, blas.NoTrans, 1, a.dense, z, 0, jz)
	}
	if a.k != nil {
		for i, band := range l.band {
			row := vector(jz.Data[i*wb : (i+1)*wb])
			blas64.Axpy(a.k[i], vector(data[band*wb:(band+1)*wb]), row)
			blas64.Axpy(a.s[i], vector(data[(color.Bands+band)*wb:(color.Bands+band+1)*wb]), row)
		}
	}
	if b.dense.Cols > 0 {
		right := blas64.General{Rows: l.n, Cols: b.dense.Cols, Stride: wb, Data: jz.Data[b.at:]}
		blas64.Gemm(blas.NoTrans, blas.Trans, 1, right, b.dense, 1, out)
	}
	if b.k != nil {
		for i := range l.n {
			row, to := jz.Data[i*wb:(i+1)*wb], out.Data[i*out.Stride:i*out.Stride+l.n]
			for j, band := range l.band {
				to[j] += row[band]*b.k[j] + row[color.Bands+band]*b.s[j]
			}
		}
	}
}

// spreadOf returns J H^-1 J' of readings that are not among the castings, as
// linearised in l.
func (s *system) spreadOf(l *linear) *mat.SymDense {
	n := s.p.n
	rows := make([][]float64, l.n)
	for i := range rows {
		rows[i] = make([]float64, n)
		l.all(func(c *columns) {
			start := s.p.start[c.block]
			if c.k != nil {
				rows[i][start+l.band[i]] += c.k[i]
				rows[i][start+color.Bands+l.band[i]] += c.s[i]
			}
			for k, v := range c.dense.Data[i*c.dense.Stride : i*c.dense.Stride+c.dense.Cols] {
				rows[i][start+c.at+k] += v
			}
		})
	}
	out := mat.NewSymDense(l.n, nil)
	for i := range rows {
		solved := append([]float64(nil), rows[i]...)
		s.Solve(solved)
		for k := i; k < l.n; k++ {
			out.SetSym(i, k, blas64.Dot(vector(solved), vector(rows[k])))
		}
	}
	return out
}
