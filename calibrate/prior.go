package calibrate

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"masstone/color"
)

// A smoothness states how a curve ln K or ln S may run over the bands before
// any chip is read: second differences with standard deviation Bend, about a
// level with standard deviation Spread round Level.
type smoothness struct {
	Bend   float64 // sd of x[b-1] - 2 x[b] + x[b+1]
	Level  float64 // ln per mm (per phr for a pigment)
	Spread float64 // sd of the level
	Step   float64 // sd of x[b] - x[b-1], 0 for no limit
}

// usual states how the curves of pigments and resin run before a chip is read:
// absorption has edges, scattering is smooth. Levels are per mm and phr: a few
// phr colour a few millimetres, a clear resin hardly absorbs. They may be wrong
// by factors of ten and more, for a white absorbs ten thousand times less than a
// black and a resin may hide. Common practice, no source; each curve's own
// roughness is learnt from the readings (tune), levels of scattering too
// (learnScatterLevels).
func usual(curve int, scatter bool) smoothness {
	s := smoothness{Bend: 0.60, Step: 0.90, Level: math.Log(0.2), Spread: 4}
	if scatter {
		s.Bend, s.Step, s.Level, s.Spread = 0.25, 0.35, math.Log(0.15), 2.5
	}
	if curve == 0 {
		s.Level = math.Log(0.01)
		if scatter {
			s.Level, s.Spread = math.Log(0.1), 3
		}
	}
	return s
}

// rougher returns s with its bends and steps scaled.
func (s smoothness) rougher(factor float64) smoothness {
	s.Bend *= factor
	s.Step *= factor
	return s
}

// precision returns the bands of the prior's precision matrix: diagonal,
// first and second off-diagonal.
func (s smoothness) precision() (d0, d1, d2 [color.Bands]float64) {
	w := 1 / (s.Bend * s.Bend)
	stencil := [3]float64{1, -2, 1}
	for b := 1; b+1 < color.Bands; b++ {
		for i, u := range stencil {
			for j, v := range stencil {
				row, col := b-1+i, b-1+j
				switch row - col {
				case 0:
					d0[row] += w * u * v
				case 1:
					d1[row] += w * u * v
				case 2:
					d2[row] += w * u * v
				}
			}
		}
	}
	if s.Step > 0 {
		v := 1 / (s.Step * s.Step)
		for b := 1; b < color.Bands; b++ {
			d0[b] += v
			d0[b-1] += v
			d1[b] -= v
		}
	}
	pull := 1 / (s.Spread * s.Spread * color.Bands)
	for b := range d0 {
		d0[b] += pull
	}
	return d0, d1, d2
}

// logDet returns ln det of the precision matrix.
func (s smoothness) logDet() float64 {
	d0, d1, d2 := s.precision()
	m := mat.NewSymBandDense(color.Bands, 2, nil)
	for b := range color.Bands {
		m.SetSymBand(b, b, d0[b])
		if b >= 1 {
			m.SetSymBand(b, b-1, d1[b])
		}
		if b >= 2 {
			m.SetSymBand(b, b-2, d2[b])
		}
	}
	var c mat.BandCholesky
	if !c.Factorize(m) {
		return math.NaN()
	}
	return c.LogDet()
}
