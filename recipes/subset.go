package recipes

import (
	"math"

	"masstone/calibrate"
	"masstone/color"
)

// maxRows is the most residuals a subset solve carries: three per light, and
// one each for opacity and cost.
const maxRows = 3*6 + 2

// maxPigments bounds the pigments of one bench.
const maxPigments = 128

// A want is one light of the target: its colour, the metric there and how
// much it counts.
type want struct {
	lab    [3]float64
	metric [3][3]float64
	root   [3][3]float64 // upper B with B'B = metric, times the root of the weight
	weight float64
}

func newWant(lab color.Lab, weight float64) want {
	m := color.Metric00(lab.Values())
	w := want{lab: lab.Values(), metric: m, weight: weight, root: rootOf(m)}
	f := math.Sqrt(weight)
	for i := range w.root {
		for j := range w.root[i] {
			w.root[i][j] *= f
		}
	}
	return w
}

// rootOf returns upper B with B'B = m.
func rootOf(m [3][3]float64) (b [3][3]float64) {
	for i := range 3 {
		for j := i; j < 3; j++ {
			v := m[i][j]
			for k := range i {
				v -= b[k][i] * b[k][j]
			}
			if i == j {
				b[i][i] = math.Sqrt(math.Max(v, 1e-12))
			} else {
				b[i][j] = v / b[i][i]
			}
		}
	}
	return b
}

// A subset solves for the loadings of one set of pigments. It owns its
// evaluators and all working memory, so that solving allocates nothing.
type subset struct {
	eval  *calibrate.Evaluator
	dark  *calibrate.Evaluator // over black, for opacity; nil without
	light *calibrate.Evaluator // over white
	wants []want
	b     *bench

	minOpacity  float64
	maxCost     float64 // per kg, 0 for none
	resinPrice  float64
	scatter     float64 // relative, pour to pour
	constant    float64 // tr M T: the target's own reading
	byPredicted bool

	n       int
	at      [MaxPerRecipe]int // positions in bench
	pigment [MaxPerRecipe]int
	c       [MaxPerRecipe]float64
	walkEnd [MaxPerRecipe]float64 // where the best walk of these pigments ended
	trial   [MaxPerRecipe]float64
	lo, hi  [MaxPerRecipe]float64
	grad    [MaxPerRecipe][3]float64

	rows int
	r    [maxRows]float64
	j    [maxRows][MaxPerRecipe]float64
	a    [MaxPerRecipe][MaxPerRecipe]float64
	l    [MaxPerRecipe][MaxPerRecipe]float64
	g    [MaxPerRecipe]float64
	step [MaxPerRecipe]float64
	free [MaxPerRecipe]bool
}

// take makes the positions in bench the subset's pigments, none of each.
func (s *subset) take(at []int) {
	s.n = len(at)
	s.c, s.trial = [MaxPerRecipe]float64{}, [MaxPerRecipe]float64{}
	s.walkEnd[0] = -1 // no loadings
	for i, p := range at {
		s.at[i] = p
		s.pigment[i] = s.b.pigments[p]
		s.lo[i], s.hi[i] = s.b.lo[p], s.b.hi[p]
	}
}

// clamp holds loadings in their bounds and their total in the allowed.
func (s *subset) clamp(c *[MaxPerRecipe]float64) {
	sum := 0.0
	for k := range s.n {
		c[k] = math.Min(math.Max(c[k], s.lo[k]), s.hi[k])
		sum += c[k]
	}
	if sum > s.b.total {
		// shrink what stands above its lower bound
		room := 0.0
		for k := range s.n {
			room += c[k] - s.lo[k]
		}
		if room <= 0 {
			return
		}
		shrink := math.Max(0, 1-(sum-s.b.total)/room)
		for k := range s.n {
			c[k] = s.lo[k] + (c[k]-s.lo[k])*shrink
		}
	}
}

// solve minimises f from c, bounded, and returns it: Levenberg-Marquardt on
// the free loadings, with the total as an equality while it binds. It stops
// early where what the steps still gain cannot bring f below enough; the steps
// gain less and less near a minimum.
func (s *subset) solve(enough float64) float64 {
	n := s.n
	s.clamp(&s.c)
	f := s.residuals(&s.c)
	mu := 1e-3
	for step := range 30 {
		if f < 1e-4 { // 0.01 in CIEDE2000; polish goes further
			break
		}
		s.normal()
		improved := false
		next := f
		for range 8 {
			s.move(mu)
			for k := range n {
				s.trial[k] = s.c[k] + s.step[k]
			}
			s.clamp(&s.trial)
			next = s.residuals(&s.trial)
			if next < f {
				improved = true
				break
			}
			mu = math.Max(mu*8, 1e-3)
		}
		if !improved {
			break
		}
		gain := f - next
		done := gain < 1e-4*f+1e-7 || step > 1 && next-3*gain > enough
		s.c = s.trial
		f = next
		mu /= 6
		if done {
			break
		}
	}
	return f
}
