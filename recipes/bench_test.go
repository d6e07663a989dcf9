package recipes

import (
	"context"
	"testing"

	"masstone/calibrate"
)

func BenchmarkMatch12x4(b *testing.B) {
	chips, pigs := table("../testdata/real_pigments/chips.csv")
	mix, _ := table("../testdata/real_pigments/mixtures.csv")
	for i := range chips {
		chips[i].Labs = chips[i].Labs[:1]
	}
	cal, err := calibrate.Fit(context.Background(), pigs, chips, calibrate.Options{Layer: "kubelka-munk"})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		m := mix[i%len(mix)]
		i++
		tg := Target{Name: m.Name, Labs: m.Labs[:1], Setting: calibrate.Setting{Thickness: 3, Backing: m.Backing, Specular: "included"}}
		_, err := Match(context.Background(), cal, tg, Limits{BatchGrams: 100, ScaleGrams: 0.01})
		if err != nil {
			b.Fatal(err)
		}
	}
}
