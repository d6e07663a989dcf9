package color

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Half the second derivative of CIEDE2000 squared, taken by central
// differences, must be the metric. The step is small enough for the curvature
// of the tolerances and large enough for rounding.
func TestMetric00AgainstFiniteDifferences(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := drawLab(t, "std")
		if math.Hypot(x[1], x[2]) < 1 {
			return // CIEDE2000 is kinked on the neutral axis
		}
		const h = 1e-3
		f := func(d [3]float64) float64 {
			de := Delta00(x, [3]float64{x[0] + d[0], x[1] + d[1], x[2] + d[2]})
			return de * de
		}
		m := Metric00(x)
		for i := range 3 {
			for j := range 3 {
				var both, apart, back, cross [3]float64
				both[i], both[j] = h, h
				if i == j {
					back[i] = -h
					got := (f(both) + f(back)) / (2 * h * h)
					check(t, x, i, j, m[i][j], got)
					continue
				}
				back[i], back[j] = -h, -h
				apart[i], apart[j] = h, -h
				cross[i], cross[j] = -h, h
				check(t, x, i, j, m[i][j], (f(both)+f(back)-f(apart)-f(cross))/(8*h*h))
			}
		}
	})
}

func check(t *rapid.T, x [3]float64, i, j int, want, got float64) {
	if !(math.Abs(got-want) <= 1e-4*math.Max(1, math.Abs(want))) {
		t.Fatalf("at %v: M[%d][%d] = %.8f, differences give %.8f", x, i, j, want, got)
	}
}

// For a difference of a few tenths, as a recipe has from its target, the
// quadratic form must tell CIEDE2000 to a few parts in a hundred.
func TestMetric00TellsSmallDifferences(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := drawLab(t, "std")
		if math.Hypot(x[1], x[2]) < 10 {
			return
		}
		var d, y [3]float64
		for i := range d {
			d[i] = rapid.Float64Range(-0.3, 0.3).Draw(t, "offset")
			y[i] = x[i] + d[i]
		}
		got, want := math.Sqrt(squared(Metric00(x), d)), Delta00(x, y)
		if !(math.Abs(got-want) <= 0.03*want+1e-9) {
			t.Fatalf("%v + %v: %g, CIEDE2000 %g", x, d, got, want)
		}
	})
}

func TestMetric00AtNeutralsIsFinite(t *testing.T) {
	m := Metric00([3]float64{50, 0, 0})
	if m[0][0] != 1 || !(math.Abs(m[1][1]-2.25) < 1e-12) || m[2][2] != 1 || m[1][2] != 0 {
		t.Fatalf("metric of middle grey: %v, want diagonal 1, 1.5 squared, 1", m)
	}
}

func BenchmarkMetric00(b *testing.B) {
	x := [3]float64{61.2, 38.9, 21.4}
	b.ReportAllocs()
	for b.Loop() {
		m := Metric00(x)
		sink = m[1][2]
	}
}
