package minimize_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"masstone/calibrate/minimize"
)

// A twin is a bordered system beside the same matrix H written out.
type twin struct {
	sys  *minimize.Bordered
	h    *mat.SymDense
	u    *mat.Dense // M x (N+D), nil without far rows
	chol mat.Cholesky
}

// drawTwin draws a positive system of any shape, some far rows with gaps as long
// as those that are skipped.
func drawTwin(t *rapid.T) *twin {
	n := rapid.SampledFrom([]int{1, 2, 7, 31, 40, 70, 100}).Draw(t, "N")
	m := rapid.IntRange(0, 8).Draw(t, "M")
	width := rapid.IntRange(0, 8).Draw(t, "width")
	number := rapid.Float64Range(-1, 1)
	return drawShape(t, n, m, width, func(_, size int) []float64 {
		lo := rapid.IntRange(0, size-1).Draw(t, "from")
		hi := rapid.IntRange(lo, size).Draw(t, "to")
		row := make([]float64, size)
		for i := lo; i < hi; i++ {
			row[i] = number.Draw(t, "far")
		}
		return row
	})
}

// drawShelf draws a system whose far rows are like colours of chips: most reach
// the first curve, each one of the others, few two of them.
func drawShelf(t *rapid.T) *twin {
	const curves = 6
	rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
	return drawShape(t, 31*curves, rapid.IntRange(40, 70).Draw(t, "M"), 2, func(r, size int) []float64 {
		row := make([]float64, size)
		reach := func(curve int) {
			for i := range 31 {
				row[31*curve+i] = rng.Float64()*2 - 1
			}
		}
		if rng.IntN(10) > 0 {
			reach(0)
		}
		reach(1 + rng.IntN(curves-1))
		if rng.IntN(40) == 0 {
			reach(1 + rng.IntN(curves-1))
		}
		if d := size - 31*curves; d > 0 {
			row[31*curves+r%d] = rng.Float64()
		}
		return row
	})
}

// drawShape draws a positive system, far giving its far rows.
func drawShape(t *rapid.T, n, m, width int, far func(r, size int) []float64) *twin {
	d := rapid.IntRange(0, 5).Draw(t, "D")
	number := rapid.Float64Range(-1, 1)
	w := &twin{sys: minimize.NewBordered(n, d, m, width), h: mat.NewSymDense(n+d, nil)}
	for i := range n {
		for j := max(0, i-width); j < i; j++ {
			v := number.Draw(t, "band")
			w.sys.AddBand(i, j, v)
			w.h.SetSym(i, j, v)
		}
		for e := range d {
			v := number.Draw(t, "border")
			w.sys.AddBorder(i, e, v)
			w.h.SetSym(i, n+e, v)
		}
	}
	for e := range d {
		for f := range e {
			v := number.Draw(t, "corner")
			w.sys.AddCorner(e, f, v)
			w.h.SetSym(n+e, n+f, v)
		}
	}
	// a dominant diagonal makes it positive whatever was drawn
	for i := range n + d {
		sum := rapid.Float64Range(0.1, 3).Draw(t, "diagonal")
		for j := range n + d {
			sum += math.Abs(w.h.At(i, j))
		}
		w.h.SetSym(i, i, w.h.At(i, i)+sum)
		if i < n {
			w.sys.AddBand(i, i, sum)
		} else {
			w.sys.AddCorner(i-n, i-n, sum)
		}
	}
	if m > 0 {
		w.u = mat.NewDense(m, n+d, nil)
		for r := range m {
			w.u.SetRow(r, far(r, n+d))
			copy(w.sys.Row(r), w.u.RawRowView(r))
		}
		var utu mat.SymDense
		utu.SymOuterK(1, w.u.T())
		w.h.AddSym(w.h, &utu)
	}
	require.NoError(t, w.sys.Factor())
	require.True(t, w.chol.Factorize(w.h))
	return w
}

func requireNear(t require.TestingT, want, got mat.Matrix, what string) {
	r, c := want.Dims()
	gr, gc := got.Dims()
	require.Equal(t, [2]int{r, c}, [2]int{gr, gc}, what)
	for i := range r {
		for j := range c {
			require.InDelta(t, want.At(i, j), got.At(i, j), 1e-9*(1+math.Abs(want.At(i, j))), "%s %d %d", what, i, j)
		}
	}
}

// Everything a bordered system answers is what gonum's dense solver answers for
// the matrix written out.
func TestBorderedAgainstDense(t *testing.T) {
	t.Run("any", rapid.MakeCheck(func(t *rapid.T) { requireDense(t, drawTwin(t)) }))
	t.Run("shelf", rapid.MakeCheck(func(t *rapid.T) { requireDense(t, drawShelf(t)) }))
}

func requireDense(t *rapid.T, w *twin) {
	size := w.sys.N + w.sys.D

	g := rapid.SliceOfN(rapid.Float64Range(-5, 5), size, size).Draw(t, "g")
	var want mat.VecDense
	require.NoError(t, w.chol.SolveVecTo(&want, mat.NewVecDense(size, append([]float64(nil), g...))))
	w.sys.Solve(g)
	requireNear(t, &want, mat.NewVecDense(size, g), "solution")

	require.InDelta(t, w.chol.LogDet(), w.sys.LogDet(), 1e-9*float64(size))
}

// A system may be cleared and filled again: nothing of the last filling stays.
func TestBorderedZero(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawTwin(t)
		w.sys.Zero()
		size := w.sys.N + w.sys.D
		for i := range size {
			if i < w.sys.N {
				w.sys.AddBand(i, i, 2)
			} else {
				w.sys.AddCorner(i-w.sys.N, i-w.sys.N, 2)
			}
		}
		require.NoError(t, w.sys.Factor())
		g := make([]float64, size)
		for i := range g {
			g[i] = 1
		}
		w.sys.Solve(g)
		for _, v := range g {
			require.InDelta(t, 0.5, v, 1e-15)
		}
		require.InDelta(t, float64(size)*math.Log(2), w.sys.LogDet(), 1e-12*float64(size))
	})
}

// What is not positive is said to be so, wherever it stands.
func TestBorderedNotPositive(t *testing.T) {
	for name, fill := range map[string]func(*minimize.Bordered){
		"empty":           func(*minimize.Bordered) {},
		"band":            func(s *minimize.Bordered) { s.AddBand(2, 2, -2) },
		"band coupling":   func(s *minimize.Bordered) { s.AddBand(2, 1, 1) },
		"border coupling": func(s *minimize.Bordered) { s.AddBorder(0, 0, 1) },
		"corner":          func(s *minimize.Bordered) { s.AddCorner(0, 0, -1) },
		"not a number":    func(s *minimize.Bordered) { s.AddBand(1, 1, math.NaN()) },
		"infinite":        func(s *minimize.Bordered) { s.AddBand(1, 1, math.Inf(1)) },
		"far row":         func(s *minimize.Bordered) { s.Row(0)[1] = math.NaN() },
	} {
		t.Run(name, func(t *testing.T) {
			s := minimize.NewBordered(3, 1, 1, 1)
			if name != "empty" {
				for i := range 3 {
					s.AddBand(i, i, 1)
				}
				s.AddCorner(0, 0, 1)
			}
			fill(s)
			require.ErrorIs(t, s.Factor(), minimize.ErrNotPositive)
		})
	}
}

// The shape of 12 pigments and 48 chips: with spectra a wide band, with colours
// under three lights many far rows.
func BenchmarkBordered(b *testing.B) {
	const n, curves = 26 * 31, 13
	for name, shape := range map[string]struct{ d, m, width int }{
		"spectra":      {d: 72, width: 4 * curves},
		"three lights": {d: 72, m: 48 * 9, width: 2},
	} {
		b.Run(name, func(b *testing.B) {
			s := minimize.NewBordered(n, shape.d, shape.m, shape.width)
			b.ReportAllocs()
			for b.Loop() {
				s.Zero()
				for i := range n {
					s.AddBand(i, i, 4)
					for j := max(0, i-shape.width); j < i; j++ {
						if shape.m > 0 && i/31 != j/31 {
							continue // each curve is smooth by itself
						}
						s.AddBand(i, j, 0.01)
					}
				}
				for e := range shape.d {
					s.AddCorner(e, e, 2)
					for i := e; i < n && shape.m == 0; i += shape.d {
						s.AddBorder(i, e, 0.01)
					}
				}
				for r := range shape.m {
					row := s.Row(r) // the resin, the white and one pigment
					for _, q := range []int{0, 1, 2 + r/36%11} {
						for i := range 62 {
							row[62*q+i] = 0.1
						}
					}
					row[n+r/9] = 0.1 // the chip's weighing
				}
				if err := s.Factor(); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
