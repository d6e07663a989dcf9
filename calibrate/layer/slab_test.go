package layer_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/calibrate/layer"
	"masstone/color"
)

func slab(t require.TestingT, o layer.Optics) *layer.Slab {
	s, err := layer.NewSlab(o)
	require.NoError(t, err)
	return s
}

// van de Hulst, Multiple Light Scattering (1980), as quoted in Wang, Jacques and
// Zheng, Comput. Methods Programs Biomed. 47, 131 (1995), table 1: index 1, mu_a
// 10/cm, mu_s 90/cm, g 0.75, 0.02 cm, light along the normal. Five digits.
func TestSlabVanDeHulst(t *testing.T) {
	s := slab(t, layer.Optics{Index: 1, Anisotropy: 0.75, Directions: 32})
	r := s.Response(1, 9*0.25, 0.2)
	require.InDelta(t, 0.09739, r.Black, 1e-5)
	require.InDelta(t, 0.66096, r.In, 1e-5)
}

// Giovanelli, Optica Acta 2, 153 (1955), as quoted there: index 1.5, mu_a 10/cm,
// mu_s 90/cm, isotropic, infinitely deep, light along the normal. Four digits,
// the last of them one off: the H function (another test) and this give 0.25992.
func TestSlabGiovanelli(t *testing.T) {
	s := slab(t, layer.Optics{Index: 1.5, Directions: 32})
	r := s.Response(1, 9, 1e6)
	require.InDelta(t, 0.2600, r.Mirror+r.Black, 1e-4)
}

func drawOptics(t *rapid.T) layer.Optics {
	return layer.Optics{
		Index:       rapid.OneOf(rapid.Just(1.0), rapid.Float64Range(1.3, 1.8)).Draw(t, "n"),
		Anisotropy:  rapid.Float64Range(-0.5, 0.6).Draw(t, "g"),
		Directions:  2 * rapid.IntRange(8, 16).Draw(t, "half the directions"),
		ViewDegrees: rapid.Float64Range(0, 60).Draw(t, "view"),
		Gap:         rapid.Bool().Draw(t, "gap"),
	}
}

// Without absorption no light is lost. With the partial reciprocity that is in
// it, In being read off light that goes the other way, this holds down to what
// the directions resolve.
func TestSlabKeepsEnergy(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := slab(t, drawOptics(t))
		r := s.Response(0, drawLog(t, "mu_s'", 1e-3, 1e3), drawLog(t, "X", 0.01, 100))
		require.InDelta(t, 1, r.Mirror+r.Black+r.In, 1e-5)
		require.InDelta(t, 1, r.Out+r.Under, 1e-5)
		// A perfect backing under it sends all of it back.
		require.InDelta(t, 1, r.Mirror+r.Over(1), 1e-4)
	})
}

// More absorption, less light; all shares between 0 and 1.
func TestSlabIsMonotonic(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := slab(t, drawOptics(t))
		a, b, x := drawLog(t, "mu_a", 1e-4, 1e2), drawLog(t, "mu_s'", 1e-4, 1e2), drawLog(t, "X", 0.05, 20)
		less, more := s.Response(a, b, x), s.Response(1.2*a, b, x)
		for _, pair := range [][2]float64{{less.Black, more.Black}, {less.In, more.In}, {less.Out, more.Out}, {less.Under, more.Under}} {
			require.LessOrEqual(t, pair[1], pair[0]+1e-9)
			require.GreaterOrEqual(t, pair[1], -1e-9)
			require.LessOrEqual(t, pair[0], 1+1e-9)
		}
	})
}

// Two fluxes are what is left where light is diffuse throughout. That fixes
// K = 2 mu_a and S = 3/4 mu_s': weak absorption and infinite depth, seen by
// diffuse light without a surface.
func TestSlabMeetsTwoFluxes(t *testing.T) {
	s := slab(t, layer.Optics{Index: 1, Directions: 32})
	for _, k := range []float64{1e-8, 1e-7, 1e-6} {
		exact := s.Response(k/2, 4./3, 1e9).Under
		require.InEpsilon(t, 1-layer.InternalReflectance(k, 1, 1e9, 0), 1-exact, 2*math.Sqrt(k), "K/S %g", k)
	}
}

// A layer without anything in it is its surface alone, or a clear plate.
func TestSlabEmpty(t *testing.T) {
	const n = 1.5
	own := layer.Surface(n)
	r := slab(t, layer.Optics{Index: n, Directions: 20}).Response(0, 0, 3)
	require.InDelta(t, own.Normal, r.Mirror, 1e-12)
	require.InDelta(t, 0, r.Black, 1e-9)
	require.InDelta(t, 1-own.Normal, r.In, 1e-8)
	require.InDelta(t, own.Inside, r.Under, 1e-6)
	require.InDelta(t, 1-own.Inside, r.Out, 1e-6)

	plate := slab(t, layer.Optics{Index: n, Directions: 20, Gap: true}).Response(0, 0, 3)
	both := (1 - own.Normal) / (1 + own.Normal) // two surfaces, all reflections
	require.InDelta(t, both, plate.In, 1e-8)
	require.InDelta(t, 1-both, plate.Mirror+plate.Black, 1e-8)
}

// Errors say what to give.
func TestOpticsErrors(t *testing.T) {
	good := layer.DiffuseEight(1.5)
	for name, spoil := range map[string]func(*layer.Optics){
		"refractive index": func(o *layer.Optics) { o.Index = 0.9 },
		"index NaN":        func(o *layer.Optics) { o.Index = math.NaN() },
		"anisotropy":       func(o *layer.Optics) { o.Anisotropy = 1 },
		"directions odd":   func(o *layer.Optics) { o.Directions = 15 },
		"directions":       func(o *layer.Optics) { o.Directions = 1000 },
		"view":             func(o *layer.Optics) { o.ViewDegrees = 90 },
	} {
		o := good
		spoil(&o)
		_, err := layer.NewSlab(o)
		require.ErrorContains(t, err, "give ", name)
		_, err = layer.NewExactFor(o)
		require.Error(t, err, name)
	}
	_, err := layer.NewExact(0)
	require.EqualError(t, err, "layer: refractive index 0; give 1 to 3, about 1.5 for a cast resin")
}

func BenchmarkSlab(b *testing.B) {
	for name, o := range map[string]layer.Optics{
		"16 directions":        layer.DiffuseEight(1.5),
		"32 directions, g 0.6": {Index: 1.47, Anisotropy: 0.6, Directions: 32, ViewDegrees: 8},
		"48 directions, g 0.6": {Index: 1.47, Anisotropy: 0.6, Directions: 48, ViewDegrees: 8},
	} {
		b.Run(name, func(b *testing.B) {
			s := slab(b, o)
			for b.Loop() {
				s.Reflectance(0.3, 2, 3, 0.9, color.SpecularIncluded)
			}
		})
	}
}
