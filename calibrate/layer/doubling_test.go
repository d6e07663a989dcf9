package layer

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// doubled solves the layer over an optically matched black bottom by doubling
// (van de Hulst 1980; Prahl, van Gemert and Welch, Appl. Opt. 32, 559 (1993)),
// another route through the same directions. The thin first layer is the diamond
// rule (Wiscombe, J. Quant. Spectrosc. Radiat. Transfer 16, 637 (1976)).
func doubled(s *Slab, albedo, depth float64, doublings int) Response {
	n := len(s.d.mu)
	dx := depth / math.Pow(2, float64(doublings))
	// sum and difference of the light at both sides, A and B as in solve
	step := func(m []float64) *mat.Dense { // M^-1 (1 - albedo m) dx / 2
		d := mat.NewDense(n, n, nil)
		for i, mu := range s.d.mu {
			for j := range n {
				x := 0.0
				if m != nil {
					x = -albedo * m[i*n+j]
				}
				if i == j {
					x++
				}
				d.Set(i, j, x*dx/2/mu)
			}
		}
		return d
	}
	one := mat.NewDense(n, n, nil)
	for i := range n {
		one.Set(i, i, 1)
	}
	// With a, b the mean of both and half their difference, diamond gives
	// T + R = (1 + a - b)^-1 (1 - a + b), T - R = (1 + a + b)^-1 (1 - a - b),
	// where a - b is the even and a + b the odd step.
	pade := func(m *mat.Dense) *mat.Dense {
		var p, q, r mat.Dense
		p.Add(one, m)
		q.Sub(one, m)
		if err := r.Solve(&p, &q); err != nil {
			panic(err)
		}
		return &r
	}
	plus, minus := pade(step(s.even)), pade(step(s.odd))
	var t, r mat.Dense
	t.Add(plus, minus)
	t.Scale(0.5, &t)
	r.Sub(plus, minus)
	r.Scale(0.5, &r)
	for range doublings {
		var rr, x, rx, trx mat.Dense // x = (1 - R R)^-1 T
		rr.Mul(&r, &r)
		rr.Sub(one, &rr)
		if err := x.Solve(&rr, &t); err != nil {
			panic(err)
		}
		rx.Mul(&r, &x)
		trx.Mul(&t, &rx)
		r.Add(&r, &trx)
		var tx mat.Dense
		tx.Mul(&t, &x)
		t.CloneFrom(&tx)
	}
	f := mat.NewDiagDense(n, s.d.surface)
	n2 := s.optics.Index * s.optics.Index
	in, into := mat.NewDense(n, 2, nil), mat.NewDense(n, 2, nil) // from above and below
	for i, root := range s.d.root {
		in.Set(i, 0, root*n2*(1-s.d.surface[i]))
		into.Set(i, 1, root)
	}
	var m, tb, ftb, down, up, rb mat.Dense
	m.Mul(f, &r)
	m.Sub(one, &m)
	tb.Mul(&t, into)
	ftb.Mul(f, &tb)
	ftb.Add(&ftb, in)
	if err := down.Solve(&m, &ftb); err != nil {
		panic(err)
	}
	up.Mul(&r, &down)
	up.Add(&up, &tb)
	var bottom mat.Dense
	bottom.Mul(&t, &down)
	rb.Mul(&r, into)
	bottom.Add(&bottom, &rb)
	v := s.d.view
	seen := (1 - s.d.surface[v]) / s.d.root[v]
	out := Response{Mirror: s.mirror(), Black: seen * up.At(v, 0) / n2, In: seen * up.At(v, 1)}
	for i, f := range s.d.surface {
		out.Out += s.d.flux(i) * (1 - f) * up.At(i, 1)
		out.Under += s.d.flux(i) * bottom.At(i, 1)
	}
	return out
}

// The eigenvector solution against adding-doubling in the same directions.
func TestSlabAgainstDoubling(t *testing.T) {
	for _, o := range []Optics{
		{Index: 1.5, Directions: 12, ViewDegrees: 8},
		{Index: 1.47, Directions: 16, ViewDegrees: 8, Anisotropy: 0.6},
		{Index: 1, Directions: 12, ViewDegrees: 45},
	} {
		s, err := NewSlab(o)
		require.NoError(t, err)
		for _, albedo := range []float64{0, 0.3, 0.9, 0.9999, 1} {
			for _, depth := range []float64{0.01, 1, 30} {
				t.Run(fmt.Sprintf("%+v albedo %g depth %g", o, albedo, depth), func(t *testing.T) {
					want, got := doubled(s, albedo, depth, 22), s.solve(albedo, depth)
					const tol = 3e-7 // what the thin first layer leaves
					require.InDelta(t, want.Black, got.Black, tol)
					require.InDelta(t, want.In, got.In, tol)
					require.InDelta(t, want.Out, got.Out, tol)
					require.InDelta(t, want.Under, got.Under, tol)
				})
			}
		}
	}
}

// An infinitely deep layer has a solution in Chandrasekhar's H function
// (Radiative Transfer, 1950, sections 37-38), here found by iteration; under a
// surface the light it sends up comes partly back.
func TestSlabAgainstH(t *testing.T) {
	for _, index := range []float64{1, 1.5} {
		s, err := NewSlab(Optics{Index: index, Directions: 32, ViewDegrees: 8})
		require.NoError(t, err)
		n, mu := len(s.d.mu), s.d.mu
		for _, albedo := range []float64{0.2, 0.9, 0.999} {
			h := make([]float64, n)
			for i := range h {
				h[i] = 1
			}
			for range 2000 {
				for i := range h {
					sum := 0.0
					for j, root := range s.d.root {
						sum += root * root * mu[j] * h[j] / (mu[i] + mu[j])
					}
					h[i] = 1 / (math.Sqrt(1-albedo) + albedo/2*sum)
				}
			}
			// up = R down, R_ij = albedo/2 H_i H_j mu_j w_j / (mu_i + mu_j)
			m, source := mat.NewDense(n, n, nil), mat.NewVecDense(n, nil)
			r := func(i, j int) float64 {
				return albedo / 2 * h[i] * h[j] * mu[j] * s.d.root[j] * s.d.root[j] / (mu[i] + mu[j])
			}
			for i, f := range s.d.surface {
				for j := range n {
					m.Set(i, j, -f*r(i, j))
				}
				m.Set(i, i, 1+m.At(i, i))
				source.SetVec(i, index*index*(1-f))
			}
			var down mat.VecDense
			require.NoError(t, down.SolveVec(m, source))
			up := 0.0
			for j := range n {
				up += r(s.d.view, j) * down.AtVec(j)
			}
			want := up * (1 - s.mirror()) / (index * index)
			require.InDelta(t, want, s.solve(albedo, 1e6).Black, 1e-7, "n %g albedo %g", index, albedo)
		}
	}
}

// Every layer lies where invert looks for it.
func TestInvert(t *testing.T) {
	for _, u := range []float64{0, 1e-3, 0.2, 0.5, 0.9, 0.999, 1} {
		for _, v := range []float64{1e-3, 0.1, 0.5, 0.9, 0.999, 1} {
			absorption, scattering := invert(u, v)
			k, s := max(2*absorption, 1e-300), max(0.75*scattering, 1e-300)
			if v == 1 { // any mixture will do where there is nothing
				require.InDelta(t, 0, absorption+scattering, 1e-9)
				continue
			}
			var p place
			z := decay(k, s)
			p.locate(k, s, 1, 1, z, math.Exp(-z))
			require.InDelta(t, u, p.u, 1e-12, "u %g v %g", u, v)
			require.InDelta(t, v, p.v, 1e-12, "u %g v %g", u, v)
		}
	}
}

// Every rule in use integrates the powers it should.
func TestGauss(t *testing.T) {
	for count := 2; count <= 64; count++ {
		x, w := gauss(count)
		require.IsIncreasing(t, x)
		for d := range 2 * count {
			sum := 0.0
			for i := range x {
				sum += w[i] * math.Pow(x[i], float64(d))
			}
			require.InDelta(t, 1/float64(d+1), sum, 1e-14, "%d points, power %d", count, d)
		}
	}
}
