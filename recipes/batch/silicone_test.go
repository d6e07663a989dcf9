package batch_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/recipes/batch"
)

// The box of 10 x 8 x 5 cm less a part of 40 ml takes 360 ml; by hand.
func TestSilicone(t *testing.T) {
	s, err := batch.Moulding{Box: batch.Millilitres(400), Part: batch.Millilitres(40), Mix: batch.Ratio{A: 100, B: 10}, Density: batch.GramsPerML(1.1), Waste: 0.05}.Weigh()
	require.NoError(t, err)
	require.Equal(t, batch.Grams(415.8), s.Total) // 360 x 1.05 x 1.1
	require.Equal(t, batch.Grams(378), s.A)
	require.Equal(t, batch.Grams(37.8), s.B)
	require.InDelta(t, 1512, s.ContainerLow.Millilitres(), 1e-9)
	require.InDelta(t, 1890, s.ContainerHigh.Millilitres(), 1e-9)

	good := batch.Moulding{Box: batch.Millilitres(400), Part: batch.Millilitres(40), Mix: batch.Ratio{A: 1, B: 1}, Density: batch.GramsPerML(1.1)}
	for says, spoil := range map[string]func(*batch.Moulding){
		"a box of 0 ml":                          func(m *batch.Moulding) { m.Box = batch.Millilitres(0) },
		"a box of NaN ml":                        func(m *batch.Moulding) { m.Box = batch.Millilitres(math.NaN()) },
		"an original of 400 ml":                  func(m *batch.Moulding) { m.Part = batch.Millilitres(400) },
		"a mix of 1:0":                           func(m *batch.Moulding) { m.Mix.B = 0 },
		"waste of 0.9":                           func(m *batch.Moulding) { m.Waste = 0.9 },
		"the density of the silicone is missing": func(m *batch.Moulding) { m.Density = batch.Density{} },
	} {
		m := good
		spoil(&m)
		_, err := m.Weigh()
		require.ErrorContains(t, err, says)
	}
}

// Mass is conserved to the tenth, the mix held within one, the mould filled.
func TestSiliconeConserves(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := batch.Moulding{Box: batch.Millilitres(rapid.Float64Range(20, 5000).Draw(t, "box")), Mix: batch.Ratio{A: rapid.Float64Range(1, 100).Draw(t, "a"), B: rapid.Float64Range(1, 100).Draw(t, "b")},
			Density: batch.GramsPerML(rapid.Float64Range(0.9, 1.5).Draw(t, "rho")), Waste: rapid.Float64Range(0, 0.3).Draw(t, "waste")}
		m.Part = batch.Millilitres(m.Box.Millilitres() * rapid.Float64Range(0, 0.9).Draw(t, "part"))
		s, err := m.Weigh()
		require.NoError(t, err)
		require.Equal(t, s.Total, s.A.Plus(s.B))
		require.InDelta(t, s.Total.Grams()*m.Mix.A/(m.Mix.A+m.Mix.B), s.A.Grams(), 0.0501)
		all := s.Silicone.Millilitres() * (1 + m.Waste)
		require.GreaterOrEqual(t, s.Total.Grams(), all*m.Density.GramsPerML()-1e-3)
		require.Less(t, s.Total.Grams(), all*m.Density.GramsPerML()+0.1001)
	})
}
