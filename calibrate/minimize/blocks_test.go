package minimize_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"masstone/calibrate/minimize"
)

// Against gonum's dense Cholesky, on blocks of unequal size that meet at random.
func TestBlocks(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 30 {
		size := make([]int, 3+rng.IntN(6))
		for i := range size {
			size[i] = 1 + rng.IntN(7)
		}
		groups := [][]int{{0}}
		for range 1 + rng.IntN(6) {
			groups = append(groups, rng.Perm(len(size))[:1+rng.IntN(3)])
		}
		s := minimize.NewBlocks(size, groups)
		start, n := make([]int, len(size)), 0
		for b, k := range size {
			start[b] = n
			n += k
		}
		h := mat.NewSymDense(n, nil)
		for i := range n {
			h.SetSym(i, i, 0.5)
		}
		for _, g := range groups {
			v := mat.NewVecDense(n, nil)
			for range 4 {
				for _, b := range g {
					for k := range size[b] {
						v.SetVec(start[b]+k, rng.NormFloat64())
					}
				}
				h.SymRankOne(h, 1, v)
			}
		}
		fill := func() {
			s.Zero()
			for _, g := range groups {
				for _, a := range g {
					for _, b := range g {
						if !s.Later(a, b) {
							continue
						}
						part := s.Block(a, b)
						for i := range size[a] {
							for k := range size[b] {
								part[i*size[b]+k] = h.At(start[a]+i, start[b]+k)
							}
						}
					}
				}
			}
			for b := range size {
				part := s.Block(b, b)
				for i := range size[b] {
					part[i*size[b]+i] = h.At(start[b]+i, start[b]+i)
				}
			}
		}
		fill()
		require.NoError(t, s.Factor(3))
		require.NoError(t, s.Factor(0), "the sum is kept")
		var chol mat.Cholesky
		require.True(t, chol.Factorize(h))
		require.InDelta(t, chol.LogDet(), s.LogDet(), 1e-9)
		var inv mat.SymDense
		require.NoError(t, chol.InverseTo(&inv))

		g, want := make([]float64, n), mat.NewVecDense(n, nil)
		for i := range g {
			g[i] = rng.NormFloat64()
		}
		require.NoError(t, chol.SolveVecTo(want, mat.NewVecDense(n, append([]float64(nil), g...))))
		s.Solve(g)
		require.InDeltaSlice(t, want.RawVector().Data, g, 1e-9)

		s.Invert()
		for _, grp := range groups {
			for _, a := range grp {
				for _, b := range grp {
					part, transposed := s.Inverse(a, b)
					for i := range size[a] {
						for k := range size[b] {
							got := part[i*size[b]+k : i*size[b]+k+1][0]
							if transposed {
								got = part[k*size[a]+i]
							}
							require.InDelta(t, inv.At(start[a]+i, start[b]+k), got, 1e-8)
						}
					}
				}
			}
		}
		full := s.Full()
		for i := range n {
			for k := range n {
				require.InDelta(t, inv.At(i, k), full.At(i, k), 1e-8)
			}
		}
		s.Zero()
		require.ErrorIs(t, s.Factor(0), minimize.ErrNotPositive)
	}
}
