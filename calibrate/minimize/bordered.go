package minimize

import (
	"errors"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/lapack/lapack64"
)

// ErrNotPositive reports a system that is not positive definite in floating
// point: the caller adds damping or reports the evidence as degenerate.
var ErrNotPositive = errors.New("the normal equations are not positive definite")

// A Bordered system is the normal matrix of a least-squares problem whose
// unknowns are mostly local:
//
//	H = | B  E | + U'U                                     (1)
//	    | E' F |
//
// B (N x N) is symmetric with half-bandwidth Width, F (D x D) is diagonal
// before elimination, E couples the two, and the rows of U (M x (N+D)) reach
// everywhere. Smoothness of a spectrum and a spectral reading are local; a
// weighing error touches every band of one chip and stands in the border; a
// colour reading adds up all bands and is a row of U.
//
// Fill B, E, F and U, call Factor, then Solve and LogDet. The zero value is
// not usable; call NewBordered.
type Bordered struct {
	N, D, M, Width int

	band   []float64 // row i holds columns i-Width..i, then its Cholesky factor
	border []float64 // D rows of length N: E', then L^-1 E as rows
	corner []float64 // D x D: F, then the Cholesky factor of its Schur complement
	rows   []float64 // M rows of length N+D: U, then (Lf^-1 U')' as rows

	pivot []float64 // 1 / the diagonal of the factor of B
	far   *far
	loose bool // no border is coupled: E is zero and F diagonal
	small []float64
}

// NewBordered returns a zeroed system of n local unknowns, d border unknowns
// and m far-reaching rows.
func NewBordered(n, d, m, width int) *Bordered {
	s := &Bordered{N: n, D: d, M: m, Width: width}
	s.band = make([]float64, n*(width+1))
	s.border = make([]float64, d*n)
	s.corner = make([]float64, d*d)
	s.rows = make([]float64, m*(n+d))
	s.pivot = make([]float64, n)
	s.small = make([]float64, m)
	s.far = newFar(n, d, m)
	return s
}

// Zero clears the system for a new linearisation.
func (s *Bordered) Zero() {
	clear(s.band)
	clear(s.border)
	clear(s.corner)
	clear(s.rows)
}

// AddBand adds v to B at row i, column j, where j <= i and i-j <= Width.
func (s *Bordered) AddBand(i, j int, v float64) {
	s.band[i*(s.Width+1)+s.Width-(i-j)] += v
}

// AddBorder adds v to E between local unknown i and border unknown d.
func (s *Bordered) AddBorder(i, d int, v float64) { s.border[d*s.N+i] += v }

// AddCorner adds v to F between border unknowns d and e, e <= d.
func (s *Bordered) AddCorner(d, e int, v float64) { s.corner[d*s.D+e] += v }

// Row returns row m of U to fill: first the N local entries, then the D
// border entries.
func (s *Bordered) Row(m int) []float64 {
	w := s.N + s.D
	return s.rows[m*w : (m+1)*w : (m+1)*w]
}

// Factor eliminates the system in place. It returns ErrNotPositive when a
// pivot is not positive.
func (s *Bordered) Factor() error {
	n, w := s.N, s.Width
	for i := range n {
		ri := s.band[i*(w+1) : (i+1)*(w+1)]
		lo := max(0, i-w)
		for j := lo; j < i; j++ {
			rj := s.band[j*(w+1) : (j+1)*(w+1)]
			// columns lo..j-1 stand in both rows
			k := max(lo, j-w)
			a := ri[k-i+w : j-i+w]
			b := rj[k-j+w : w]
			ri[j-i+w] = (ri[j-i+w] - floats.Dot(a, b)) / rj[w]
		}
		p := ri[w]
		a := ri[lo-i+w : w]
		p -= floats.Dot(a, a)
		if !(p > 0) || math.IsInf(p, 0) {
			return ErrNotPositive
		}
		ri[w] = math.Sqrt(p)
		s.pivot[i] = 1 / ri[w]
	}
	if s.loose = s.uncoupled(); s.loose {
		for d := range s.D {
			s.corner[d*s.D+d] = math.Sqrt(s.corner[d*s.D+d])
		}
	} else if s.D > 0 {
		eachOnCores(s.D, 8, func(d int) { s.forwardBand(s.border[d*n : (d+1)*n]) })
		if !s.eliminateBorder() {
			return ErrNotPositive
		}
	}
	for d := range s.D {
		if v := s.corner[d*s.D+d]; !(v > 0) || math.IsInf(v, 0) {
			return ErrNotPositive
		}
	}
	if s.M == 0 {
		return nil
	}
	eachOnCores(s.M, 8, func(m int) { s.forward(s.Row(m)) })
	return s.far.factor(s.Row)
}

// eliminateBorder factors what the corner is without the local unknowns, and reports
// whether that is positive. A few rows go together, for the border is more than what a
// core has at hand.
func (s *Bordered) eliminateBorder() bool {
	const rows = 8
	eachOnCores((s.D+rows-1)/rows, 1, func(k int) {
		to := min(rows*(k+1), s.D)
		for e := range to {
			be := s.border[e*s.N : (e+1)*s.N]
			for d := max(rows*k, e); d < to; d++ {
				s.corner[d*s.D+e] -= floats.Dot(s.border[d*s.N:(d+1)*s.N], be)
			}
		}
	})
	_, ok := lapack64.Potrf(blas64.Symmetric{N: s.D, Stride: s.D, Uplo: blas.Lower, Data: s.corner})
	return ok
}

// uncoupled reports whether the border stands by itself, as it does where all
// evidence is far-reaching.
func (s *Bordered) uncoupled() bool {
	for _, v := range s.border {
		if v != 0 {
			return false
		}
	}
	for d := range s.D {
		for _, v := range s.corner[d*s.D : d*s.D+d] {
			if v != 0 {
				return false
			}
		}
	}
	return true
}

// eachOnCores calls do for 0..n-1, which must not touch each other's results,
// on every core, batch of them at a time.
func eachOnCores(n, batch int, do func(int)) {
	workers := min(runtime.GOMAXPROCS(0), n/(2*batch))
	if workers < 2 {
		for i := range n {
			do(i)
		}
		return
	}
	var wait sync.WaitGroup
	var next atomic.Int64
	for range workers {
		wait.Go(func() {
			for {
				lo := int(next.Add(int64(batch))) - batch
				if lo >= n {
					return
				}
				for i := lo; i < min(lo+batch, n); i++ {
					do(i)
				}
			}
		})
	}
	wait.Wait()
}

// forwardBand overwrites x (length N) with L^-1 x.
func (s *Bordered) forwardBand(x []float64) {
	w := s.Width
	if w == 2 {
		s.forwardPair(x)
		return
	}
	last := -w - 1 // last entry that is not zero: beyond its reach zeros stay
	for i, v := range x {
		if v == 0 && i-last > w {
			continue
		}
		lo := max(0, i-w)
		ri := s.band[i*(w+1)+w-(i-lo) : i*(w+1)+w]
		v -= floats.Dot(ri, x[lo:i])
		if v != 0 {
			last = i
		}
		x[i] = v * s.pivot[i]
	}
}

// forwardPair is forwardBand where two neighbours are all that an unknown is tied to,
// as bands of a curve are by their smoothness.
func (s *Bordered) forwardPair(x []float64) {
	pivot, band := s.pivot[:len(x)], s.band
	var one, two float64 // the last and the one before
	for i, v := range x {
		if v == 0 && one == 0 && two == 0 {
			continue
		}
		r := band[3*i : 3*i+3 : 3*i+3]
		v = (v - r[0]*two - r[1]*one) * pivot[i]
		x[i], one, two = v, v, one
	}
}

// forward overwrites x (length N+D) with Lf^-1 x, Lf the factor of the local
// part with its border.
func (s *Bordered) forward(x []float64) {
	n := s.N
	s.forwardBand(x[:n])
	if s.loose {
		for d := range s.D {
			x[n+d] /= s.corner[d*s.D+d]
		}
		return
	}
	for d := range s.D {
		rd := s.corner[d*s.D : (d+1)*s.D]
		x[n+d] = (x[n+d] - floats.Dot(s.border[d*n:(d+1)*n], x[:n]) - floats.Dot(rd[:d], x[n:n+d])) / rd[d]
	}
}

// backward overwrites x with Lf^-T x.
func (s *Bordered) backward(x []float64) {
	n, w := s.N, s.Width
	for d := s.D - 1; d >= 0; d-- {
		if s.loose {
			x[n+d] /= s.corner[d*s.D+d]
			continue
		}
		rd := s.corner[d*s.D : (d+1)*s.D]
		x[n+d] /= rd[d]
		floats.AddScaled(x[n:n+d], -x[n+d], rd[:d])
		floats.AddScaled(x[:n], -x[n+d], s.border[d*n:(d+1)*n])
	}
	for i := n - 1; i >= 0; i-- {
		ri := s.band[i*(w+1) : (i+1)*(w+1)]
		x[i] /= ri[w]
		lo := max(0, i-w)
		floats.AddScaled(x[lo:i], -x[i], ri[lo-i+w:w])
	}
}

// Solve overwrites g (length N+D) with H^-1 g.
func (s *Bordered) Solve(g []float64) {
	s.forward(g)
	s.project(g)
	s.backward(g)
}

// project overwrites the whitened vector y with (I - T C^-1 T') y, T = Lf^-1 U'.
func (s *Bordered) project(y []float64) {
	if s.M == 0 {
		return
	}
	for m := range s.M {
		s.small[m] = floats.Dot(s.Row(m), y)
	}
	s.far.solve(s.small)
	for m := range s.M {
		floats.AddScaled(y, -s.small[m], s.Row(m))
	}
}

// LogDet returns ln det H.
func (s *Bordered) LogDet() float64 {
	sum := 0.0
	for i := range s.N {
		sum += 2 * math.Log(s.band[i*(s.Width+1)+s.Width])
	}
	for d := range s.D {
		sum += 2 * math.Log(s.corner[d*s.D+d])
	}
	if s.M > 0 {
		sum += s.far.logDet()
	}
	return sum
}
