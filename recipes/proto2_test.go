package recipes

import (
	"context"
	"fmt"
	"math"
	"testing"

	"masstone/calibrate"
)

func TestProtoSet(t *testing.T) {
	chips, pigs := table("../testdata/real_pigments/chips.csv")
	mix, _ := table("../testdata/real_pigments/mixtures.csv")
	for i := range chips {
		chips[i].Spectrum = nil
		chips[i].Labs = chips[i].Labs[:1]
	}
	cal, err := calibrate.Fit(context.Background(), pigs, chips, calibrate.Options{Layer: "kubelka-munk"})
	if err != nil {
		t.Fatal(err)
	}
	mm := mix[1]
	tg := Target{Name: mm.Name, Labs: mm.Labs[:1], Setting: calibrate.Setting{Thickness: 3, Backing: mm.Backing, Specular: "included"}}
	m, _ := newMatch(cal, tg, Limits{BatchGrams: 100, ScaleGrams: .01})
	fmt.Println("total", m.bench.total, m.bench.hi)
	var at []int
	for _, c := range []string{"WH", "YO", "OR", "GN"} {
		for i, q := range m.bench.pigments {
			if cal.Curves[q].Code == c {
				at = append(at, i)
			}
		}
	}
	{
		w := m.work(m.eval.Coarse(7))
		w.take(at[:2])
		w.c = [8]float64{.3, .3}
		fmt.Println(w.solve(), w.c[:2])
		c := w.c
		c[2] = .006
		w.take(at[:3])
		w.c = c
		fmt.Println(w.solve(), w.c[:3])
		c = w.c
		c[3] = .006
		w.take(at[:4])
		w.c = c
		fmt.Println(w.solve(), w.c[:4])
		fmt.Println(w.slide(), w.c[:4])
	}
	for _, dir := range []int{7, 20} {
		w := m.work(m.eval.Coarse(dir))
		w.take(at)
		for _, c := range [][4]float64{{.3, .3, .3, .3}, {.877, 1.25, .836, .0411}, {.4, .6, .4, .02}} {
			copy(w.c[:], c[:])
			f := w.solve()
			fmt.Println(dir, "solve", f, w.c[:4], math.Sqrt(w.expected(&w.c)))
			v := w.slide()
			fmt.Println("  slide", math.Sqrt(v), w.c[:4])
			v = w.polish()
			fmt.Println("  polish", math.Sqrt(v), w.c[:4], w.residuals(&w.c))
		}
	}
}
