package control

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// d2 is the mean range of two values of a normal distribution, per sigma (ISO
// 7870-2, as printed there and in the e-Handbook).
const d2 = 1.128

// Fewest is how many values a run needs before its limits say anything; 20 or
// more before they are to be relied on. Common practice, no source.
const (
	Fewest = 5
	Enough = 20
)

// Individuals is a Shewhart chart of single values.
type Individuals struct {
	Mean, Sigma  float64
	Lower, Upper float64
	Outside      []int // values beyond the limits
}

// IndividualsOf charts values in the order of casting; floor is the least that
// sigma can be, the standard deviation of a reading, 0 for none.
func IndividualsOf(x []float64, floor float64) Individuals {
	c := Individuals{Mean: stat.Mean(x, nil), Sigma: floor}
	if len(x) > 1 {
		ranges := make([]float64, len(x)-1)
		for i := range ranges {
			ranges[i] = math.Abs(x[i+1] - x[i])
		}
		c.Sigma = math.Max(floor, stat.Mean(ranges, nil)/d2) // (1)
	}
	c.Lower, c.Upper = c.Mean-3*c.Sigma, c.Mean+3*c.Sigma // (2)
	for i, v := range x {
		if v < c.Lower || v > c.Upper {
			c.Outside = append(c.Outside, i)
		}
	}
	return c
}
