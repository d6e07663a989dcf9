package recipes

import (
	"math"

	"masstone/calibrate"
	"masstone/color"
)

// A want is one light of the target: its colour, the metric there and how
// much it counts.
type want struct {
	lab    [3]float64
	metric [3][3]float64
	root   [3][3]float64 // upper B with B'B = metric, times the root of the weight
	weight float64
}

// maxRows is the most residuals a subset solve carries: three per light, and
// one each for opacity and cost.
const maxRows = 3*6 + 2

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

// take makes the positions in bench the subset's pigments.
func (s *subset) take(at []int) {
	s.n = len(at)
	for i, p := range at {
		s.at[i] = p
		s.pigment[i] = s.b.pigments[p]
		s.lo[i], s.hi[i] = s.b.lo[p], s.b.hi[p]
	}
}

// residuals fills r and j at c and returns f, the sum of squares (1).
func (s *subset) residuals(c *[MaxPerRecipe]float64) float64 {
	n := s.n
	s.eval.Set(s.pigment[:n], c[:n])
	s.rows = 0
	for i := range s.wants {
		w := &s.wants[i]
		lab := s.eval.LabGradient(i, s.grad[:n])
		d := [3]float64{lab[0] - w.lab[0], lab[1] - w.lab[1], lab[2] - w.lab[2]}
		b := &w.root
		for t := range 3 {
			row := s.rows + t
			s.r[row] = b[t][0]*d[0] + b[t][1]*d[1] + b[t][2]*d[2]
			for k := range n {
				g := &s.grad[k]
				s.j[row][k] = b[t][0]*g[0] + b[t][1]*g[1] + b[t][2]*g[2]
			}
		}
		s.rows += 3
	}
	if s.maxCost > 0 {
		s.costRow(c)
	}
	if s.dark != nil {
		s.opacityRow(c)
	}
	f := 0.0
	for i := range s.rows {
		f += s.r[i] * s.r[i]
	}
	return f
}

// shortfall is how many CIEDE2000 units a whole violation of a limit weighs:
// enough that a limit gives way only where nothing reaches it.
const shortfall = 300

// costRow adds a residual where the recipe costs more than allowed.
func (s *subset) costRow(c *[MaxPerRecipe]float64) {
	sum, mass := s.resinPrice*100, 100.0
	for k := range s.n {
		sum += s.b.price[s.at[k]] * c[k]
		mass += c[k]
	}
	cost := sum / mass
	row := s.rows
	s.rows++
	s.r[row] = 0
	for k := range s.n {
		s.j[row][k] = 0
	}
	if over := cost/s.maxCost - 1; over > 0 {
		s.r[row] = shortfall * over
		for k := range s.n {
			s.j[row][k] = shortfall * (s.b.price[s.at[k]] - cost) / mass / s.maxCost
		}
	}
}

// opacityRow adds a residual where the recipe hides less than asked for.
func (s *subset) opacityRow(c *[MaxPerRecipe]float64) {
	n := s.n
	var gd, gl [MaxPerRecipe][3]float64
	s.dark.Set(s.pigment[:n], c[:n])
	ld := s.dark.LabGradient(0, gd[:n])
	s.light.Set(s.pigment[:n], c[:n])
	ll := s.light.LabGradient(0, gl[:n])
	yd, dyd := luminance(ld[0])
	yl, dyl := luminance(ll[0])
	row := s.rows
	s.rows++
	s.r[row] = 0
	for k := range n {
		s.j[row][k] = 0
	}
	if under := s.minOpacity - yd/yl; under > 0 {
		s.r[row] = shortfall * under
		for k := range n {
			s.j[row][k] = -shortfall * (dyd*gd[k][0]*yl - yd*dyl*gl[k][0]) / (yl * yl)
		}
	}
}

// luminance returns Y/Yn of an L* and its derivative (ISO/CIE 11664-4).
func luminance(l float64) (y, dy float64) {
	if l > 8 {
		f := (l + 16) / 116
		return f * f * f, 3 * f * f / 116
	}
	const k = 24389.0 / 27
	return math.Max(l, 1e-6) / k, 1 / k
}

// solve minimises f from c, bounded, and returns it: Levenberg-Marquardt on
// the free loadings, with the total as an equality while it binds.
func (s *subset) solve() float64 {
	n := s.n
	s.clamp(&s.c)
	f := s.residuals(&s.c)
	mu := 1e-3
	for range 30 {
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
		done := f-next < 1e-4*f+1e-7
		s.c = s.trial
		f = next
		mu /= 6
		if done {
			break
		}
	}
	return f
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

// normal forms J'J and -J'r at the last residuals and frees the loadings that
// may move.
func (s *subset) normal() {
	n := s.n
	for i := range n {
		g := 0.0
		for r := range s.rows {
			g -= s.j[r][i] * s.r[r]
		}
		s.g[i] = g
		for k := 0; k <= i; k++ {
			v := 0.0
			for r := range s.rows {
				v += s.j[r][i] * s.j[r][k]
			}
			s.a[i][k], s.a[k][i] = v, v
		}
	}
	for k := range n {
		s.free[k] = !(s.c[k] <= s.lo[k] && s.g[k] < 0 || s.c[k] >= s.hi[k] && s.g[k] > 0)
	}
}

// move sets step to the damped Gauss-Newton step of the free loadings; those
// that the step would carry past a bound stop there and the rest is solved
// again.
func (s *subset) move(mu float64) {
	free := s.free
	for range s.n + 1 {
		s.step = [MaxPerRecipe]float64{}
		s.newton(&free, mu)
		again := false
		for k := range s.n {
			if !free[k] {
				continue
			}
			if s.c[k]+s.step[k] < s.lo[k] && s.c[k] <= s.lo[k] || s.c[k]+s.step[k] > s.hi[k] && s.c[k] >= s.hi[k] {
				free[k] = false
				again = true
			}
		}
		if !again {
			break
		}
	}
	// reach: a loading may grow by a few times itself per step, no more, since
	// colour saturates
	for k := range s.n {
		s.step[k] = math.Min(s.step[k], 3*s.c[k]+0.3)
	}
}

func (s *subset) newton(free *[MaxPerRecipe]bool, mu float64) {
	var idx [MaxPerRecipe]int
	m := 0
	for k := range s.n {
		if free[k] {
			idx[m] = k
			m++
		}
	}
	if m == 0 {
		return
	}
	// scaled by the loadings' own sensitivity
	for i := range m {
		for k := 0; k <= i; k++ {
			v := s.a[idx[i]][idx[k]]
			if i == k {
				v = v*(1+mu) + 1e-9
			}
			for t := range k {
				v -= s.l[i][t] * s.l[k][t]
			}
			if i == k {
				s.l[i][i] = math.Sqrt(math.Max(v, 1e-12))
			} else {
				s.l[i][k] = v / s.l[k][k]
			}
		}
	}
	var p, q [MaxPerRecipe]float64
	for i := range m {
		p[i] = s.g[idx[i]]
		q[i] = 1
	}
	s.back(&p, m)
	sum, used := 0.0, 0.0
	for k := range s.n {
		sum += s.c[k]
	}
	for i := range m {
		used += p[i]
	}
	if sum+used > s.b.total && sum >= s.b.total-1e-9 {
		// the total binds: keep it while moving within it
		s.back(&q, m)
		qs := 0.0
		for i := range m {
			qs += q[i]
		}
		over := (sum + used - s.b.total) / qs
		for i := range m {
			p[i] -= over * q[i]
		}
	}
	for i := range m {
		s.step[idx[i]] = p[i]
	}
}

// back overwrites p with (L L')^-1 p.
func (s *subset) back(p *[MaxPerRecipe]float64, m int) {
	for i := range m {
		for k := range i {
			p[i] -= s.l[i][k] * p[k]
		}
		p[i] /= s.l[i][i]
	}
	for i := m - 1; i >= 0; i-- {
		for k := i + 1; k < m; k++ {
			p[i] -= s.l[k][i] * p[k]
		}
		p[i] /= s.l[i][i]
	}
}

// expected returns F (2) at c.
func (s *subset) expected(c *[MaxPerRecipe]float64) float64 {
	f := s.residuals(c)
	if s.byPredicted {
		return f
	}
	return f + s.spread(c)
}

// spread returns what uncertainty adds to f at c: the residuals there must be
// the last computed.
func (s *subset) spread(c *[MaxPerRecipe]float64) float64 {
	v := s.constant
	n := s.n
	for k := range n {
		w := s.b.weigh[s.at[k]]
		w2 := w*w + s.scatter*s.scatter*c[k]*c[k]
		if c[k] <= 0 {
			continue
		}
		for r := range 3 * len(s.wants) {
			v += w2 * s.j[r][k] * s.j[r][k]
		}
	}
	for i := range s.wants {
		w := &s.wants[i]
		if i > 0 || len(s.wants) > 1 {
			s.eval.LabGradient(i, s.grad[:n]) // the covariance is that of the last gradient
		}
		v += w.weight * traceProduct(&w.metric, s.eval.Covariance())
	}
	return v
}

func traceProduct(m *[3][3]float64, c [3][3]float64) float64 {
	v := 0.0
	for i := range 3 {
		for j := range 3 {
			v += m[i][j] * c[i][j]
		}
	}
	return v
}

// maxPigments bounds the pigments of one bench.
const maxPigments = 128

// extras counts the residuals that are no colour: limits near which slopes
// does not hold.
func (s *subset) extras() int {
	n := 0
	if s.maxCost > 0 {
		n++
	}
	if s.dark != nil {
		n++
	}
	return n
}

// slopes sets how f would change per phr of each pigment of the bench, at the
// last residuals.
func (s *subset) slopes(slope *[maxPigments]float64) {
	var pull [maxRows / 3][3]float64
	for i := range s.wants {
		w := &s.wants[i]
		for t := range 3 {
			for k := range 3 {
				pull[i][t] += 2 * w.root[k][t] * s.r[3*i+k]
			}
		}
	}
	s.eval.Aim(pull[:len(s.wants)])
	for k, q := range s.b.pigments {
		slope[k] = s.eval.Slope(q)
	}
}

// slide follows the loadings' freedom: the direction that changes the colour
// least is walked both ways as long as F falls, correcting the colour after
// each step. It gives up where F no longer falls fast enough to come below
// enough, and returns F, at c.
func (s *subset) slide(enough float64) float64 {
	best := s.expected(&s.c)
	if s.byPredicted {
		return best
	}
	keep := s.c
	size, sign, gain := 0.35, 1.0, 0.0
	for step := range 14 {
		if best > enough && step > 1 && best-enough > 4*gain {
			break
		}
		s.residuals(&s.c)
		s.normal()
		dir, ok := s.loosest()
		if !ok {
			break
		}
		moved := false
		for range 2 {
			for k := range s.n {
				s.c[k] = keep[k] + sign*size*dir[k]
			}
			s.clamp(&s.c)
			s.correct()
			if v := s.expected(&s.c); v < best-1e-4*best {
				gain = best - v
				best, keep, moved = v, s.c, true
				break
			}
			s.c = keep
			sign = -sign
		}
		if moved {
			size = math.Min(size*1.6, 3)
		} else if size *= 0.3; size < 0.02 {
			break
		}
	}
	s.c = keep
	return best
}

// correct takes one Gauss-Newton step back to the colour.
func (s *subset) correct() {
	f := s.residuals(&s.c)
	s.normal()
	s.move(1e-4)
	for k := range s.n {
		s.trial[k] = s.c[k] + s.step[k]
	}
	s.clamp(&s.trial)
	if s.residuals(&s.trial) < f {
		s.c = s.trial
	}
}

// loosest returns the change of loadings, relative to themselves, that the
// colour feels least: an inverse-power step of the scaled normal matrix. It
// has the length of the loadings.
func (s *subset) loosest() (dir [MaxPerRecipe]float64, ok bool) {
	var idx [MaxPerRecipe]int
	m := 0
	for k := range s.n {
		if s.c[k] > s.lo[k]+1e-6 && s.c[k] < s.hi[k] {
			idx[m] = k
			m++
		}
	}
	if m < 2 {
		return dir, false
	}
	trace := 0.0
	for i := range m {
		ci := s.c[idx[i]]
		trace += s.a[idx[i]][idx[i]] * ci * ci
	}
	for i := range m {
		for k := 0; k <= i; k++ {
			v := s.a[idx[i]][idx[k]] * s.c[idx[i]] * s.c[idx[k]]
			if i == k {
				v += 1e-7*trace + 1e-12
			}
			for t := range k {
				v -= s.l[i][t] * s.l[k][t]
			}
			if i == k {
				s.l[i][i] = math.Sqrt(math.Max(v, 1e-14))
			} else {
				s.l[i][k] = v / s.l[k][k]
			}
		}
	}
	var x [MaxPerRecipe]float64
	for i := range m {
		x[i] = 1 + 0.1*float64(i)
	}
	for range 3 {
		s.back(&x, m)
		norm := 0.0
		for i := range m {
			norm = math.Max(norm, math.Abs(x[i]))
		}
		for i := range m {
			x[i] /= norm
		}
	}
	sum := 0.0
	for i := range m {
		dir[idx[i]] = x[i] * s.c[idx[i]]
		sum += dir[idx[i]]
	}
	if sum < 0 { // towards more paste, so that a walk keeps its sense
		for i := range m {
			dir[idx[i]] = -dir[idx[i]]
		}
	}
	return dir, true
}

// polish minimises F itself from c: Newton steps with the curvature of f and
// the spread's slope by differences. It returns F, at c.
func (s *subset) polish() float64 {
	best := s.expected(&s.c)
	if s.byPredicted {
		return best
	}
	mu := 1e-3
	for range 8 {
		s.residuals(&s.c)
		base := s.spread(&s.c)
		s.normal()
		g := s.g
		for k := range s.n {
			h := 0.02*s.c[k] + 1e-4
			t := s.c
			t[k] += h
			s.residuals(&t)
			g[k] -= (s.spread(&t) - base) / h / 2
		}
		s.g = g
		s.residuals(&s.c)
		for k := range s.n {
			s.free[k] = !(s.c[k] <= s.lo[k] && g[k] < 0 || s.c[k] >= s.hi[k] && g[k] > 0)
		}
		improved := false
		gain := 0.0
		for range 6 {
			s.move(mu)
			for k := range s.n {
				s.trial[k] = s.c[k] + s.step[k]
			}
			s.clamp(&s.trial)
			t := s.trial
			if v := s.expected(&t); v < best {
				gain = best - v
				best = v
				s.c = t
				improved = true
				break
			}
			mu = math.Max(mu*10, 1e-3)
		}
		if !improved || gain < 1e-5*best {
			break
		}
		mu /= 4
	}
	return best
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
