package calibrate

import (
	"context"
	"fmt"
	"math"
	"testing"
)

func TestZZJac(t *testing.T) {
	shop := readRealPigments(t)
	for _, kind := range []string{"one", "three", "spectrum"} {
		chips := evidenceOf(designOf(shop.chips, 37), kind)
		c, err := Fit(context.Background(), shop.pigments, chips, Options{Layer: KubelkaMunk})
		if err != nil {
			t.Fatal(err)
		}
		c, _ = c.NewLot(map[string]float64{"WH": 0.1, "RD": 0.1, "": .1})
		l, err := newLesson(c, chips[4:9], LearnOptions{Bias: 0.2})
		if err != nil {
			t.Fatal(err)
		}
		x := make([]float64, l.n)
		for i := range x {
			x[i] = 0.3 * math.Sin(float64(i*i))
		}
		r0 := l.linearise(x)
		j := append([]float64(nil), l.jac.RawMatrix().Data...)
		worst := 0.0
		for k := range x {
			y := append([]float64(nil), x...)
			h := 1e-5
			y[k] += h
			r1 := l.linearise(y)
			y[k] -= 2 * h
			r2 := l.linearise(y)
			for i := range l.rows {
				num := -(r1.AtVec(i) - r2.AtVec(i)) / (2 * h)
				d := math.Abs(num - j[i*l.n+k])
				if d > worst*1.5 {
					worst = d
					fmt.Println(kind, "row", i, "x", k, "of", l.seen, l.common, l.n, num, j[i*l.n+k])
				}
			}
		}
		_ = r0
	}
}
