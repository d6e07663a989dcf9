package recipes

import (
	"masstone/calibrate"
	"masstone/color"
)

// Verdict is a part held against its target.
type Verdict struct {
	Pour       string
	Difference color.Difference // under the target's main condition, in its formula
	Words      string           // the same in plain words
	DE00       float64
	// Landing is where the part truly lies, given the noise of its reading and
	// of the target's: Chance is that of being accepted.
	calibrate.Landing
}

// judge holds a pour against its target; now are evenly likely true
// differences in CIEDE2000, smallest first.
func (m *match) judge(p *Pour) (v Verdict, now []float64, err error) {
	lab, cov, err := p.under(m.conds[0], m.cal.Noise)
	if err != nil {
		return v, nil, err
	}
	std := color.LabFrom(m.wants[0].lab, m.conds[0])
	if v.Difference, err = color.Compare(std, lab, m.target.formula()); err != nil {
		return v, nil, err
	}
	v.Pour, v.Words = p.Name, v.Difference.Words()
	v.DE00 = color.Delta00(std.Values(), lab.Values())
	v.Landing, now = m.land(lab.Values(), cov)
	return v, now, nil
}

// land returns where a colour known up to cov lies from the target, and evenly
// likely differences in CIEDE2000, smallest first.
func (m *match) land(lab [3]float64, cov [3][3]float64) (calibrate.Landing, []float64) {
	std := m.wants[0].lab
	return m.target.landing(std, lab, cov), calibrate.Differences(color.Delta00, std, lab, m.target.read(cov))
}

// exceeds is the chance that one of a exceeds one of b, both sorted and evenly
// likely.
func exceeds(a, b []float64) float64 {
	sum, below := 0, 0
	for _, v := range a {
		for below < len(b) && b[below] < v {
			below++
		}
		sum += below
	}
	return float64(sum) / float64(len(a)*len(b))
}
