package color

import (
	"errors"
	"fmt"
	"math"
)

// Repeatability sums up several readings of one piece.
type Repeatability struct {
	Mean    Lab
	MCDM    float64 // mean CIEDE2000 of the readings from their mean
	Outlier int     // index of the reading that does not belong, -1 for none
}

// widestMCDM is the MCDM beyond which readings are hardly of one piece;
// handhelds repeat within 0.1 (common practice, no source).
const widestMCDM = 1

// Apart tells whether readings that should agree do not, though none of them
// stands out.
func (r Repeatability) Apart() bool { return r.Outlier < 0 && r.MCDM > widestMCDM }

// ErrNoReadings says that there was nothing to average.
var ErrNoReadings = errors.New("no readings; read the part at least once")

// leastOutlier is the CIEDE2000 from the mean of the others below which no
// reading is called an outlier, however well the others agree: a handheld
// instrument moved and read again differs by so much (from memory).
const leastOutlier = 0.3

// Repeat gives the mean, the MCDM (14), and the outlier of repeated readings of
// one piece. A reading is an outlier if its squared CIEDE2000 from the mean of
// the others, against their own scatter, would be exceeded by one set in a
// hundred of normally scattered readings (an F test with 3 and 3(n-2) degrees
// of freedom, at 0.01/n as any of the n may be it), and if it is 0.3 or more.
// At least three readings are needed to call one. ErrNoReadings for none,
// ErrConditions for mixed conditions, and an error for a reading that is not a
// number, which names it.
func Repeat(readings []Lab) (Repeatability, error) {
	if len(readings) == 0 {
		return Repeatability{}, ErrNoReadings
	}
	under := readings[0].Under
	var sum [3]float64
	for i, r := range readings {
		if err := same(under, r.Under); err != nil {
			return Repeatability{}, fmt.Errorf("reading %d: %w", i+1, err)
		}
		for k, v := range r.Values() {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return Repeatability{}, fmt.Errorf("reading %d: %g %g %g is not a colour; read it again", i+1, r.L, r.A, r.B)
			}
			sum[k] += v
		}
	}
	n := float64(len(readings))
	mean := [3]float64{sum[0] / n, sum[1] / n, sum[2] / n}
	out := Repeatability{Mean: LabFrom(mean, under), Outlier: -1}
	for _, r := range readings {
		out.MCDM += Delta00(mean, r.Values()) / n // (14)
	}
	if len(readings) >= 3 {
		out.Outlier = outlier(readings, mean)
	}
	return out, nil
}

// outlier finds the reading with the largest F against the others, -1 if even
// that is ordinary.
func outlier(readings []Lab, mean [3]float64) int {
	n := len(readings)
	metric := Metric00(mean)
	offsets := make([][3]float64, n)
	total := 0.0
	for i, r := range readings {
		for k, v := range r.Values() {
			offsets[i][k] = v - mean[k]
		}
		total += squared(metric, offsets[i])
	}
	// With d the squared offset from the mean of all, the offset from the mean
	// of the others is n/(n-1) times as long and their scatter is
	// total - d n/(n-1).
	worst, largest := -1, 0.0
	share := float64(n) / float64(n-1)
	for i := range readings {
		d := squared(metric, offsets[i])
		if math.Sqrt(d)*share < leastOutlier {
			continue
		}
		scatter := max(0, total-d*share) / float64(3*(n-2))
		if f := d * share / 3; f > outlierF(n)*scatter && d > largest {
			worst, largest = i, d
		}
	}
	return worst
}

func squared(m [3][3]float64, d [3]float64) float64 {
	s := 0.0
	for i := range d {
		for j := range d {
			s += d[i] * m[i][j] * d[j]
		}
	}
	return s
}

// outlierF is the F with 3 and 3(n-2) degrees of freedom exceeded with
// probability 0.01/n. It falls with n, so that of 10 is on the safe side of
// more readings.
func outlierF(n int) float64 {
	quantiles := [...]float64{3: 62.573, 16.867, 11.442, 9.564, 8.649, 8.120, 7.784, 7.554}
	return quantiles[min(n, len(quantiles)-1)]
}
