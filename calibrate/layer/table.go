package layer

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// The table holds, over an even grid in u and v, what (8) asks for: Black, Y =
// In Out / v, which stays smooth and of order one down to infinite depth, and
// Under. A biquadratic spline joins the cells with its first derivatives
// continuous; it meets the direct solution at the middle of every cell and along
// the edges.
const (
	clouds = 32  // cells along u
	veils  = 112 // cells along v
)

// cell is the patch of the three functions over one cell.
type cell [3]patch

// patch is the sum of p[3i+j] a^i b^j, a and b 0..1.
type patch [9]float64

// over is (8) over backing g for the patches at a, b, without the mirror
// reflection, and its partials to u, v and g. It is written out, for it is most
// of what an evaluation costs.
func (c *cell) over(a, b, v, g float64) (r, ru, rv, rg float64) {
	p := &c[2]
	p0 := p[0] + b*(p[1]+b*p[2])
	p1 := p[3] + b*(p[4]+b*p[5])
	p2 := p[6] + b*(p[7]+b*p[8])
	under := p0 + a*(p1+a*p2)
	underA := p1 + 2*a*p2
	underB := p[1] + 2*b*p[2] + a*(p[4]+2*b*p[5]+a*(p[7]+2*b*p[8]))
	share := 1 / (1 - g*under + tiny)

	p = &c[1]
	p0 = p[0] + b*(p[1]+b*p[2])
	p1 = p[3] + b*(p[4]+b*p[5])
	p2 = p[6] + b*(p[7]+b*p[8])
	y := p0 + a*(p1+a*p2)
	yA := p1 + 2*a*p2
	yB := p[1] + 2*b*p[2] + a*(p[4]+2*b*p[5]+a*(p[7]+2*b*p[8]))

	p = &c[0]
	p0 = p[0] + b*(p[1]+b*p[2])
	p1 = p[3] + b*(p[4]+b*p[5])
	p2 = p[6] + b*(p[7]+b*p[8])
	black := p0 + a*(p1+a*p2)
	blackA := p1 + 2*a*p2
	blackB := p[1] + 2*b*p[2] + a*(p[4]+2*b*p[5]+a*(p[7]+2*b*p[8]))

	gs := g * share
	gv, gy := gs*v, gs*y
	gg := gv * gy
	r = black + v*gy // (8), In Out = v Y
	ru = (blackA + gv*yA + gg*underA) * clouds
	rv = (blackB+gv*yB+gg*underB)*veils + gy
	rg = v * y * share * share
	return
}

// tiny keeps 1 - Rg Under above rounding where both are 1.
const tiny = 1e-13

// tabulate makes the patches from what the layer answers where the spline has to
// meet it.
func tabulate(s *Slab) []cell {
	cells := make([]cell, clouds*veils)
	for n, f := range s.atKnots() {
		var half, c mat.Dense
		solve(&half, f)
		solve(&c, half.T()) // weights of the quadratic B-splines, v x u
		for i := range clouds {
			for j := range veils {
				powers(&cells[i*veils+j][n], c.Slice(j, j+3, i, i+3))
			}
		}
	}
	return cells
}

// The layer is solved on a grid of Chebyshev points, which crowd to the edges as
// the functions ask, and between them its functions are polynomials: R is within
// 1e-6 of the direct solution at every knot of all optics that were tried (index 1
// to 1.7, mean cosine -0.3 to 0.9). The spline between the knots is off by up to
// 1e-5.
const (
	solvedClouds = 16
	solvedVeils  = 40
)

// atKnots gives the three functions at the knots of the spline, u x v.
func (s *Slab) atKnots() (f [3]*mat.Dense) {
	for n := range f {
		f[n] = mat.NewDense(solvedClouds, solvedVeils, nil)
	}
	var rows sync.WaitGroup
	for i := range solvedClouds {
		rows.Go(func() {
			for j := range solvedVeils {
				v := chebyshev(j, solvedVeils)
				r := s.node(chebyshev(i, solvedClouds), v)
				f[0].Set(i, j, r.Black)
				if j > 0 {
					f[1].Set(i, j, r.In*r.Out)
				}
				f[2].Set(i, j, r.Under)
			}
		})
	}
	rows.Wait()
	u, v := toKnots(solvedClouds, clouds), toKnots(solvedVeils, veils)
	for n := range f {
		var half, full mat.Dense
		half.Mul(u, f[n])
		full.Mul(&half, v.T())
		f[n] = &full
	}
	for i := range clouds + 2 {
		for j := 1; j < veils+2; j++ {
			f[1].Set(i, j, f[1].At(i, j)/knot(j, veils))
		}
	}
	return f
}

// chebyshev is point i of n between 0 and 1, of the second kind.
func chebyshev(i, n int) float64 {
	return 0.5 - 0.5*math.Cos(math.Pi*float64(i)/float64(n-1))
}

// toKnots has a row for every knot, of the weights with which n Chebyshev points
// give the polynomial through them there: the second barycentric formula
// (Berrut and Trefethen, SIAM Rev. 46, 501 (2004), equations 4.2 and 5.4).
func toKnots(n, cells int) *mat.Dense {
	to := mat.NewDense(cells+2, n, nil)
	for k := range cells + 2 {
		row := to.RawRowView(k)
		for i := range row {
			away := knot(k, cells) - chebyshev(i, n)
			if away == 0 {
				clear(row)
				row[i] = 1
				break
			}
			row[i] = float64(1-2*(i%2)) / away
			if i == 0 || i == n-1 {
				row[i] /= 2
			}
		}
		floats.Scale(1/floats.Sum(row), row)
	}
	return to
}

// knot is the place of sample i, 0..cells+1, along an axis: 0, the middles, 1.
func knot(i, cells int) float64 {
	return min(max(0, (float64(i)-0.5)/float64(cells)), 1)
}

// node solves the layer at u and v. Where u = 1 meets infinite depth nothing is
// absorbed and nothing gets through.
func (s *Slab) node(u, v float64) Response {
	if u == 1 && v == 0 {
		return Response{Black: 1 - s.mirror(), Under: 1}
	}
	absorption, scattering := invert(u, v)
	return s.Response(absorption, scattering, 1)
}

// solve fills c with the weights of the quadratic B-splines along the rows of f
// that give f at the knots.
func solve(c *mat.Dense, f mat.Matrix) {
	n, _ := f.Dims()
	below, on, above := make([]float64, n-1), make([]float64, n), make([]float64, n-1)
	for i := range n - 1 {
		below[i], on[i], above[i] = 1./8, 6./8, 1./8
	}
	on[0], above[0], below[n-2], on[n-1] = 1./2, 1./2, 1./2, 1./2
	if err := mat.NewTridiag(n, below, on, above).SolveTo(c, false, f); err != nil {
		panic(err) // the matrix is the same for every table, and regular
	}
}

// powers turns the nine B-splines that live on a cell, weighted by c (v x u),
// into the sum of powers.
func powers(p *patch, c mat.Matrix) {
	b := [3][3]float64{{0.5, -1, 0.5}, {0.5, 1, -1}, {0, 0, 0.5}}
	for m := range 3 {
		for n := range 3 {
			for i := range 3 {
				for j := range 3 {
					p[3*m+n] += b[i][m] * b[j][n] * c.At(j, i)
				}
			}
		}
	}
}
