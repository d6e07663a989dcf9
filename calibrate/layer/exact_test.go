package layer_test

import (
	"fmt"
	"math"
	"math/rand"
	"sort"
	"testing"

	"masstone/calibrate/layer"
	"masstone/color"
)

func TestProtoErr(t *testing.T) {
	for _, n := range []float64{1.5, 1.33, 1.6} {
		e, err := layer.NewExact(n)
		fmt.Println(err)
		s, _ := layer.NewSlab(layer.DiffuseEight(n))
		fine, _ := layer.NewSlab(layer.Optics{Index: n, Directions: 48, ViewDegrees: 8})
		rng := rand.New(rand.NewSource(1))
		type er struct{ e, f, k, s, x, g float64 }
		var es []er
		for i := 0; i < 4000; i++ {
			k := math.Exp(math.Log(1e-6) + rng.Float64()*math.Log(1e9))
			sc := math.Exp(math.Log(1e-6) + rng.Float64()*math.Log(1e9))
			if i%2 == 0 {
				k = math.Exp(math.Log(1e-3) + rng.Float64()*math.Log(1e5))
				sc = math.Exp(math.Log(1e-2) + rng.Float64()*math.Log(1e4))
			}
			x := math.Exp(math.Log(.05) + rng.Float64()*math.Log(400))
			g := rng.Float64()
			if i%10 == 0 {
				g = 1
			}
			want := s.Reflectance(k, sc, x, g, color.SpecularIncluded)
			best := want
			if i%10 == 0 {
				best = fine.Reflectance(k, sc, x, g, color.SpecularIncluded)
			}
			got := one(e, k, sc, x, g, color.SpecularIncluded).r
			es = append(es, er{math.Abs(got - want), math.Abs(best - want), k, sc, x, g})
		}
		bf := 0.0
		for _, e := range es {
			bf = math.Max(bf, e.f)
		}
		sort.Slice(es, func(a, b int) bool { return !(es[a].e < es[b].e) })
		fmt.Printf("n %g max %.2e p99 %.2e p90 %.2e median %.2e   fine %.2e\n", n, es[0].e, es[len(es)/100].e, es[len(es)/10].e, es[len(es)/2].e, bf)
		for _, e := range es[:5] {
			fmt.Printf("%.3g\n", e)
		}
	}
}
