package calibrate

import (
	"context"
	"math"

	"gonum.org/v1/gonum/mat"

	"masstone/calibrate/minimize"
	"masstone/color"
)

// usualNoise is the scatter of a handheld instrument on one piece, from which
// the fit starts and near which it stays unless the readings say otherwise.
// Common practice, no source.
var usualNoise = Noise{LabSD: 0.08, SpectrumSD: 0.001}

// How many readings' worth of opinion the usual roughness of a curve and the
// usual noise carry.
const (
	roughnessDF = 20
	noiseDF     = 40
)

// tune learns the roughness of each curve and the noise of the readings at the
// optimum x, and moves x to the new optimum.
//
// The roughness of a curve is set from the posterior expectation of its
// squared bends and steps: an expectation-maximisation step under a scaled
// inverse chi-square prior about the usual roughness. The noise is set so that
// the squared residuals agree with the readings left over once the unknowns
// that they determine are counted off (MacKay, Neural Computation 4, 415
// (1992), eq. 4.9), under the same kind of prior.
func (p *problem) tune(ctx context.Context, x state, sys *minimize.Bordered) error {
	var w workspace
	g := make([]float64, p.n+p.d)
	p.linearise(x, &w, sys, g)
	if err := sys.Factor(); err != nil {
		return err
	}
	free := 0.0 // trace of prior precision x posterior covariance
	j := mat.NewDense(color.Bands, p.n+p.d, nil)
	scale := make([]float64, len(p.scale))
	for k := range p.scale {
		j.Zero()
		for b := range color.Bands {
			j.Set(b, p.unknown(k/2, k%2 == 1, b), 1)
		}
		cov := sys.Covariance(j)
		s := usual(k/2, k%2 == 1)
		s.Spread = math.Inf(1)
		d0, d1, d2 := s.precision()
		pr := &p.prec[k]
		sum := 0.0
		for b := range color.Bands {
			for gap, d := range [3]*[color.Bands]float64{&d0, &d1, &d2} {
				if b < gap {
					continue
				}
				twice := 2.0
				if gap == 0 {
					twice = 1
				}
				a := b - gap
				xx := x[p.unknown(k/2, k%2 == 1, a)] * x[p.unknown(k/2, k%2 == 1, b)]
				sum += twice * d[b] * (xx + cov.At(b, a))
				free += twice * pr[gap][b] * cov.At(b, a)
			}
		}
		scale[k] = math.Sqrt((roughnessDF + sum) / (roughnessDF + color.Bands - 1))
	}
	if p.d > 0 {
		j := mat.NewDense(p.d, p.n+p.d, nil)
		for e := range p.d {
			j.Set(e, p.n+e, 1)
		}
		cov := sys.Covariance(j)
		for e := range p.d {
			free += cov.At(e, e)
		}
	}
	p.learnNoise(x, &w, sys, float64(p.n+p.d)-free)
	copy(p.scale, scale)
	p.setPriors()
	_, _, err := p.converge(ctx, x, sys, 0.1, 15)
	return err
}

// learnNoise sets the noise, where determined is how many unknowns the readings
// determine between them.
func (p *problem) learnNoise(x state, w *workspace, sys *minimize.Bordered, determined float64) {
	var labs, bands, labMiss, bandMiss float64
	for i := range p.readings {
		r := &p.readings[i]
		miss := p.misfit(r, x, w)
		if r.chip.Spectrum != nil {
			bands += color.Bands * r.trust * r.trust
			bandMiss += miss
		} else {
			labs += 3 * float64(len(r.weights)) * r.trust * r.trust
			labMiss += miss
		}
	}
	byLabs := 0.0
	if far := sys.FarInverse(); far != nil {
		for m := range p.m {
			byLabs += 1 - far.At(m, m)
		}
	}
	update := func(sd *float64, usual, count, determined, miss float64) {
		if count == 0 {
			return
		}
		left := math.Max(count-determined, 0)
		v := (noiseDF*usual*usual + miss**sd**sd) / (noiseDF + left)
		*sd = math.Sqrt(math.Max(v, usual*usual/4))
	}
	update(&p.noise.LabSD, p.usual.LabSD, labs, byLabs, labMiss)
	update(&p.noise.SpectrumSD, p.usual.SpectrumSD, bands, determined-byLabs, bandMiss)
}
