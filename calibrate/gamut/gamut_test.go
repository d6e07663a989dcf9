package gamut

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/optimize"

	"masstone/calibrate"
	"masstone/color"
)

// Every colour of a section is that of its mixture, at the lightness it says,
// within the limits.
func TestGamutIsReached(t *testing.T) {
	for _, pigments := range shelves(1, 2, 3, 6) {
		f := shop(t, pigments)
		for _, total := range []calibrate.PHR{0, 1.5} {
			sections, err := Sections(f.cal, f.shop.Setting, []float64{40, 60, 85}, Limits{TotalPHR: total})
			require.NoError(t, err)
			require.Len(t, sections, 3)
			most := total
			if most == 0 {
				most = 1.5 * f.cal.MaxTotal
			}
			corners := 0
			for _, s := range sections {
				if s.Center == nil {
					assert.Empty(t, s.Outline)
					continue
				}
				all := []Reached{*s.Center}
				for _, c := range s.Outline {
					all = append(all, c.Reached)
					assert.True(t, c.GapFrom >= 0 && c.GapFrom <= c.GapTo && c.GapTo <= 1, "gap %v to %v", c.GapFrom, c.GapTo)
				}
				corners += len(s.Outline)
				for _, r := range all {
					p, err := f.cal.Predict(calibrate.Sample{Loadings: r.Loadings, Setting: f.shop.Setting})
					require.NoError(t, err)
					got := p.Colors[0].Lab
					assert.InDelta(t, s.L, got.L, 0.03, "lightness of %v", r.Loadings)
					assert.InDelta(t, r.Lab.A, got.A, 1e-6)
					assert.InDelta(t, r.Lab.B, got.B, 1e-6)
					assert.LessOrEqual(t, len(r.Loadings), 4)
					sum := calibrate.PHR(0)
					for code, phr := range r.Loadings {
						sum += phr
						assert.Greater(t, phr, calibrate.PHR(0))
						assert.LessOrEqual(t, phr, 1.5*f.cal.Curves[f.cal.Index(code)].MaxPHR*(1+1e-9), code)
					}
					assert.LessOrEqual(t, sum, most*(1+1e-9))
				}
			}
			if pigments > 1 {
				assert.Greater(t, corners, 20, "%d pigments have hardly a gamut", pigments)
			}
		}
	}
}

// onLevel draws a mixture of up to four pigments at a lightness.
func onLevel(rng *rand.Rand, s *search) (blend, bool) {
	var a blend
	n := len(s.all)
	for range 1 + rng.IntN(blendSize) {
		q := s.all[rng.IntN(n)]
		if a.of(q) == 0 {
			a.put(q, s.top[q]*math.Exp(-8*rng.Float64()))
		}
	}
	if sum := a.total(); sum > s.total {
		for i := range a.n {
			a.c[i] *= s.total / sum
		}
	}
	s.predict(&a)
	b := a
	q := b.q[rng.IntN(b.n)]
	b.put(q, math.Min(s.top[q], b.of(q)+s.total-b.total()))
	s.predict(&b)
	return s.cross(a, b)
}

func newSearch(t *testing.T, f fitted) *search {
	e, err := f.cal.Evaluator(f.shop.Setting)
	require.NoError(t, err)
	n := len(f.cal.Curves)
	s := &search{cal: f.cal, e: e, total: 1.5 * float64(f.cal.MaxTotal), top: make([]float64, n), slopes: make([][3]float64, n)}
	for q := 1; q < n; q++ {
		s.all = append(s.all, q)
		s.top[q] = math.Min(s.total, 1.5*float64(f.cal.Curves[q].MaxPHR))
	}
	return s
}

// away is how far a colour lies from the areas of a section.
func away(s *Section, lab [3]float64) float64 {
	areas, lines := s.Shape()
	at := [2]float64{lab[1], lab[2]}
	for _, t := range areas {
		if t.Contains(at) {
			return 0
		}
	}
	near := math.Inf(1)
	for _, l := range lines {
		near = math.Min(near, apart(lab, [3]float64{0, l[0][0], l[0][1]}, [3]float64{0, l[1][0], l[1][1]}))
	}
	return near
}

// Nothing that can be mixed lies far outside of what is drawn: mixtures drawn
// by chance and brought to the lightness.
func TestGamutHoldsMixtures(t *testing.T) {
	levels := []float64{40, 60, 80}
	for _, pigments := range shelves(2, 3, 6) {
		f := shop(t, pigments)
		sections, err := Sections(f.cal, f.shop.Setting, levels, Limits{})
		require.NoError(t, err)
		s := newSearch(t, f)
		rng := rand.New(rand.NewPCG(11, uint64(pigments)))
		for i := range sections {
			s.level = levels[i]
			count, outside, worst := 0, 0, 0.0
			for range 2500 {
				x, ok := onLevel(rng, s)
				if !ok {
					continue
				}
				require.NotNil(t, sections[i].Center)
				count++
				d := away(&sections[i], x.lab)
				worst = math.Max(worst, d)
				if d > 0.5 {
					outside++
				}
			}
			t.Logf("%2d pigments, L* %.0f: %4d mixtures, %d more than 0.5 outside, at most %.2f", pigments, levels[i], count, outside, worst)
			assert.LessOrEqual(t, worst, 2.0)
			if pigments != 3 { // three reach a sliver, narrower than what counts as a gap
				assert.LessOrEqual(t, float64(outside), 0.01*float64(count)+1)
			}
			assert.Greater(t, count, 50)
		}
	}
}

// What is drawn as reached is reached: a plain simplex search over subsets of
// the pigments finds nearly every colour inside the areas.
func TestGamutHasNoHoles(t *testing.T) {
	levels := []float64{40, 60, 80}
	for _, pigments := range shelves(6) {
		f := shop(t, pigments)
		sections, err := Sections(f.cal, f.shop.Setting, levels, Limits{})
		require.NoError(t, err)
		s := newSearch(t, f)
		rng := rand.New(rand.NewPCG(5, uint64(pigments)))
		for i := range sections {
			areas, _ := sections[i].Shape()
			missed, worst := 0, 0.0
			const tries = 8
			for range tries {
				a := areas[rng.IntN(len(areas))]
				u, v := math.Sqrt(rng.Float64()), rng.Float64() // even over the triangle
				var target [3]float64
				target[0] = levels[i]
				for k := range 2 {
					target[k+1] = (1-u)*a[0][k] + u*(1-v)*a[1][k] + u*v*a[2][k]
				}
				miss := plainSearch(s, target)
				worst = math.Max(worst, miss)
				if miss > 1 {
					missed++
				}
			}
			t.Logf("%2d pigments, L* %.0f: %d of %d colours not found, at most %.2f away", pigments, levels[i], missed, tries, worst)
			assert.LessOrEqual(t, missed, 1)
		}
	}
}

// plainSearch is how near to a colour Nelder and Mead's simplex comes with
// subsets of four pigments.
func plainSearch(s *search, target [3]float64) float64 {
	best := math.Inf(1)
	rng := rand.New(rand.NewPCG(2, 3))
	phr := make([]float64, blendSize)
	for range 300 {
		subset := []int{1, 2} // the white and the black, and two more
		for _, i := range rng.Perm(len(s.all) - 2)[:blendSize-2] {
			subset = append(subset, s.all[i+2])
		}
		problem := optimize.Problem{Func: func(x []float64) float64 {
			sum := 0.0
			for i, q := range subset {
				phr[i] = s.top[q] * math.Exp(math.Min(x[i], 0))
				sum += phr[i]
			}
			if sum > s.total {
				for i := range phr {
					phr[i] *= s.total / sum
				}
			}
			s.e.Set(subset, phr)
			lab := s.e.Lab(0).Values()
			return math.Hypot(math.Hypot(lab[0]-target[0], lab[1]-target[1]), lab[2]-target[2])
		}}
		start := make([]float64, blendSize)
		for i := range start {
			start[i] = -7 * rng.Float64()
		}
		if r, _ := optimize.Minimize(problem, start, &optimize.Settings{FuncEvaluations: 400}, &optimize.NelderMead{}); r != nil {
			best = math.Min(best, r.F)
		}
		if best < 0.5 {
			break
		}
	}
	return best
}

func TestGamutErrors(t *testing.T) {
	f := shop(t, 2)
	in := f.shop.Setting
	for name, c := range map[string]struct {
		in     calibrate.Setting
		levels []float64
		total  calibrate.PHR
		says   string
	}{
		"level":     {in, []float64{50, 101}, 0, "lightness 101"},
		"no number": {in, []float64{math.NaN()}, 0, "lightness NaN"},
		"total":     {in, nil, -1, "-1 phr"},
		"setting":   {calibrate.Setting{Backing: color.Constant(0.9)}, nil, 0, "thickness"},
	} {
		_, err := Sections(f.cal, c.in, c.levels, Limits{TotalPHR: c.total})
		assert.ErrorContains(t, err, c.says, name)
	}
}

func BenchmarkGamut(b *testing.B) {
	f := shop(b, 12)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Sections(f.cal, f.shop.Setting, []float64{40, 60, 80}, Limits{}); err != nil {
			b.Fatal(err)
		}
	}
}
