package minimize

import (
	"math"
	"math/bits"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/lapack/lapack64"
)

// A far is C = I + T T' for the whitened far-reaching rows T (M x (N+D)),
// factored.
//
// A colour reading reaches the curves of its own chip only: those of the resin
// and the white, in most chips, and of one or a few pigments. Without the
// columns V that most rows reach, the hub, rows fall into groups that see
// nothing of each other:
//
//	C = G + V V',  G = U'U block diagonal                  (2)
//	C^-1 = U^-1 (I - W' S^-1 W) U^-T,  W = V' U^-1,  S = I + W W'
//
// (Woodbury's identity; Golub and Van Loan, Matrix Computations, 2.1.4). Rows
// without such groups are one group with an empty hub.
type far struct {
	m      int
	pieces []piece // of the columns
	words  int
	mask   []uint64 // per row, which pieces are not zero

	order  []int // the rows, group after group
	groups []group
	block  []float64 // memory of the groups' U
	hub    []piece
	width  int       // columns of the hub
	w      []float64 // W, width x M, columns in order
	s      []float64 // S, then its upper factor
	column []float64
	inner  []float64
}

// A piece is a range of columns.
type piece struct{ from, to int }

// A group is rows order[from:to] and the upper factor of their part of G.
type group struct {
	from, to int
	u        blas64.Triangular
}

// segment is the length of a piece of the local columns: a curve of 31 bands
// fills one. Each border column is a piece.
const segment = 31

func newFar(n, d, m int) *far {
	f := &far{m: m, order: make([]int, m), column: make([]float64, m)}
	for lo := 0; lo < n; lo += segment {
		f.pieces = append(f.pieces, piece{lo, min(lo+segment, n)})
	}
	for k := range d {
		f.pieces = append(f.pieces, piece{n + k, n + k + 1})
	}
	f.words = (len(f.pieces) + 63) / 64
	f.mask = make([]uint64, m*f.words)
	return f
}

func (f *far) touches(row, piece int) bool {
	return f.mask[row*f.words+piece/64]>>(piece%64)&1 == 1
}

// factor factors C for the rows that row returns.
func (f *far) factor(row func(int) []float64) error {
	f.look(row)
	f.split()
	f.fill(row)
	failed := make([]bool, len(f.groups))
	h := f.width
	eachOnCores(len(f.groups), 1, func(g int) {
		p := &f.groups[g]
		n := p.to - p.from
		var ok bool
		if p.u, ok = lapack64.Potrf(blas64.Symmetric{N: n, Stride: n, Uplo: blas.Upper, Data: p.u.Data}); !ok {
			failed[g] = true
			return
		}
		if h > 0 {
			blas64.Trsm(blas.Right, blas.NoTrans, 1, p.u, f.columns(f.w, h, p))
		}
	})
	for _, bad := range failed {
		if bad {
			return ErrNotPositive
		}
	}
	if h == 0 {
		return nil
	}
	eachOnCores(h, 8, func(i int) {
		a := f.w[i*f.m : (i+1)*f.m]
		for j := i; j < h; j++ {
			v := floats.Dot(a, f.w[j*f.m:(j+1)*f.m])
			if i == j {
				v++
			}
			f.s[i*h+j] = v
		}
	})
	if _, ok := lapack64.Potrf(blas64.Symmetric{N: h, Stride: h, Uplo: blas.Upper, Data: f.s}); !ok {
		return ErrNotPositive
	}
	return nil
}

// columns is the part of a matrix of rows x M that belongs to a group.
func (f *far) columns(data []float64, rows int, g *group) blas64.General {
	return blas64.General{Rows: rows, Cols: g.to - g.from, Stride: f.m, Data: data[g.from:]}
}

func (f *far) hubFactor() blas64.Triangular {
	return blas64.Triangular{N: f.width, Stride: f.width, Uplo: blas.Upper, Diag: blas.NonUnit, Data: f.s}
}

// look notes which pieces of each row are not zero.
func (f *far) look(row func(int) []float64) {
	clear(f.mask)
	for m := range f.m {
		r := row(m)
		for k, p := range f.pieces {
			for _, v := range r[p.from:p.to] {
				if v != 0 {
					f.mask[m*f.words+k/64] |= 1 << (k % 64)
					break
				}
			}
		}
	}
}

// split chooses the hub and the groups: by the pieces that more than a quarter
// of the rows reach, or none where that costs no less.
func (f *far) split() {
	f.hub, f.width = f.hub[:0], 0
	var inHub []uint64
	for k, p := range f.pieces {
		rows := 0
		for m := range f.m {
			if f.touches(m, k) {
				rows++
			}
		}
		if 4*rows > f.m {
			if inHub == nil {
				inHub = make([]uint64, f.words)
			}
			inHub[k/64] |= 1 << (k % 64)
			f.hub = append(f.hub, p)
			f.width += p.to - p.from
		}
	}
	h, m := float64(f.width), float64(f.m)
	whole := m*m*m/3 + m*m*h/2
	if inHub != nil {
		f.gather(inHub)
		parts := m*h*h/2 + h*h*h/3
		for _, g := range f.groups {
			n := float64(g.to - g.from)
			parts += n*n*n/3 + n*n*h/2
		}
		if parts < whole {
			for m := range f.m { // the hub is no part of G
				for w, bits := range inHub {
					f.mask[m*f.words+w] &^= bits
				}
			}
			return
		}
	}
	f.hub, f.width = f.hub[:0], 0
	f.groups = append(f.groups[:0], group{from: 0, to: f.m})
	for i := range f.order {
		f.order[i] = i
	}
}

// gather puts rows that share a piece outside the hub, be it by way of others,
// into one group.
func (f *far) gather(inHub []uint64) {
	parent := make([]int, f.m)
	for i := range parent {
		parent[i] = i
	}
	root := func(i int) int {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	for k := range f.pieces {
		if inHub[k/64]>>(k%64)&1 == 1 {
			continue
		}
		first := -1
		for m := range f.m {
			if !f.touches(m, k) {
				continue
			}
			if first < 0 {
				first = root(m)
				continue
			}
			if r := root(m); r != first { // the lower stays: groups in order of their first rows
				lo, hi := min(r, first), max(r, first)
				parent[hi] = lo
				first = lo
			}
		}
	}
	f.groups = f.groups[:0]
	at := 0
	for r := range f.m {
		if parent[r] != r {
			continue
		}
		g := group{from: at}
		for m := r; m < f.m; m++ {
			if root(m) == r {
				f.order[at] = m
				at++
			}
		}
		g.to = at
		f.groups = append(f.groups, g)
	}
}

// fill sets G, in the groups, and V', in w.
func (f *far) fill(row func(int) []float64) {
	size := 0
	for _, g := range f.groups {
		size += (g.to - g.from) * (g.to - g.from)
	}
	if len(f.block) < size {
		f.block = make([]float64, size)
	}
	if len(f.w) < f.width*f.m {
		f.w, f.s, f.inner = make([]float64, f.width*f.m), make([]float64, f.width*f.width), make([]float64, f.width)
	}
	of := make([]int, f.m) // the group of each place
	at := 0
	for k := range f.groups {
		g := &f.groups[k]
		n := g.to - g.from
		g.u = blas64.Triangular{N: n, Stride: n, Uplo: blas.Upper, Diag: blas.NonUnit, Data: f.block[at : at+n*n]}
		at += n * n
		for i := g.from; i < g.to; i++ {
			of[i] = k
		}
	}
	eachOnCores(f.m, 8, func(i int) {
		g := &f.groups[of[i]]
		a := row(f.order[i])
		mask := f.mask[f.order[i]*f.words:]
		out := g.u.Data[(i-g.from)*g.u.N:]
		for j := i; j < g.to; j++ {
			b := row(f.order[j])
			other := f.mask[f.order[j]*f.words:]
			sum := 0.0
			for w := range f.words {
				both := mask[w] & other[w]
				for both != 0 {
					// neighbouring pieces go in one product
					first := bits.TrailingZeros64(both)
					run := bits.TrailingZeros64(^(both >> first))
					both &^= (1<<run - 1) << first
					lo, hi := f.pieces[64*w+first].from, f.pieces[64*w+first+run-1].to
					sum += floats.Dot(a[lo:hi], b[lo:hi])
				}
			}
			if i == j {
				sum++
			}
			out[j-g.from] = sum
		}
		k := 0
		for _, p := range f.hub {
			for _, v := range a[p.from:p.to] {
				f.w[k*f.m+i] = v
				k++
			}
		}
	})
}

// solve overwrites y (length M) with C^-1 y.
func (f *far) solve(y []float64) {
	z := blas64.Vector{N: f.m, Inc: 1, Data: f.column}
	for i, m := range f.order {
		z.Data[i] = y[m]
	}
	part := func(g *group) blas64.Vector {
		return blas64.Vector{N: g.to - g.from, Inc: 1, Data: f.column[g.from:g.to]}
	}
	for i := range f.groups {
		blas64.Trsv(blas.Trans, f.groups[i].u, part(&f.groups[i]))
	}
	if h := f.width; h > 0 {
		w := blas64.General{Rows: h, Cols: f.m, Stride: f.m, Data: f.w}
		t := blas64.Vector{N: h, Inc: 1, Data: f.inner}
		blas64.Gemv(blas.NoTrans, 1, w, z, 0, t)
		blas64.Trsv(blas.Trans, f.hubFactor(), t)
		blas64.Trsv(blas.NoTrans, f.hubFactor(), t)
		blas64.Gemv(blas.Trans, -1, w, t, 1, z)
	}
	for i := range f.groups {
		blas64.Trsv(blas.NoTrans, f.groups[i].u, part(&f.groups[i]))
	}
	for i, m := range f.order {
		y[m] = z.Data[i]
	}
}

// logDet returns ln det C.
func (f *far) logDet() float64 {
	sum := 0.0
	for _, g := range f.groups {
		for i := range g.u.N {
			sum += 2 * math.Log(g.u.Data[i*g.u.N+i])
		}
	}
	for i := range f.width {
		sum += 2 * math.Log(f.s[i*f.width+i])
	}
	return sum
}
