package castplan_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

func testBench() *castplan.Bench {
	return &castplan.Bench{ChipGrams: 50, ScaleGrams: 0.01, Thickness: 3, MaxPHR: 4,
		Measurement: color.Measurement{Geometry: color.Sphere, Specular: color.SpecularIncluded},
		Backings:    []castplan.Backing{{Name: "white", Reflectance: color.Constant(0.9)}, {Name: "black", Reflectance: color.Constant(0.03)}}}
}

var twelve = []string{"WH", "BK", "YE", "YO", "OR", "RD", "MG", "VI", "UB", "CB", "GN", "CR"}

// Two resin chips, two of each white, and the chips of each colour; no more
// paste than the resin bears, every pigment in at least one chip, every gram a
// whole step.
func TestStartCounts(t *testing.T) {
	oneLab := castplan.Reading{Lights: []color.Condition{color.D65Ten()}}
	spectra := castplan.Reading{Spectrum: true}
	two := append([]string{"PW"}, twelve...)
	for _, k := range []struct {
		name  string
		shelf castplan.Shelf
		want  int
	}{
		{"one tint each", castplan.Shelf{Pigments: twelve, Whites: []string{"WH"}, PerColour: 1}, 4 + 11},
		{"spectra", castplan.Shelf{Pigments: twelve, Whites: []string{"WH"}, Reading: spectra}, 4 + 22},
		{"one Lab", castplan.Shelf{Pigments: twelve, Whites: []string{"WH"}, Reading: oneLab}, 4 + 33},
		{"bold", castplan.Shelf{Pigments: twelve, Whites: []string{"WH"}, PerColour: 4}, 4 + 44},
		{"two whites", castplan.Shelf{Pigments: two, Whites: []string{"WH", "PW"}, PerColour: 2}, 6 + 22},
		{"no white", castplan.Shelf{Pigments: twelve[1:], PerColour: 2}, 2 + 22},
		{"only a white", castplan.Shelf{Pigments: []string{"WH"}, Whites: []string{"WH"}}, 4},
	} {
		b := testBench()
		chips, err := castplan.Start(k.shelf, b)
		require.NoError(t, err, k.name)
		require.Len(t, chips, k.want, k.name)
		names, used := map[string]bool{}, map[string]bool{}
		for _, c := range chips {
			require.False(t, names[c.Name], "%s: %s twice", k.name, c.Name)
			names[c.Name] = true
			total := calibrate.PHR(0)
			for code, grams := range c.Grams {
				steps := float64(grams / b.ScaleGrams)
				require.InDelta(t, math.Round(steps), steps, 1e-6)
				require.InDelta(t, float64(grams/b.ChipGrams*100), float64(c.Loadings[code]), 1e-9)
				used[code] = true
				total += c.Loadings[code]
			}
			require.LessOrEqual(t, float64(total), float64(b.MaxPHR)*1.0001, c.Name)
		}
		for _, code := range k.shelf.Pigments {
			require.True(t, used[code], "%s: %s in no chip", k.name, code)
		}
	}
}

// The level is half of what the resin bears, 2 phr where nobody knows, or what
// is asked for.
func TestStartLevel(t *testing.T) {
	for _, k := range []struct{ most, level, want calibrate.PHR }{{0, 0, 2}, {4, 0, 2}, {1, 0, 0.5}, {6, 0, 3}, {6, 1, 1}} {
		b := testBench()
		b.MaxPHR = k.most
		chips, err := castplan.Start(castplan.Shelf{Pigments: []string{"RD", "WH"}, Whites: []string{"WH"}, PerColour: 2, Level: k.level}, b)
		require.NoError(t, err)
		top := calibrate.PHR(0)
		for _, c := range chips {
			top = max(top, c.Loadings["RD"])
		}
		require.InDelta(t, float64(k.want), float64(top), 1e-9)
	}
}

// With one backing there is no dark one: films lie on what there is.
func TestStartOnOneBacking(t *testing.T) {
	b := testBench()
	b.Backings = b.Backings[:1]
	chips, err := castplan.Start(castplan.Shelf{Pigments: []string{"WH", "RD"}, Whites: []string{"WH"}, PerColour: 3}, b)
	require.NoError(t, err)
	require.Len(t, chips, 1+2+3)
	for _, c := range chips {
		require.Equal(t, "white", c.Backing.Name)
	}
}

func TestStartErrors(t *testing.T) {
	for name, k := range map[string]struct {
		shelf  castplan.Shelf
		change func(*castplan.Bench)
		want   string
	}{
		"nothing":      {castplan.Shelf{}, nil, "no pigments to plan for"},
		"twice":        {castplan.Shelf{Pigments: []string{"RD", "RD"}}, nil, `pigment "RD": empty or listed twice`},
		"empty":        {castplan.Shelf{Pigments: []string{""}}, nil, `pigment "": empty`},
		"white":        {castplan.Shelf{Pigments: []string{"RD"}, Whites: []string{"WH"}}, nil, "white WH is not among the pigments"},
		"per colour":   {castplan.Shelf{Pigments: []string{"RD"}, PerColour: 7}, nil, "7 chips per colour; give 1 to 4"},
		"level":        {castplan.Shelf{Pigments: []string{"RD"}, Level: 9}, nil, "masstones of 9 phr"},
		"level nan":    {castplan.Shelf{Pigments: []string{"RD"}, Level: calibrate.PHR(math.NaN())}, nil, "masstones of NaN phr"},
		"coarse scale": {castplan.Shelf{Pigments: []string{"RD"}}, func(b *castplan.Bench) { b.ScaleGrams = 0.1 }, "cast larger chips"},
		"bench":        {castplan.Shelf{Pigments: []string{"RD"}}, func(b *castplan.Bench) { b.ChipGrams = 0 }, "chip of 0 g"},
	} {
		b := testBench()
		if k.change != nil {
			k.change(b)
		}
		_, err := castplan.Start(k.shelf, b)
		require.ErrorContains(t, err, k.want, name)
	}
}

// The starting plan teaches more than as many chips of the usual kind, a
// masstone and a half tint per colour and four whites: bare resin chips and a
// film over black are what they lack. Spectra make do with either.
func TestStartBeatsTheUsualSet(t *testing.T) {
	if underRace {
		t.Skip("a study of figures; run without -race")
	}
	if testing.Short() {
		t.Skip("fits a dozen calibrations")
	}
	t.Parallel()
	for _, e := range []virtualshop.Evidence{virtualshop.ThreeLights, virtualshop.Spectra} {
		own, usual := 0.0, 0.0
		seeds := []uint64{1, 3}
		if whole {
			seeds = []uint64{1, 2, 3}
		}
		for _, seed := range seeds {
			s := virtualshop.Painted(seed, 7)
			if seed == 3 {
				s = s.InOpaqueResin()
			}
			w := newWorld(s, seed, calibrate.KubelkaMunk)
			rng := rand.New(rand.NewPCG(seed, 'u'))
			first, theirs := w.cast(rng, w.start(t, 2)), w.CastAll(rng, w.Study(virtualshop.Tint))
			require.Len(t, theirs, len(first))
			own += w.miss(t, w.fit(t, e, first)) / float64(len(seeds))
			usual += w.miss(t, w.fit(t, e, theirs)) / float64(len(seeds))
		}
		t.Logf("%s: mean CIEDE2000 of unseen mixtures %.3f, usual set %.3f", e, own, usual)
		if e == virtualshop.Spectra {
			usual *= 1.25
		}
		require.Less(t, own, usual, "%s", e)
	}
}

// A paste that the resin bears less of is cast at that, in every chip, and the
// names of chips list pigments in the bench's order.
func TestStartObeysEachPaste(t *testing.T) {
	b := testBench()
	b.Most, b.Order = map[string]calibrate.PHR{"BK": 1, "WH": 1.5}, []string{"WH", "RD", "BK"}
	chips, err := castplan.Start(castplan.Shelf{Pigments: []string{"BK", "RD", "WH"}, Whites: []string{"WH"}, PerColour: 4}, b)
	require.NoError(t, err)
	top := map[string]calibrate.PHR{}
	for _, c := range chips {
		for code, phr := range c.Loadings {
			top[code] = max(top[code], phr)
		}
		for _, code := range []string{"RD", "BK"} {
			if c.Loadings[code] > 0 && c.Loadings["WH"] > 0 {
				require.True(t, strings.HasPrefix(c.Name, "WH"), c.Name)
			}
		}
	}
	require.Equal(t, map[string]calibrate.PHR{"BK": 1, "WH": 1.5, "RD": 2}, top)
	b.Most["BK"] = -1
	require.Error(t, b.Check())
}
