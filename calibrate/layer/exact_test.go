package layer_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/calibrate/layer"
	"masstone/color"
)

// exact15 is made once for all tests.
var exact15 = sync.OnceValue(func() *layer.Exact {
	e, err := layer.NewExact(1.5)
	if err != nil {
		panic(err)
	}
	return e
})

// anyLayer draws over all a fit may visit, half of it where real mixtures are.
func anyLayer(r *rand.Rand) (k, s, x, g float64) {
	between := func(lo, hi float64) float64 { return lo * math.Exp(r.Float64()*math.Log(hi/lo)) }
	if r.IntN(2) == 0 {
		k, s = between(1e-6, 1e3), between(1e-6, 1e3)
	} else {
		k, s = between(1e-3, 1e2), between(1e-2, 1e2)
	}
	x, g = between(0.05, 20), r.Float64()
	if r.IntN(10) == 0 {
		g = 1
	}
	return
}

// The table against the direct solution on random layers, and against one with
// finer directions. Target 2e-5.
func TestExactAgainstSlab(t *testing.T) {
	same, fine := slab(t, layer.DiffuseEight(1.5)), layer.DiffuseEight(1.5)
	fine.Directions = 32
	finer := slab(t, fine)
	r := rand.New(rand.NewPCG(1, 5))
	var table, total []float64
	for range 3000 {
		k, s, x, g := anyLayer(r)
		got := one(exact15(), k, s, x, g, color.SpecularIncluded).r
		d := math.Abs(got - same.Reflectance(k, s, x, g, color.SpecularIncluded))
		require.LessOrEqual(t, d, 1e-5, "K %g S %g X %g Rg %g", k, s, x, g)
		table = append(table, d)
		if len(table)%3 == 0 {
			d := math.Abs(got - finer.Reflectance(k, s, x, g, color.SpecularIncluded))
			require.LessOrEqual(t, d, 2e-5, "K %g S %g X %g Rg %g", k, s, x, g)
			total = append(total, d)
		}
	}
	slices.Sort(table)
	slices.Sort(total)
	t.Logf("table against direct: median %.1e, 99 %% %.1e, max %.1e; against finer directions: median %.1e, max %.1e",
		table[len(table)/2], table[len(table)*99/100], table[len(table)-1], total[len(total)/2], total[len(total)-1])
}

// The slopes against those of the direct solution, in the form a fit in
// logarithms sees: K dR/dK, S dR/dS, X dR/dX, and dR/dRg.
func TestExactSlopesAgainstSlab(t *testing.T) {
	direct := slab(t, layer.DiffuseEight(1.5))
	r := rand.New(rand.NewPCG(2, 5))
	worst := [4]float64{}
	for range 300 {
		k, s, x, g := anyLayer(r)
		g = min(g, 0.95)
		v := one(exact15(), k, s, x, g, color.SpecularIncluded)
		at := func(k, s, x, g float64) float64 { return direct.Reflectance(k, s, x, g, color.SpecularIncluded) }
		for i, pair := range [4][2]float64{
			{k * v.dk, k * slope(func(k float64) float64 { return at(k, s, x, g) }, k, 1e-2)},
			{s * v.ds, s * slope(func(s float64) float64 { return at(k, s, x, g) }, s, 1e-2)},
			{x * v.dx, x * slope(func(x float64) float64 { return at(k, s, x, g) }, x, 1e-2)},
			{v.dg, slope(func(g float64) float64 { return at(k, s, x, g) }, g, 2e-3)},
		} {
			worst[i] = max(worst[i], math.Abs(pair[0]-pair[1]))
			require.InDelta(t, pair[1], pair[0], 4e-4, "slope %d at K %g S %g X %g Rg %g", i, k, s, x, g)
		}
	}
	t.Logf("worst K dR/dK %.1e, S dR/dS %.1e, X dR/dX %.1e, dR/dRg %.1e", worst[0], worst[1], worst[2], worst[3])
}

// The partials against differences of the same interpolant.
func TestExactPartials(t *testing.T) {
	e := exact15()
	rapid.Check(t, func(t *rapid.T) {
		k, s := drawLog(t, "K", 1e-6, 1e3), drawLog(t, "S", 1e-6, 1e3)
		x, g := drawLog(t, "X", 0.05, 20), rapid.Float64Range(0.01, 0.99).Draw(t, "Rg")
		sp := drawSpecular(t)
		v := one(e, k, s, x, g, sp)
		// The second derivative jumps at the border of a cell, so a difference
		// across it is only good to the step.
		const h, tol = 1e-5, 1e-6
		for _, c := range []struct {
			name      string
			at, slope float64
			f         func(float64) float64
		}{
			{"K", k, v.dk, func(k float64) float64 { return one(e, k, s, x, g, sp).r }},
			{"S", s, v.ds, func(s float64) float64 { return one(e, k, s, x, g, sp).r }},
			{"X", x, v.dx, func(x float64) float64 { return one(e, k, s, x, g, sp).r }},
			{"Rg", g, v.dg, func(g float64) float64 { return one(e, k, s, x, g, sp).r }},
		} {
			require.InDelta(t, slope(c.f, c.at, h)*c.at, c.slope*c.at, tol, c.name)
		}
	})
}

// Value and slopes run on across the borders of the cells and the switch of
// form: a walk in small steps has no jump in either.
func TestExactIsSmooth(t *testing.T) {
	e := exact15()
	const step = 1e-3
	for _, walk := range []func(f float64) (k, s, x float64){
		func(f float64) (k, s, x float64) { return 0.01 * f, 2, 1 },
		func(f float64) (k, s, x float64) { return 0.3, 0.01 * f, 3 },
		func(f float64) (k, s, x float64) { return 0.05, 0.5, 0.01 * f },
	} {
		var last values
		for i := range 7000 {
			k, s, x := walk(math.Exp(step * float64(i)))
			v := one(e, k, s, x, 0.8, color.SpecularIncluded)
			v.dk, v.ds, v.dx = v.dk*k, v.ds*s, v.dx*x
			if i > 0 {
				// R is what its slopes add up to. All three walk one input.
				var along float64
				switch kk, ss, _ := walk(math.Exp(step * float64(i-1))); {
				case kk != k:
					along = v.dk + last.dk
				case ss != s:
					along = v.ds + last.ds
				default:
					along = v.dx + last.dx
				}
				require.InDelta(t, step*along/2, v.r-last.r, 2e-8, "K %g S %g X %g", k, s, x)
				for _, d := range []float64{v.r - last.r, v.dk - last.dk, v.ds - last.ds, v.dx - last.dx, v.dg - last.dg} {
					require.InDelta(t, 0, d, step, "K %g S %g X %g", k, s, x)
				}
			}
			last = v
		}
	}
}

// Limits with a known answer.
func TestExactLimits(t *testing.T) {
	e, own := exact15(), layer.Surface(1.5)
	mirror := one(e, 1, 1, 1, 0, color.SpecularIncluded).r - one(e, 1, 1, 1, 0, color.SpecularExcluded).r
	require.InDelta(t, own.Normal, mirror, 1e-5) // 8 degrees are almost normal
	bare := func(g float64) float64 { return mirror + (1-mirror)*(1-own.Inside)*g/(1-own.Inside*g) }
	inf := math.Inf(1)
	for _, c := range []struct {
		name             string
		k, s, x, g, want float64
	}{
		{"no thickness is Saunderson", 3, 2, 0, 0.4, bare(0.4)},
		{"nothing in the resin", 0, 0, 5, 0.7, bare(0.7)},
		{"no absorption over a perfect backing", 0, 5, 3, 1, 1},
		{"no absorption, infinitely deep", 0, 5, inf, 0.3, 1},
		{"only absorption, infinitely deep", 2, 0, inf, 0.3, mirror},
		{"below nothing is nothing", -1, -2, -3, 0.3, bare(0.3)},
	} {
		require.InDelta(t, c.want, one(e, c.k, c.s, c.x, c.g, color.SpecularIncluded).r, 2e-6, c.name)
	}
	requireFinite(t, e, 1e-5)
}

// Darker with more absorption, lighter with a lighter backing, whatever the fit
// steps into.
func TestExactIsMonotonic(t *testing.T) {
	e := exact15()
	rapid.Check(t, func(t *rapid.T) {
		k, s := drawLog(t, "K", 1e-9, 1e6), drawLog(t, "S", 1e-9, 1e6)
		x, g := drawLog(t, "X", 1e-3, 1e3), rapid.Float64Range(0, 1).Draw(t, "Rg")
		v := one(e, k, s, x, g, color.SpecularIncluded)
		require.LessOrEqual(t, v.dk*k, 1e-5)
		require.GreaterOrEqual(t, v.dg, -1e-9)
		require.True(t, v.r >= 0.04 && v.r <= 1+1e-5, "R %g", v.r)
	})
}

func TestNames(t *testing.T) {
	require.Equal(t, "Kubelka-Munk", layer.NewKubelkaMunk().Name())
	require.Equal(t, "exact layer, n 1.50", exact15().Name())
	e, err := layer.NewExactFor(layer.Optics{Index: 1.47, Anisotropy: 0.6, Directions: 4, Gap: true})
	require.NoError(t, err)
	require.Equal(t, "exact layer, n 1.47, g 0.60, air gap", e.Name())
}
