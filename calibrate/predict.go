package calibrate

import (
	"fmt"
	"math"
	"sort"

	"masstone/color"
)

// Sample is a mixture in its setting.
type Sample struct {
	Loadings map[string]PHR
	Setting
	// OneCasting is for the bars of one casting, whose portions of paste are as strong
	// as they happen to be; else they are for the mean of many.
	OneCasting bool
	// WeighSD are the standard deviations with which its loadings were weighed; none
	// for exactly.
	WeighSD map[string]PHR
}

// Sample is the casting that a chip is: as weighed, as thick and read as it was.
func (c *Chip) Sample() Sample {
	s := Sample{Loadings: c.Loadings, OneCasting: true, WeighSD: map[string]PHR{},
		Setting: Setting{Thickness: c.Thickness, ThicknessSD: c.ThicknessSD, Backing: c.Backing, Specular: c.Measurement.Specular, Aperture: c.Aperture}}
	for code := range c.Loadings {
		s.WeighSD[code] = c.WeighSD(code)
	}
	return s
}

// PredictedColor is a colour with what the calibration leaves uncertain.
type PredictedColor struct {
	Lab    color.Lab
	Cov    [3][3]float64 // covariance of L*, a*, b*
	Half95 [3]float64    // half width of the 95 % intervals of L*, a*, b*
	// Landing against the predicted colour itself: how far the true colour of a
	// mixture weighed exactly so lies from the prediction.
	Landing
}

// Prediction is what a calibration says of a mixture.
type Prediction struct {
	Reflectance color.Reflectance
	Colors      []PredictedColor // one per condition asked for
}

// normal95 is the 97.5 % point of the normal distribution (NIST/SEMATECH
// e-Handbook of Statistical Methods, table 1.3.6.7.1).
const normal95 = 1.96

// Predict returns the colour of a mixture under the given conditions, or the
// calibration's main condition if none is given. A pigment that the
// calibration does not know is an error.
func (c *Calibration) Predict(s Sample, under ...color.Condition) (Prediction, error) {
	pigments, phr, err := c.Resolve(s.Loadings)
	if err != nil {
		return Prediction{}, err
	}
	e, err := c.Evaluator(s.Setting, under...)
	if err != nil {
		return Prediction{}, err
	}
	e.Set(pigments, phr)
	out := Prediction{Reflectance: e.Reflectance()}
	grad := make([][3]float64, len(pigments))
	for i, cond := range e.Conditions() {
		lab := e.LabGradient(i, grad)
		p := PredictedColor{Lab: color.LabFrom(lab, cond), Cov: e.Covariance()}
		if s.OneCasting {
			p.Cov = plus(p.Cov, portions(grad, phr, c.Scatter))
		}
		for k, q := range pigments {
			sd := float64(s.WeighSD[c.Curves[q].Code])
			p.Cov = plus(p.Cov, portions(grad[k:k+1], []float64{1}, sd))
		}
		for t := range 3 {
			p.Half95[t] = normal95 * math.Sqrt(p.Cov[t][t])
		}
		p.Landing = Land(lab, lab, p.Cov, math.Inf(1))
		out.Colors = append(out.Colors, p)
	}
	return out, nil
}

// Resolve turns loadings by code into curve positions and loadings, sorted by
// position, without the zero ones.
func (c *Calibration) Resolve(loadings map[string]PHR) (pigments []int, phr []float64, err error) {
	var total PHR
	for code, v := range loadings {
		if !(v >= 0) || v > 100 {
			return nil, nil, fmt.Errorf("loading of %s is %g phr; give 0 to 100", code, float64(v))
		}
		total += v
		if v == 0 {
			continue
		}
		q := c.Index(code)
		if q == 0 {
			return nil, nil, fmt.Errorf("pigment %s is not in this calibration; it knows %v", code, c.Codes())
		}
		pigments = append(pigments, q)
	}
	if total > 100 {
		return nil, nil, fmt.Errorf("loadings add up to %g phr; more paste than resin", float64(total))
	}
	if len(pigments) > MaxComponents {
		return nil, nil, fmt.Errorf("%d pigments in one mixture; at most %d", len(pigments), MaxComponents)
	}
	sort.Ints(pigments)
	for _, q := range pigments {
		phr = append(phr, float64(loadings[c.Curves[q].Code]))
	}
	return pigments, phr, nil
}

// Covers reports whether lab lies in the 95 % region claimed for the colour.
func (p PredictedColor) Covers(lab color.Lab) bool {
	inv := inverse3(p.Cov)
	a, b := lab.Values(), p.Lab.Values()
	sum := 0.0
	for i := range 3 {
		for j := range 3 {
			sum += (a[i] - b[i]) * inv[i][j] * (a[j] - b[j])
		}
	}
	return sum <= chi95
}

// portions is what the strength of a casting's portions of paste, which scatters by
// sd, adds to the covariance of its colour.
func portions(grad [][3]float64, phr []float64, sd float64) (out [3][3]float64) {
	for k, g := range grad {
		for a := range 3 {
			for b := range 3 {
				out[a][b] += g[a] * g[b] * phr[k] * phr[k] * sd * sd
			}
		}
	}
	return out
}
