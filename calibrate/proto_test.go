package calibrate

import (
	"context"
	"fmt"
	"math"
	"sort"
	"testing"
	"time"
)

func stats(de []float64) (mean, p95 float64) {
	s := append([]float64(nil), de...)
	sort.Float64s(s)
	for _, v := range s {
		mean += v
	}
	return mean / float64(len(s)), s[int(0.95*float64(len(s)))]
}

func TestProto(t *testing.T) {
	shop := readRealPigments(t)
	for _, kind := range []string{"one", "three", "spectrum"} {
		for _, n := range []int{26, 37, 48} {
			chips := evidenceOf(designOf(shop.chips, n), kind)
			t0 := time.Now()
			c, err := Fit(context.Background(), shop.pigments, chips, Options{Layer: KubelkaMunk})
			if err != nil {
				t.Fatal(err)
			}
			dt := time.Since(t0)
			var de []float64
			cover, up, chn := 0.0, 0.0, 0.0
			exp := 0.0
			for _, m := range shop.mixtures {
				p, err := c.Predict(Sample{Loadings: m.Loadings, Setting: Setting{m.Thickness, m.Backing, "included"}})
				if err != nil {
					t.Fatal(err)
				}
				pc := p.Colors[0]
				d, _ := pc.Lab.DeltaE00(m.Labs[0])
				de = append(de, d)
				exp += pc.Expected
				if pc.Covers(m.Labs[0]) {
					cover++
				}
				if d <= pc.Upper95 {
					up++
				}
				a, b := pc.Lab.Values(), m.Labs[0].Values()
				for i := range 3 {
					if math.Abs(a[i]-b[i]) <= pc.Half95[i] {
						chn++
					}
				}
			}
			if n == 0 {
				for _, r := range c.Chips {
					fmt.Printf("   %-8s de %.2f loo %.2f sigma %.2f %v\n", r.Chip, r.DE00, r.LeftDE00, r.Sigma, r.Inside)
				}
			}
			N := float64(len(shop.mixtures))
			mean, p95 := stats(de)
			fmt.Printf("%-9s %d mean %.3f p95 %.3f expected %.3f | region %.3f upper %.3f channels %.3f | loo %.2f %.2f cover %.2f | err %v noise %v kept %.4f z %d  %v\n", kind, n, mean, p95, exp/N, cover/N, up/N, chn/N/3,
				c.LeaveOut.MeanDE00, c.LeaveOut.MedianDE00, c.LeaveOut.Coverage95, c.ModelError, c.Noise, c.Posterior.Kept, len(c.Posterior.Cov), dt)
		}
	}
}
