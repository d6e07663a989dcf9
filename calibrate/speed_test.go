package calibrate

import (
	"context"
	"testing"
)

func BenchmarkFit48(b *testing.B) {
	shop := readRealPigments(b)
	for _, kind := range []string{"one", "three", "spectrum"} {
		b.Run(kind, func(b *testing.B) {
			chips := evidenceOf(shop.chips, kind)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Fit(context.Background(), shop.pigments, chips, Options{Layer: KubelkaMunk}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
