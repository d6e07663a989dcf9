package calibrate

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"masstone/color"
)

// Judged is a predicted colour beside the reading of it.
type Judged struct {
	Predicted PredictedColor
	Measured  color.Lab
	DE00      float64 // CIEDE2000 between them
	InRegion  bool    // the reading lies in the 95 % region
	Within    [3]bool // L*, a*, b* lie in their 95 % intervals
}

// Judge holds a reading against the prediction. The error is a reading under
// another condition.
func (p PredictedColor) Judge(measured color.Lab) (Judged, error) {
	de, err := measured.DeltaE00(p.Lab)
	if err != nil {
		return Judged{}, err
	}
	if math.IsNaN(de) {
		return Judged{}, fmt.Errorf("the reading %v is no colour; read it again", measured.Values())
	}
	j := Judged{Predicted: p, Measured: measured, DE00: de, InRegion: p.Covers(measured)}
	is, said := measured.Values(), p.Lab.Values()
	for t := range 3 {
		j.Within[t] = math.Abs(is[t]-said[t]) <= p.Half95[t]
	}
	return j, nil
}

// Tally sums up how predictions compare with readings. The quantiles are
// interpolated; the shares run from 0 to 1 and are 0.95 on average where the
// bars are honest.
type Tally struct {
	N                 int
	Mean, Median      float64 // of the CIEDE2000
	P95, Max          float64
	Coverage95        float64 // share of all L*, a*, b* that lie in their own 95 % interval
	Region95          float64 // share of readings in the 95 % region of all three together
	BelowUpper95Share float64 // share of readings no farther than the 95 % bound of the CIEDE2000
}

// TallyOf sums up; the zero Tally is that of none.
func TallyOf(all []Judged) Tally {
	if len(all) == 0 {
		return Tally{}
	}
	var channels, regions, below int
	de := make([]float64, len(all))
	for i, j := range all {
		de[i] = j.DE00
		if j.InRegion {
			regions++
		}
		for _, in := range j.Within {
			if in {
				channels++
			}
		}
		if j.DE00 <= j.Predicted.Upper95 {
			below++
		}
	}
	share := func(count, of int) float64 { return float64(count) / float64(of) }
	t := Tally{N: len(all), Coverage95: share(channels, 3*len(all)), Region95: share(regions, len(all)), BelowUpper95Share: share(below, len(all))}
	slices.Sort(de)
	t.Mean, t.Max = stat.Mean(de, nil), de[len(de)-1]
	t.Median, t.P95 = stat.Quantile(0.5, stat.LinInterp, de, nil), stat.Quantile(0.95, stat.LinInterp, de, nil)
	return t
}
