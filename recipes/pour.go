package recipes

import (
	"fmt"
	"math"

	"masstone/calibrate"
	"masstone/color"
)

// Pour is a part poured for a target: what was weighed and what the cured part
// read as.
type Pour struct {
	Name     string
	Loadings map[string]calibrate.PHR // as weighed
	Setting  calibrate.Setting        // how the part was read; the target's where Thickness is 0
	// Labs are the means of the part's readings, one per condition; Spectrum,
	// if read, takes their place.
	Labs     []color.Lab
	Spectrum *color.Reflectance
	Readings int // readings behind the mean; 0 counts as 1

	// BatchGrams, of mixed resin, and ScaleGrams, the step of the scale, give
	// the weighing error; either 0 means weighed exactly. PasteStrength is the
	// share of paste in what was weighed, for pre-diluted pigments.
	BatchGrams, ScaleGrams calibrate.Grams
	PasteStrength          map[string]float64
	// FromPot is set for a shot of the pot that may be added to: what was
	// wrongly weighed into the pot is in the shot too.
	FromPot bool
}

// settle fills in what a pour takes from its target and checks it.
func (p Pour) settle(t *Target, place int) (Pour, error) {
	if p.Name == "" {
		p.Name = fmt.Sprintf("pour %d", place+1)
	}
	if p.Setting.Thickness == 0 {
		p.Setting = t.Setting
	}
	if p.Readings < 0 {
		return p, fmt.Errorf("%s: %d readings; give 1 or more", p.Name, p.Readings)
	}
	if p.Spectrum == nil && len(p.Labs) == 0 {
		return p, fmt.Errorf("%s has no reading; read the cured part first", p.Name)
	}
	c := p.chip()
	return p, c.Check()
}

// chip is the pour as evidence.
func (p *Pour) chip() calibrate.Chip {
	return calibrate.Chip{
		Name: p.Name, Loadings: p.Loadings,
		Thickness: p.Setting.Thickness, BackingName: "behind the part", Backing: p.Setting.Backing,
		Measurement: color.Measurement{Specular: p.Setting.Specular},
		Labs:        p.Labs, Spectrum: p.Spectrum,
		ChipGrams: p.BatchGrams, ScaleGrams: p.ScaleGrams, PasteStrength: p.PasteStrength,
	}
}

// under returns the part's colour under a condition, with the covariance of
// its reading.
func (p *Pour) under(c color.Condition, noise calibrate.Noise) (lab color.Lab, cov [3][3]float64, err error) {
	n := float64(max(1, p.Readings))
	if p.Spectrum != nil {
		w, err := color.WeightsFor(c)
		if err != nil {
			return lab, cov, err
		}
		var v [3]float64
		var jac [3][color.Bands]float64
		w.LabWithJacobian(p.Spectrum, &v, &jac)
		for i := range cov {
			for j := range cov {
				for b := range color.Bands {
					cov[i][j] += jac[i][b] * jac[j][b] * noise.SpectrumSD * noise.SpectrumSD / n
				}
			}
		}
		return color.LabFrom(v, c), cov, nil
	}
	for _, l := range p.Labs {
		if l.Under == c {
			for i := range cov {
				cov[i][i] = noise.LabSD * noise.LabSD / n
			}
			return l, cov, nil
		}
	}
	return lab, cov, fmt.Errorf("%s was not read under %s, the target's condition; read it so", p.Name, c)
}

// pots gives what a pot holds the errors that were made when it was filled:
// seen from its shots, a pigment of which too much was weighed is a stronger one.
func (p *Pour) potDrift(code string) float64 {
	c := p.chip()
	if phr := p.Loadings[code]; phr > 0 {
		return float64(c.WeighSD(code) / phr)
	}
	return 0
}

// Verdict is a part held against its target.
type Verdict struct {
	Pour       string
	Difference color.Difference // under the target's main condition, in its formula
	Words      string           // the same in plain words
	DE00       float64
	// Landing is where the part truly lies, given the noise of its reading and
	// of the target's: Chance is that of being within tolerance.
	calibrate.Landing
}

// judge holds a pour against its target; spread are evenly likely true
// differences in CIEDE2000.
func (m *match) judge(p *Pour) (v Verdict, spread []float64, err error) {
	lab, cov, err := p.under(m.conds[0], m.cal.Noise)
	if err != nil {
		return v, nil, err
	}
	std := color.LabFrom(m.wants[0].lab, m.conds[0])
	if v.Difference, err = color.Compare(std, lab, m.formula()); err != nil {
		return v, nil, err
	}
	v.Pour, v.Words = p.Name, v.Difference.Words()
	v.DE00 = color.Delta00(std.Values(), lab.Values())
	v.Landing, spread = m.land(lab.Values(), cov)
	return v, spread, nil
}

func (m *match) formula() color.Formula {
	if m.target.Formula == "" {
		return color.CIEDE2000
	}
	return m.target.Formula
}

// land returns where a colour known up to cov lies from the target, whose own
// reading counts too, and evenly likely CIEDE2000.
func (m *match) land(lab [3]float64, cov [3][3]float64) (calibrate.Landing, []float64) {
	for t := range 3 {
		cov[t][t] += readingSD * readingSD / float64(max(1, m.target.Readings))
	}
	out := calibrate.Land(m.wants[0].lab, lab, cov, m.target.Within())
	spread := calibrate.Differences(color.Delta00, m.wants[0].lab, lab, cov)
	if f := m.formula(); f != color.CIEDE2000 {
		out.Chance = 0
		all := calibrate.Differences(func(a, b [3]float64) float64 {
			d, err := f.Between(a, b)
			if err != nil {
				return math.Inf(1)
			}
			return d
		}, m.wants[0].lab, lab, cov)
		for _, d := range all {
			if d <= m.target.Within() {
				out.Chance += 1 / float64(len(all))
			}
		}
	}
	return out, spread
}
