package charts

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/plot"
)

// decades are the ticks of a logarithmic axis: labels at powers of ten and, on
// an axis of two decades or less, at 2 and 5 of them.
func decades(lo, hi float64) (ticks []plot.Tick) {
	short := hi/lo <= 100
	for e := math.Floor(math.Log10(lo)); e <= math.Ceil(math.Log10(hi)); e++ {
		for d := 1.0; d < 10; d++ {
			v := d * math.Pow(10, e)
			if v < lo*(1-1e-9) || v > hi*(1+1e-9) {
				continue
			}
			t := plot.Tick{Value: v}
			if d == 1 || short && (d == 2 || d == 5) {
				t.Label = plainNumber(v)
			} else if !short && d != 2 && d != 5 {
				continue
			}
			ticks = append(ticks, t)
		}
	}
	return ticks
}

// steps are the ticks of a linear axis.
func steps(lo, hi, step float64, decimals int) (ticks []plot.Tick) {
	for k := math.Ceil(lo/step - 1e-9); k*step <= hi+1e-9*step; k++ {
		ticks = append(ticks, plot.Tick{Value: k * step, Label: minus(strconv.FormatFloat(k*step+0, 'f', decimals, 64))})
	}
	return ticks
}

// roundStep is 1, 2 or 5 times a power of ten, at most most steps in the span.
func roundStep(span float64, most int) (step float64, decimals int) {
	raw := span / float64(most)
	e := math.Floor(math.Log10(raw))
	for _, d := range []float64{1, 2, 5, 10} {
		if step = d * math.Pow(10, e); step >= raw*(1-1e-9) {
			break
		}
	}
	return step, max(0, -int(math.Floor(math.Log10(step)+1e-9)))
}

// plainNumber writes a number without an exponent where that is short.
func plainNumber(v float64) string {
	if v >= 1e-4 && v < 1e6 {
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	return strconv.FormatFloat(v, 'g', 3, 64)
}

// minus writes negative numbers with the sign of that name.
func minus(s string) string { return strings.Replace(s, "-", "−", 1) }

// signed is a number to be read, not parsed.
func signed(v float64, decimals int) string { return minus(fmt.Sprintf("%.*f", decimals, v)) }
