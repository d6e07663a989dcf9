package calibrate

import (
	"context"
	"fmt"
	"math"
	"sort"
	"testing"
	"time"

	"masstone/calibrate/layer"
	"masstone/color"
)

func defaultPrior(q int, scatter bool, h hyper) smoothness {
	s := smoothness{Bend: h.BendK, Level: math.Log(0.5), Spread: 2}
	if scatter {
		s.Bend = h.BendS
	}
	if q == 0 {
		s.Level = math.Log(0.01)
	}
	return s
}

func heldOut(p *problem, x state, mixtures []Chip) []float64 {
	var de []float64
	pm, err := newProblem(p.pigments, mixtures, p.layer, p.hyper, p.prior)
	if err != nil {
		panic(err)
	}
	pm.byBand = p.byBand
	var w workspace
	xx := make(state, p.n+pm.d)
	copy(xx, x[:p.n])
	pm.expand(xx, &w)
	for i := range pm.readings {
		r := &pm.readings[i]
		for j := range r.border {
			r.border[j] = -1
		}
		th := pm.mix(r, xx, &w)
		pm.layer.Bands(&w.k, &w.s, th, &r.backing, "included", &w.partials)
		lab := r.weights[0].Lab((*color.Reflectance)(&w.partials.R))
		m := r.chip.Labs[0]
		de = append(de, color.Delta00([3]float64{m.L, m.A, m.B}, [3]float64{lab.L, lab.A, lab.B}))
	}
	return de
}

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
			for _, bend := range []float64{0.15, 0.3, 0.6} {
				h := hyper{BendK: bend, BendS: bend / 2, LabSD: 0.08, SpectrumSD: 0.001}
				p, err := newProblem(shop.pigments, chips, layer.KubelkaMunk{K1: 0.04, K2: 0.6}, h, defaultPrior)
				if err != nil {
					t.Fatal(err)
				}
				x := p.flat()
				sys := p.system()
				t0 := time.Now()
				cost, steps, err := p.converge(context.Background(), x, sys, 0.1, 60)
				dt := time.Since(t0)
				ev, _ := p.evidence(x, sys)
				mean, p95 := stats(heldOut(p, x, shop.mixtures))
				fmt.Printf("%-9s %d bend %.2f cost %9.1f steps %d ev %9.1f mean %.3f p95 %.3f %v err %v n %d d %d m %d\n", kind, n, bend, cost, steps, ev, mean, p95, dt.Round(time.Millisecond), err, len(chips), p.d, p.m)
			}
		}
	}
}
