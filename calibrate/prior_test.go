package calibrate

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"masstone/color"
)

func drawSmoothness(t *rapid.T) smoothness {
	s := smoothness{
		Bend:   rapid.Float64Range(0.05, 2).Draw(t, "bend"),
		Step:   rapid.Float64Range(0.05, 2).Draw(t, "step"),
		Level:  rapid.Float64Range(-5, 2).Draw(t, "level"),
		Spread: rapid.Float64Range(0.2, 5).Draw(t, "spread"),
	}
	if rapid.Bool().Draw(t, "steps free") {
		s.Step = 0
	}
	return s
}

// dense writes the precision matrix out.
func (s smoothness) dense() *mat.SymDense {
	d0, d1, d2 := s.precision()
	m := mat.NewSymDense(color.Bands, nil)
	for b := range color.Bands {
		m.SetSym(b, b, d0[b])
		if b >= 1 {
			m.SetSym(b, b-1, d1[b])
		}
		if b >= 2 {
			m.SetSym(b, b-2, d2[b])
		}
	}
	return m
}

// The precision matrix is that of independent bends, steps and distances from
// the level, each over its standard deviation.
func TestPrecisionIsTheSumOfSquares(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSmoothness(t)
		v := rapid.SliceOfN(rapid.Float64Range(-3, 3), color.Bands, color.Bands).Draw(t, "v")
		want := 0.0
		for b := range v {
			want += v[b] * v[b] / (s.Spread * s.Spread * color.Bands)
			if b >= 1 && s.Step > 0 {
				want += math.Pow((v[b]-v[b-1])/s.Step, 2)
			}
			if b >= 2 {
				want += math.Pow((v[b]-2*v[b-1]+v[b-2])/s.Bend, 2)
			}
		}
		x := mat.NewVecDense(color.Bands, v)
		require.InEpsilon(t, 1+want, 1+mat.Inner(x, s.dense(), x), 1e-9)
	})
}

// A flat curve one spread off its level costs 1, however smooth it has to be.
func TestLevelCostsItsSpread(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSmoothness(t)
		v := mat.NewVecDense(color.Bands, nil)
		for b := range color.Bands {
			v.SetVec(b, s.Spread)
		}
		require.InDelta(t, 1, mat.Inner(v, s.dense(), v), 1e-8)
	})
}

func TestPriorLogDet(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSmoothness(t)
		var c mat.Cholesky
		require.True(t, c.Factorize(s.dense()))
		require.InDelta(t, c.LogDet(), s.logDet(), 1e-7*color.Bands)
	})
}

// Twice as rough a curve may have bends and steps twice as large for the same
// cost; its level stays.
func TestRougher(t *testing.T) {
	s := usual(1, false)
	r := s.rougher(2)
	require.Equal(t, smoothness{Bend: 2 * s.Bend, Step: 2 * s.Step, Level: s.Level, Spread: s.Spread}, r)
	require.Less(t, usual(1, true).Bend, s.Bend, "scattering runs smoother than absorption")
	require.Less(t, usual(0, false).Level, s.Level, "a clear resin absorbs less than a pigment")
}
