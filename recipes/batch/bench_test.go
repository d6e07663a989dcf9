package batch_test

import (
	"testing"

	"masstone/recipes/batch"
)

// BenchmarkGridSearch5 plans five pigments on the grid, all 4^5 combinations.
// evals/op counts calls of the outcome; multiply by a real one's time.
func BenchmarkGridSearch5(b *testing.B) {
	r := request(250, five)
	r.Dilution = batch.DiluteNever
	calls := counted(&r)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := batch.Plan(r); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(*calls)/float64(b.N), "evals/op")
}

func BenchmarkPlanWithPredilution5(b *testing.B) {
	r := request(100, five)
	calls := counted(&r)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := batch.Plan(r); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(*calls)/float64(b.N), "evals/op")
}

func BenchmarkSmallest5(b *testing.B) {
	r := request(250, five)
	r.Tolerance = 0.8
	calls := counted(&r)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := batch.Smallest(r); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(*calls)/float64(b.N), "evals/op")
}

func BenchmarkOvershoot5(b *testing.B) {
	r := request(250, five)
	r.Tolerance = 0.8
	calls := counted(&r)
	s, err := batch.Plan(r)
	if err != nil {
		b.Fatal(err)
	}
	*calls = 0
	b.ReportAllocs()
	for b.Loop() {
		if _, err := batch.Overshoot(r, s, batch.Poured{"RD": batch.Grams(0.62)}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(*calls)/float64(b.N), "evals/op")
}

func counted(r *batch.Request) *int {
	see, calls := target(five, 0.3), new(int)
	r.Outcome = func(m batch.Mixture) (float64, error) { *calls++; return see(m) }
	return calls
}
