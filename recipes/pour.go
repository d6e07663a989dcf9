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
	// Labs are the means of the part's readings, one per condition, the
	// target's main condition among them; Spectrum, if read, takes their place.
	Labs     []color.Lab
	Spectrum *color.Reflectance
	Readings int // readings behind the mean; 0 counts as 1
	// ReadingSD is the standard deviation of one reading by the instrument, in each of
	// L*, a*, b*, where it is stated; 0 for what the calibration found.
	ReadingSD float64
	// Change is what the part is still expected to change by since it was read,
	// in L*, a*, b* under any light, and ChangeCov the covariance of that; ChangeAlike
	// is what of it all parts of the resin share.
	Change                 [3]float64
	ChangeCov, ChangeAlike [3][3]float64

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
		Aperture: p.Setting.Aperture, ThicknessSD: p.Setting.ThicknessSD,
	}
}

// misweighed is the relative standard deviation of what was weighed of a
// pigment.
func (p *Pour) misweighed(code string) float64 {
	c := p.chip()
	if phr := p.Loadings[code]; phr > 0 {
		return float64(c.WeighSD(code) / phr)
	}
	return 0
}

// under returns the part's colour under a condition once it has changed as
// expected, with the covariance of its reading and of the change.
func (p *Pour) under(c color.Condition, noise calibrate.Noise) (lab color.Lab, cov [3][3]float64, err error) {
	if lab, cov, err = p.asRead(c, noise); err != nil {
		return lab, cov, err
	}
	for i := range cov {
		for j := range cov {
			cov[i][j] += p.ChangeCov[i][j]
		}
	}
	return p.changed(lab), cov, nil
}

// changed is a colour of the part once it has changed as expected.
func (p *Pour) changed(l color.Lab) color.Lab {
	v := l.Values()
	for i := range v {
		v[i] += p.Change[i]
	}
	return color.LabFrom(v, l.Under)
}

// changing reports whether the part may still change.
func (p *Pour) changing() bool { return p.Change != [3]float64{} || p.ChangeCov != [3][3]float64{} }

// OpenSD is how far one of so many parts that still change may end from what is
// expected, on average of the three axes, with what they share so much wider that
// together they tell it once.
func OpenSD(parts int, cov, alike [3][3]float64) float64 {
	sum := 0.0
	for i := range 3 {
		sum += cov[i][i] + float64(parts-1)*alike[i][i]
	}
	return math.Sqrt(sum / 3)
}

// changedChip is the part, of so many that still change, as evidence once it has changed
// as expected.
func (p *Pour) changedChip(parts int) (calibrate.Chip, error) {
	c := p.chip()
	if !p.changing() {
		return c, nil
	}
	return c.Changed(p.Change, OpenSD(parts, p.ChangeCov, p.ChangeAlike))
}

// asRead returns the part's colour under a condition, with the covariance of its
// reading.
func (p *Pour) asRead(c color.Condition, noise calibrate.Noise) (lab color.Lab, cov [3][3]float64, err error) {
	n := float64(max(1, p.Readings))
	if p.ReadingSD > 0 {
		noise = calibrate.NoiseOf(p.ReadingSD)
	}
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
