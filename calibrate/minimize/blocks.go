package minimize

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"
)

// Blocks is the normal matrix H of a least-squares problem whose unknowns come
// in blocks, most of which never meet: the curves of one pigment meet those of
// the resin, the white and the few that it was mixed with. It is factored as
//
//	H = L L'                                               (1)
//
// block by block, those with the fewest neighbours first, so that the work goes
// with what was mixed and not with the cube of all unknowns (minimum degree:
// George and Liu, SIAM Rev. 31, 1 (1989)). Fill it by Block, call Factor, then
// Solve, LogDet, Invert or Full. The sum that was filled in is kept, so a
// damped system is factored again without being filled again.
type Blocks struct {
	size  []int // of each block
	start []int // first unknown of each block
	n     int

	order []int   // blocks in the order of elimination
	place []int   // of each block in that order
	below [][]int // per place: the later places that it meets, filled in
	from  [][]int // per place: where in the panel each of them begins, in rows
	sum   [][]float64
	l     [][]float64 // panels of L: the diagonal block, then below, each size x width
	inv   [][]float64 // panels of the inverse, once asked for
}

// NewBlocks makes a system of blocks of the given sizes, of which those of each
// group meet.
func NewBlocks(size []int, groups [][]int) *Blocks {
	s := &Blocks{size: size, place: make([]int, len(size))}
	for _, n := range size {
		s.start = append(s.start, s.n)
		s.n += n
	}
	s.arrange(groups)
	for j := range s.order {
		width, rows := s.width(j), s.width(j)
		var from []int
		for _, i := range s.below[j] {
			from = append(from, rows)
			rows += s.width(i)
		}
		s.from = append(s.from, from)
		s.sum = append(s.sum, make([]float64, rows*width))
		s.l = append(s.l, make([]float64, rows*width))
	}
	return s
}

func (s *Blocks) width(place int) int { return s.size[s.order[place]] }

// arrange orders the blocks and finds what fills in.
func (s *Blocks) arrange(groups [][]int) {
	n := len(s.size)
	meets := make([][]bool, n)
	for i := range meets {
		meets[i] = make([]bool, n)
	}
	for _, g := range groups {
		for _, i := range g {
			for _, j := range g {
				meets[i][j] = i != j || meets[i][j]
			}
		}
	}
	gone := make([]bool, n)
	late := make([][]int, n) // by block, the blocks that are left when it goes
	for range n {
		best, least := -1, math.MaxInt
		for i := range n {
			if gone[i] {
				continue
			}
			weight := 0
			for j, m := range meets[i] {
				if m && !gone[j] {
					weight += s.size[j]
				}
			}
			if weight < least {
				best, least = i, weight
			}
		}
		gone[best] = true
		s.place[best] = len(s.order)
		s.order = append(s.order, best)
		for j, m := range meets[best] {
			if m && !gone[j] {
				late[best] = append(late[best], j)
			}
		}
		for _, i := range late[best] {
			for _, j := range late[best] {
				meets[i][j] = i != j
			}
		}
	}
	for _, b := range s.order {
		var below []int
		for _, j := range late[b] {
			below = append(below, s.place[j])
		}
		slices.Sort(below)
		s.below = append(s.below, below)
	}
}

// Size is how many unknowns a block has.
func (s *Blocks) Size(b int) int { return s.size[b] }

// AddWithin adds v to the sum at row i and column j <= i of block b.
func (s *Blocks) AddWithin(b, i, j int, v float64) {
	s.sum[s.place[b]][i*s.size[b]+j] += v
}

// Zero clears the sum.
func (s *Blocks) Zero() {
	for _, p := range s.sum {
		clear(p)
	}
}

// Later reports whether block a is stored by rows against the columns of b.
func (s *Blocks) Later(a, b int) bool { return s.place[a] >= s.place[b] }

// Block returns the sum's part of rows of block a and columns of block b, where
// Later(a, b) and the two meet, row after row. Of a block with itself only the
// lower triangle counts.
func (s *Blocks) Block(a, b int) []float64 { return s.part(s.sum, s.place[a], s.place[b]) }

func (s *Blocks) part(panels [][]float64, i, j int) []float64 {
	width := s.width(j)
	if i == j {
		return panels[j][:width*width]
	}
	k, ok := slices.BinarySearch(s.below[j], i)
	if !ok {
		panic("minimize: two blocks that never meet") // groups are ours
	}
	return panels[j][s.from[j][k]*width : (s.from[j][k]+s.width(i))*width]
}

func (s *Blocks) general(panels [][]float64, i, j int) blas64.General {
	return blas64.General{Rows: s.width(i), Cols: s.width(j), Stride: s.width(j), Data: s.part(panels, i, j)}
}

func (s *Blocks) corner(panels [][]float64, j int) blas64.Triangular {
	n := s.width(j)
	return blas64.Triangular{N: n, Stride: n, Uplo: blas.Lower, Diag: blas.NonUnit, Data: panels[j][:n*n]}
}

// rest is the panel of place j below its diagonal block.
func (s *Blocks) rest(panels [][]float64, j int) blas64.General {
	n := s.width(j)
	return blas64.General{Rows: len(panels[j])/n - n, Cols: n, Stride: n, Data: panels[j][n*n:]}
}

// Factor factors the sum with damping added to the diagonal. It returns
// ErrNotPositive when a pivot is not positive.
func (s *Blocks) Factor(damping float64) error {
	s.inv = nil
	for j := range s.order {
		copy(s.l[j], s.sum[j])
		for k := range s.width(j) {
			s.l[j][k*s.width(j)+k] += damping
		}
	}
	for j := range s.order {
		n := s.width(j)
		if _, ok := lapack64.Potrf(blas64.Symmetric{N: n, Stride: n, Uplo: blas.Lower, Data: s.l[j][:n*n]}); !ok {
			return ErrNotPositive
		}
		for k := range n {
			if v := s.l[j][k*n+k]; math.IsNaN(v) || math.IsInf(v, 0) {
				return ErrNotPositive
			}
		}
		if len(s.below[j]) == 0 {
			continue
		}
		blas64.Trsm(blas.Right, blas.Trans, 1, s.corner(s.l, j), s.rest(s.l, j))
		for k, i := range s.below[j] {
			a := s.general(s.l, i, j)
			for _, h := range s.below[j][:k] {
				blas64.Gemm(blas.NoTrans, blas.Trans, -1, a, s.general(s.l, h, j), 1, s.general(s.l, i, h))
			}
			w := s.width(i)
			blas64.Syrk(blas.NoTrans, -1, a, 1, blas64.Symmetric{N: w, Stride: w, Uplo: blas.Lower, Data: s.part(s.l, i, i)})
		}
	}
	return nil
}

func (s *Blocks) piece(x []float64, place int) blas64.Vector {
	b := s.order[place]
	return blas64.Vector{N: s.size[b], Inc: 1, Data: x[s.start[b] : s.start[b]+s.size[b]]}
}

// Solve overwrites g with H^-1 g.
func (s *Blocks) Solve(g []float64) {
	for j := range s.order {
		x := s.piece(g, j)
		blas64.Trsv(blas.NoTrans, s.corner(s.l, j), x)
		for _, i := range s.below[j] {
			blas64.Gemv(blas.NoTrans, -1, s.general(s.l, i, j), x, 1, s.piece(g, i))
		}
	}
	for j := len(s.order) - 1; j >= 0; j-- {
		x := s.piece(g, j)
		for _, i := range s.below[j] {
			blas64.Gemv(blas.Trans, -1, s.general(s.l, i, j), s.piece(g, i), 1, x)
		}
		blas64.Trsv(blas.Trans, s.corner(s.l, j), x)
	}
}

// LogDet returns ln det H.
func (s *Blocks) LogDet() float64 {
	sum := 0.0
	for j := range s.order {
		n := s.width(j)
		for k := range n {
			sum += 2 * math.Log(s.l[j][k*n+k])
		}
	}
	return sum
}

// Invert makes the parts of H^-1 at which blocks meet (Takahashi, Fagan and Chen
// 1973, by blocks): with Y = L_ij L_jj^-1 over the places below j,
//
//	Z_ij = - sum_k Z_ik Y_k,  Z_jj = L_jj^-T L_jj^-1 - sum_k Y_k' Z_kj     (2)
func (s *Blocks) Invert() {
	s.inv = make([][]float64, len(s.order))
	for j := range s.inv {
		s.inv[j] = make([]float64, len(s.l[j]))
	}
	for j := len(s.order) - 1; j >= 0; j-- {
		n := s.width(j)
		y := append([]float64(nil), s.l[j]...)
		panels := make([][]float64, len(s.order))
		panels[j] = y
		if len(s.below[j]) > 0 {
			blas64.Trsm(blas.Right, blas.NoTrans, 1, s.corner(s.l, j), s.rest(panels, j))
		}
		for _, i := range s.below[j] {
			out := s.general(s.inv, i, j)
			for _, k := range s.below[j] {
				yk := s.general(panels, k, j)
				switch {
				case i == k:
					w := s.width(i)
					blas64.Symm(blas.Left, -1, blas64.Symmetric{N: w, Stride: w, Uplo: blas.Lower, Data: s.part(s.inv, i, i)}, yk, 1, out)
				case i > k:
					blas64.Gemm(blas.NoTrans, blas.NoTrans, -1, s.general(s.inv, i, k), yk, 1, out)
				default:
					blas64.Gemm(blas.Trans, blas.NoTrans, -1, s.general(s.inv, k, i), yk, 1, out)
				}
			}
		}
		corner := s.inv[j][:n*n]
		copy(corner, s.l[j][:n*n])
		lapack64.Potri(blas64.Triangular{N: n, Stride: n, Uplo: blas.Lower, Diag: blas.NonUnit, Data: corner})
		square := blas64.General{Rows: n, Cols: n, Stride: n, Data: corner}
		for a := range n { // Potri fills the lower triangle
			for b := a + 1; b < n; b++ {
				corner[a*n+b] = corner[b*n+a]
			}
		}
		for _, k := range s.below[j] {
			blas64.Gemm(blas.Trans, blas.NoTrans, -1, s.general(panels, k, j), s.general(s.inv, k, j), 1, square)
		}
	}
}

// Inverse returns the part of H^-1 of rows of block a and columns of block b,
// which meet, after Invert: row after row, or column after column where
// transposed is set.
func (s *Blocks) Inverse(a, b int) (part []float64, transposed bool) {
	i, j := s.place[a], s.place[b]
	if i < j {
		return s.part(s.inv, j, i), true
	}
	return s.part(s.inv, i, j), false
}

// Full returns all of H^-1.
func (s *Blocks) Full() *mat.SymDense {
	// L as one triangle in the order of elimination
	at := make([]int, len(s.order))
	n := 0
	for j := range s.order {
		at[j] = n
		n += s.width(j)
	}
	all := make([]float64, n*n)
	for j := range s.order {
		w := s.width(j)
		put := func(i int, part []float64) {
			for r := range s.width(i) {
				copy(all[(at[i]+r)*n+at[j]:], part[r*w:(r+1)*w])
			}
		}
		for r := range w {
			copy(all[(at[j]+r)*n+at[j]:], s.l[j][r*w:r*w+r+1])
		}
		for _, i := range s.below[j] {
			put(i, s.part(s.l, i, j))
		}
	}
	lapack64.Potri(blas64.Triangular{N: n, Stride: n, Uplo: blas.Lower, Diag: blas.NonUnit, Data: all})
	out := mat.NewSymDense(n, nil)
	for i := range s.order {
		for r := range s.width(i) {
			row := all[(at[i]+r)*n:]
			for j := 0; j <= i; j++ {
				for c := range s.width(j) {
					if i == j && c > r {
						break
					}
					out.SetSym(s.start[s.order[i]]+r, s.start[s.order[j]]+c, row[at[j]+c])
				}
			}
		}
	}
	return out
}
