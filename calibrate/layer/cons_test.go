package layer

import (
	"fmt"
	"math"
	"testing"
)

func TestCons(t *testing.T) {
	for _, g := range []float64{0, 0.6} {
		for _, n := range []int{16, 32, 48, 96} {
			s, _ := NewSlab(Optics{Index: 1.5, Directions: n, ViewDegrees: 8, Anisotropy: g})
			for _, x := range []float64{1, 100, 1e4, 1e6} {
				r := s.solve(1, x)
				q := s.solve(1-1e-9, x)
				fmt.Printf("g %g n %d x %g  %.3g %.3g  T %.8g %.8g  1-R %.8g\n", g, n, x, 1-r.Mirror-r.Black-r.In, 1-r.Under-r.Out, r.Out*(1+.75*x), q.Out*(1+.75*x)/math.Exp(-math.Sqrt(3e-9)*x), (1-q.Black-q.Mirror)/math.Sqrt(3e-9))
			}
		}
	}
}
