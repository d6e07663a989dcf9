package layer

import (
	"fmt"
	"math"
	"math/rand"
	"testing"
)

func TestConv(t *testing.T) {
	for _, g := range []float64{0, 0.6} {
		squared = false
		ref, _ := NewSlab(Optics{Index: 1.5, Directions: 96, ViewDegrees: 8, Anisotropy: g})
		squared = true
		rng := rand.New(rand.NewSource(2))
		type c struct{ k, s, x, g, r float64 }
		var cs []c
		for i := 0; i < 250; i++ {
			q := c{k: math.Exp(math.Log(1e-6) + rng.Float64()*math.Log(1e9)), s: math.Exp(math.Log(1e-6) + rng.Float64()*math.Log(1e9)), x: math.Exp(math.Log(.05) + rng.Float64()*math.Log(400)), g: 1}
			if i%2 == 0 {
				q.k = math.Exp(math.Log(1e-3) + rng.Float64()*math.Log(1e5))
				q.s = math.Exp(math.Log(1e-2) + rng.Float64()*math.Log(1e4))
				q.g = .9
			}
			q.r = ref.Reflectance(q.k, q.s, q.x, q.g, "included")
			cs = append(cs, q)
		}
		for _, n := range []int{8, 12, 16, 20, 24, 32, 48} {
			s, _ := NewSlab(Optics{Index: 1.5, Directions: n, ViewDegrees: 8, Anisotropy: g})
			m := 0.0
			var at c
			sum := 0.0
			for _, q := range cs {
				d := math.Abs(s.Reflectance(q.k, q.s, q.x, q.g, "included") - q.r)
				sum += d
				if d > m {
					m = d
					at = q
				}
			}
			fmt.Printf("g %g n %d max %.2e mean %.2e at %.3g\n", g, n, m, sum/float64(len(cs)), at)
		}
	}
}
