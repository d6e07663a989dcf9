package calibrate

import (
	"context"
	"math"

	"gonum.org/v1/gonum/blas/blas64"

	"masstone/color"
)

// The scatter of a handheld instrument on one piece where nothing better is known:
// standard deviations of one reading, in each of L*, a*, b* and in the reflectance
// factor of each band. Common practice, no source.
const (
	UsualLabSD      = 0.08
	UsualSpectrumSD = 0.001
)

// NoiseOf is the noise of one reading by an instrument that repeats to labSD in each of
// L*, a*, b*: that of its spectra is taken in the proportion of the usual two. 0 is for
// an instrument of which nothing is stated.
func NoiseOf(labSD float64) Noise {
	if labSD == 0 {
		labSD = UsualLabSD
	}
	return Noise{LabSD: labSD, SpectrumSD: UsualSpectrumSD * labSD / UsualLabSD}
}

// usualNoise is what the fit starts from and stays near unless the readings say
// otherwise.
var usualNoise = NoiseOf(0)

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
func (p *problem) tune(ctx context.Context, x state, sys *system) error {
	if err := p.inform(x, sys); err != nil {
		return err
	}
	for k := range p.scale {
		q, first := k/2, k%2*color.Bands
		cov, _ := sys.Inverse(q, q)
		width := sys.Size(q)
		s := usual(q, k%2 == 1)
		s.Spread = math.Inf(1)
		d0, d1, d2 := s.precision()
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
				i, j := first+b, first+b-gap
				sum += twice * d[b] * (x[p.start[q]+i]*x[p.start[q]+j] + cov[i*width+j])
			}
		}
		p.scale[k] = math.Sqrt((roughnessDF + sum) / (roughnessDF + color.Bands - 1))
	}
	p.learnNoise(x, sys)
	p.setPriors()
	_, _, err := p.converge(ctx, x, sys, 0.1, 15)
	return err
}

// inform linearises at x and asks what is then known of all unknowns: the inverse
// of the normal equations where castings ask for it, and their spread.
func (p *problem) inform(x state, sys *system) error {
	p.linearise(x, sys, make([]float64, p.n))
	sys.byLocal = false
	if err := sys.Factor(0); err != nil {
		return err
	}
	sys.Invert()
	sys.look()
	return nil
}

// learnNoise sets the noise, where sys is informed at x: the numbers that the
// unknowns follow are counted off, by casting
//
//	trace of I - M + M J H^-1 J' M                              (6)
func (p *problem) learnNoise(x state, sys *system) {
	var count, followed, miss [2]float64 // of colours and of spectra
	for i := range p.castings {
		l, row := &sys.linear[i], 0
		for _, r := range p.of(&p.castings[i]) {
			kind := 0
			if r.chip.Spectrum != nil {
				kind = 1
			}
			if r.open > 0 { // which tells the noise of no reading
				row += r.rows()
				continue
			}
			for range r.rows() {
				count[kind] += r.trust * r.trust
				followed[kind] += l.followed(row)
				miss[kind] += l.miss[row] * l.miss[row]
				row++
			}
		}
	}
	update := func(sd *float64, usual, count, followed, miss float64) {
		if count == 0 {
			return
		}
		left := math.Max(count-followed, 0)
		v := (noiseDF*usual*usual + miss**sd**sd) / (noiseDF + left)
		*sd = math.Sqrt(math.Max(v, usual*usual/4))
	}
	update(&p.noise.LabSD, p.usual.LabSD, count[0], followed[0], miss[0])
	update(&p.noise.SpectrumSD, p.usual.SpectrumSD, count[1], followed[1], miss[1])
}

// followed is the row's part of (6).
func (l *linear) followed(row int) float64 {
	n := l.n
	m := l.m.Data[row*n : row*n+n]
	sum := 1 - m[row]
	for i, a := range m {
		if a != 0 {
			sum += a * blas64.Dot(vector(l.spread[i*n:i*n+n]), vector(m))
		}
	}
	return sum
}
