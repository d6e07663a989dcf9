package calibrate

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/mat"

	"masstone/color"
)

// No law of mixing and no layer model is quite true. ln K and ln S of every
// casting miss what they say by a smooth curve of its own,
//
//	d(l) ~ GP(0, tau^2 exp(-(l - l')^2 / (2 x 60^2 nm^2)))       (1)
//
// one for K and one for S (model discrepancy: Kennedy and O'Hagan, J. R. Stat.
// Soc. B 63, 425 (2001)). errorWaves are enough to hold 99.9 % of it.
//
// Castings that are alike are not taken to miss alike: d shared by a kernel over the
// mixtures' shares of K and S brought unseen mixtures 4 % nearer in an invented shop
// whose pigments change each other by 8 %, not at all in one of crooked pastes, whose
// law of mixing holds what they miss alike, and chips of testdata/measured_paints left
// out no nearer.
const (
	errorNM    = 60
	errorWaves = 8
)

// waves60 are the leading waves of (1) at tau = 1: the curve is their sum, each
// times a number of unit variance.
var waves60 = sync.OnceValue(func() *[errorWaves][color.Bands]float64 {
	var out [errorWaves][color.Bands]float64
	g := mat.NewSymDense(color.Bands, nil)
	for a := range color.Bands {
		for b := a; b < color.Bands; b++ {
			d := float64((a-b)*color.StepNM) / errorNM
			g.SetSym(a, b, math.Exp(-d*d/2))
		}
	}
	var eig mat.EigenSym
	if !eig.Factorize(g, true) {
		panic("calibrate: the waves of a Gaussian process did not separate") // the matrix is fixed
	}
	var v mat.Dense
	eig.VectorsTo(&v)
	values := eig.Values(nil) // ascending
	for r := range out {
		k := color.Bands - 1 - r
		for b := range out[r] {
			out[r][b] = math.Sqrt(values[k]) * v.At(b, k)
		}
	}
	return &out
})

// CastingError is how far ln K and ln S of a casting miss what its mixture should
// have, as standard deviations: 0.03 is 3 %.
type CastingError struct {
	K float64 `json:"ln_k_sd"`
	S float64 `json:"ln_s_sd"`
	// LeastDE00 is the mean CIEDE2000 by which usual mixtures would still be missed were
	// all curves known, for what each casting and its portions of paste have of their
	// own: more chips do not lower it. 0 of a shop taken for straight, where K and S are
	// what is counted for the chance that it is none.
	LeastDE00 float64 `json:"least_dE00"`
}

// leastDE00 returns LeastDE00 of c, the calibration of p.
func (p *problem) leastDE00(c *Calibration, main color.Condition) (least float64, err error) {
	over := map[color.Reflectance]*Evaluator{}
	var grad [MaxComponents][3]float64
	n := 0.0
	p.eachUsual(func(r *reading) {
		e := over[r.backing]
		if e == nil && err == nil {
			e, err = c.Evaluator(Setting{Thickness: ThicknessMM(r.thickness), Backing: r.backing, Specular: color.SpecularIncluded, ThicknessSD: ThicknessMM(r.thicknessSD)}, main)
			over[r.backing] = e
		}
		if err == nil {
			e.Set(r.curve[1:], r.loading[1:])
			g := grad[:len(r.curve)-1]
			lab := e.LabGradient(0, g)
			cov := ModelError{Widen: c.ModelError.Widen}.widen(e.missed(), lab)
			least += ExpectedDE00(lab, lab, plus(cov, portions(g, r.loading[1:], c.Scatter)))
			n++
		}
	})
	if n > 0 {
		least /= n
	}
	return least, err
}
