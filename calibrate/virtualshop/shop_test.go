package virtualshop_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"

	"masstone/calibrate"
	"masstone/calibrate/layer"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

type mix = map[string]calibrate.PHR

// The textbook form against the form the model uses, everything in between.
func TestTwoFluxAgainstTheModel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := virtualshop.TwoFlux{K1: rapid.Float64Range(0, 0.1).Draw(t, "k1"), K2: rapid.Float64Range(0, 0.7).Draw(t, "k2")}
		log := func(name string, lo, hi float64) float64 {
			return math.Exp(rapid.Float64Range(math.Log(lo), math.Log(hi)).Draw(t, name))
		}
		k, s, x := log("K", 1e-3, 50), log("S", 1e-2, 20), log("X", 0.1, 10)
		g := rapid.Float64Range(0, 1).Draw(t, "backing")
		for _, specular := range []color.Specular{color.SpecularIncluded, color.SpecularExcluded} {
			var ks, ss, gs [color.Bands]float64
			ks[0], ss[0], gs[0] = k, s, g
			var out layer.Partials
			layer.KubelkaMunk(f).Bands(&ks, &ss, x, &gs, specular, &out)
			require.InDelta(t, out.R[0], f.Reflectance(k, s, x, g, specular), 1e-9)
		}
	})
}

// The same seed gives the same shop, chips and readings, another seed others.
func TestSeedsRepeat(t *testing.T) {
	cast := func(seed uint64) []calibrate.Chip {
		s := virtualshop.Painted(seed, 5)
		return s.CastAll(rand.New(rand.NewPCG(seed, 1)), s.Study(virtualshop.TwoTint))
	}
	require.Equal(t, cast(3), cast(3))
	require.NotEqual(t, cast(3)[0].Labs, cast(4)[0].Labs)
	s := virtualshop.Painted(3, 5)
	require.Equal(t, s.Mixtures(rand.New(rand.NewPCG(1, 1)), 9), s.Mixtures(rand.New(rand.NewPCG(1, 1)), 9))
}

// Chips are cast as planned: so many of them for 12 pigments, each holding those
// of the plan before.
func TestStudy(t *testing.T) {
	s := virtualshop.Painted(1, 12)
	last := map[string]bool{}
	for i, p := range virtualshop.Plans() {
		chips := s.Study(p)
		require.Len(t, chips, []int{26, 37, 48}[i])
		names := map[string]bool{}
		for _, c := range chips {
			names[c.Name] = true
			require.Nil(t, c.Labs)
			require.Nil(t, c.Spectrum)
		}
		require.Len(t, names, len(chips), "names are unique")
		for name := range last {
			require.Contains(t, names, name)
		}
		last = names
	}
}

// Curves are positive and as varied as pigments are: absorption over two decades
// and a half, a white that scatters like the strongest, a black that lets nothing through.
func TestCurves(t *testing.T) {
	for seed := uint64(1); seed <= 20; seed++ {
		for _, s := range []*virtualshop.Shop{virtualshop.Painted(seed, 12), virtualshop.Radiative(seed, 12), virtualshop.Painted(seed, 24)} {
			require.Len(t, s.Pigments, len(s.Codes))
			wide := 0
			for i, p := range s.Pigments {
				lo, hi := math.Inf(1), 0.0
				for b := range color.Bands {
					require.True(t, p.K[b] > 0 && p.S[b] > 0 && p.K[b] < 1e3 && p.S[b] < 1e3, "%s %s", s.Name, s.Codes[i])
					lo, hi = min(lo, p.K[b]), max(hi, p.K[b])
					if i > 0 {
						require.Less(t, p.S[b], 2.5*s.Pigments[0].S[b], "%s %s against the white", s.Name, s.Codes[i])
					}
				}
				if i > 1 && hi/lo > 300 {
					wide++
				}
			}
			require.Greater(t, wide, (len(s.Codes)-2)/3, s.Name)
			under := color.D65Ten()
			require.Greater(t, s.Color(mix{virtualshop.White: 2 * s.Level}, s.Setting, under).L, 85.0, s.Name)
			require.Less(t, s.Color(mix{virtualshop.Black: s.Level}, s.Setting, under).L, 40.0, s.Name)
			clear := s.Color(nil, s.Setting, under).L
			onBlack := calibrate.Setting{Thickness: s.Setting.Thickness, Backing: s.Dark, Specular: s.Setting.Specular}
			require.Greater(t, clear-s.Color(nil, onBlack, under).L, 25.0, "the resin of %s is clear", s.Name)
			o := s.InOpaqueResin()
			require.Less(t, o.Color(nil, s.Setting, under).L-o.Color(nil, onBlack, under).L, 8.0, "%s hides", o.Name)
		}
	}
}

// The light of a radiative shop is that of the slab, band by band.
func TestRadiativeIsTheSlab(t *testing.T) {
	s := virtualshop.Radiative(2, 4)
	slab, err := layer.NewSlab(layer.Optics{Index: 1.47, Anisotropy: 0.6, Directions: 32, ViewDegrees: 8})
	require.NoError(t, err)
	r := s.Reflectance(mix{virtualshop.White: 0.5}, s.Setting)
	for b := range r {
		k, sc := s.Resin.K[b]+0.5*s.Pigments[0].K[b], s.Resin.S[b]+0.5*s.Pigments[0].S[b]
		require.InDelta(t, slab.Reflectance(k, sc, 3, 0.9, color.SpecularIncluded), r[b], 1e-12)
	}
}

// What is in the cup misses what is written by up to half a step of the scale,
// evenly; what is not weighed is not in it.
func TestPour(t *testing.T) {
	s := virtualshop.Painted(1, 4)
	rng := rand.New(rand.NewPCG(1, 1))
	chip := s.Chip("x", mix{"WH": 1, "BK": 0.2, "YE": 0})
	chip.ChipGrams, chip.ScaleGrams = 50, 0.01
	chip.PasteStrength = map[string]float64{"BK": 0.1}
	var white, black []float64
	for range 4000 {
		cup := s.Pour(rng, chip)
		require.NotContains(t, cup, "YE")
		white, black = append(white, float64(cup["WH"])-1), append(black, float64(cup["BK"])-0.2)
	}
	// 0.005 g of 50 g is 0.01 phr, and a tenth of that of the pre-dilution
	for _, c := range []struct {
		miss []float64
		half float64
	}{{white, 0.01}, {black, 0.001}} {
		for _, v := range c.miss {
			require.LessOrEqual(t, math.Abs(v), c.half*(1+1e-9))
		}
		require.InDelta(t, 0, stat.Mean(c.miss, nil), 0.05*c.half)
		require.InEpsilon(t, c.half/math.Sqrt(3), stat.StdDev(c.miss, nil), 0.03)
	}
	chip.ScaleGrams = 0
	require.Equal(t, mix{"WH": 1, "BK": 0.2}, s.Pour(rng, chip))
}

// Readings scatter as the instrument does, pours as the pastes do.
func TestNoise(t *testing.T) {
	s := virtualshop.Painted(1, 4)
	rng := rand.New(rand.NewPCG(1, 1))
	chip := s.Chip("x", mix{"WH": 1, "BK": 0.2})
	chip.ScaleGrams = 0
	true1 := s.Color(chip.Loadings, s.Setting, virtualshop.Lights()[2])
	trueR := s.Reflectance(chip.Loadings, s.Setting)
	var lab, bands []float64
	for range 1500 {
		c := s.Cast(rng, chip)
		require.Equal(t, true1.Under, c.Labs[2].Under)
		lab = append(lab, c.Labs[2].A-true1.A)
		bands = append(bands, c.Spectrum[20]-trueR[20])
	}
	require.InEpsilon(t, s.Noise.LabSD, stat.StdDev(lab, nil), 0.06)
	require.InEpsilon(t, s.Noise.SpectrumSD, stat.StdDev(bands, nil), 0.06)
	require.InDelta(t, 0, stat.Mean(lab, nil), 0.15*s.Noise.LabSD)

	s.StrengthSD = 0.05
	var ln []float64
	for range 3000 {
		ln = append(ln, math.Log(float64(s.Pour(rng, chip)["BK"])/0.2))
	}
	require.InEpsilon(t, 0.05, stat.StdDev(ln, nil), 0.05)
}

// A stronger lot goes as far as more of the old one, and leaves the shop alone.
func TestWithLot(t *testing.T) {
	s := virtualshop.Painted(1, 4)
	lot := s.WithLot("BK", 1.15)
	want, got := s.Reflectance(mix{"WH": 1, "BK": 0.23}, s.Setting), lot.Reflectance(mix{"WH": 1, "BK": 0.2}, s.Setting)
	for b := range want {
		require.InDelta(t, want[b], got[b], 1e-12)
	}
	require.NotEqual(t, s.Pigments[1], lot.Pigments[1])
	require.Panics(t, func() { s.WithLot("ZZ", 1) })
}

// Mixtures stay in the range of the plans.
func TestMixtures(t *testing.T) {
	for _, pigments := range []int{2, 3, 12} {
		s := virtualshop.Painted(9, pigments)
		for _, m := range s.Mixtures(rand.New(rand.NewPCG(1, 1)), 300) {
			require.True(t, len(m) >= 2 && len(m) <= 4)
			for code, phr := range m {
				lo, hi := s.Level/50, s.Level
				if code == virtualshop.White {
					lo, hi = 0.3*s.Level, 2*s.Level
				}
				require.True(t, phr >= lo*(1-1e-9) && phr <= hi*(1+1e-9), "%s %v", code, m)
			}
		}
	}
}

func TestEvidence(t *testing.T) {
	s := virtualshop.Painted(1, 3)
	chips := s.CastAll(rand.New(rand.NewPCG(1, 1)), s.Study(virtualshop.Tint))
	for e, want := range map[virtualshop.Evidence][2]int{virtualshop.OneLight: {1, 0}, virtualshop.ThreeLights: {3, 0}, virtualshop.Spectra: {3, 31}} {
		for i, c := range e.Of(chips) {
			require.Len(t, c.Labs, want[0])
			require.Equal(t, want[1] > 0, c.Spectrum != nil)
			require.NoError(t, c.Check())
			require.Len(t, chips[i].Labs, 3, "the chips given stay as they are")
		}
	}
}

func ExampleShop_Cast() {
	shop := virtualshop.Painted(1, 3)
	chip := shop.Chip("grey", map[string]calibrate.PHR{"WH": 1, "BK": 0.1})
	chip = shop.Cast(rand.New(rand.NewPCG(1, 2)), chip)
	fmt.Printf("%s, written %g phr of BK, L* %.0f\n", chip.Name, chip.Loadings["BK"], chip.Labs[0].L)
	// Output: grey, written 0.1 phr of BK, L* 76
}

// The true colour of one mixture: 31 bands.
func BenchmarkReflectance(b *testing.B) {
	for _, s := range []*virtualshop.Shop{virtualshop.Painted(1, 12), virtualshop.Radiative(1, 12)} {
		b.Run(s.Name, func(b *testing.B) {
			m := mix{"WH": 0.8, "YE": 0.3, "BK": 0.05, "BL": 0.1}
			for b.Loop() {
				s.Reflectance(m, s.Setting)
			}
		})
	}
}
