package calibrate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate/layer"
)

// The local equations of a straight shop and those by blocks, checked against each
// other: one law, two ways to eliminate.
func TestLocalEquationsAgreeWithBlocks(t *testing.T) {
	shop := readRealPigments(t)
	exact, err := layer.NewExact(1.5)
	require.NoError(t, err)
	for name, l := range map[string]layer.Layer{"kubelka-munk": layer.NewKubelkaMunk(), "exact": exact} {
		for _, kind := range []string{"one", "three", "spectrum", "mixed"} {
			t.Run(fmt.Sprint(name, " ", kind), func(t *testing.T) {
				chips := evidenceOf(designOf(shop.chips, 26), kind)
				if kind == "mixed" {
					for i := range chips {
						if i%2 == 0 {
							chips[i].Spectrum = nil
						}
					}
				}
				chips[3].ThicknessSD = 0.1
				chips[5].narrow, chips[6].narrow = 0.1, -0.1
				// as rough as readings are taken to be at first: precise ones under three
				// lights say nearly the same thrice, which costs either way its digits
				rough := Noise{LabSD: 10 * usualNoise.LabSD, SpectrumSD: 10 * usualNoise.SpectrumSD}
				p, err := newProblem(shop.pigments, chips, l, defaultSurface, rough)
				require.NoError(t, err)
				rng := rand.New(rand.NewPCG(7, 7))
				x := p.flat()
				p.setHyper(straight, x)
				for i := range x {
					x[i] += 0.3 * rng.NormFloat64()
				}
				for q := 1; q < p.curves; q++ {
					x[p.start[q]+perCurve] = 0 // nothing speaks of it
				}
				x[p.crowd] = 0
				sys := p.system()
				g := make([]float64, p.n)
				p.linearise(x, sys, g)
				require.True(t, sys.byLocal)
				got := append([]float64(nil), g...)
				require.NoError(t, sys.Factor(0))
				sys.Solve(got)
				det := sys.LogDet()
				sys.byLocal = false
				require.NoError(t, sys.Factor(0))
				want := append([]float64(nil), g...)
				sys.Solve(want)
				for i := range want {
					require.InDelta(t, want[i], got[i], 1e-4*(1+math.Abs(want[i])), "unknown %d", i)
				}
				require.InDelta(t, sys.LogDet(), det, 1e-6)
			})
		}
	}
}
