package gamut

import (
	"math"

	"masstone/calibrate"
)

const (
	blendSize = 4    // pigments in a mixture of the gamut
	levelOff  = 0.02 // how near the lightness and the direction must be met
	scales    = 9    // loadings per direction of the first look, halving
)

// A blend is a mixture of the search: curve positions in rising order, loadings
// in phr above 0, and the predicted L*, a*, b*.
type blend struct {
	n   int
	q   [blendSize + 3]int
	c   [blendSize + 3]float64
	lab [3]float64
}

func (b *blend) chroma() float64 { return math.Hypot(b.lab[1], b.lab[2]) }

// share is how much of the paste is the first of two pigments.
func (b *blend) share() float64 {
	switch {
	case b.n == 2:
		return b.c[0] / (b.c[0] + b.c[1])
	case b.n == 1 && b.q[0] == 1:
		return 1
	}
	return 0
}

func (b *blend) total() (sum float64) {
	for _, c := range b.c[:b.n] {
		sum += c
	}
	return sum
}

// of is the loading of a pigment.
func (b *blend) of(q int) float64 {
	for i := range b.n {
		if b.q[i] == q {
			return b.c[i]
		}
	}
	return 0
}

// put sets the loading of a pigment.
func (b *blend) put(q int, c float64) {
	i := 0
	for i < b.n && b.q[i] < q {
		i++
	}
	if i == b.n || b.q[i] != q {
		if c <= 0 {
			return
		}
		copy(b.q[i+1:], b.q[i:b.n])
		copy(b.c[i+1:], b.c[i:b.n])
		b.q[i] = q
		b.n++
	} else if c <= 0 {
		copy(b.q[i:], b.q[i+1:b.n])
		copy(b.c[i:], b.c[i+1:b.n])
		b.n--
		return
	}
	b.c[i] = c
}

// A ray is a line on the a*b* plane from a point in a direction of length 1;
// most is how far along it the search goes.
type ray struct {
	at, to [2]float64
	most   float64
}

func (y ray) along(lab [3]float64) float64 {
	return (lab[1]-y.at[0])*y.to[0] + (lab[2]-y.at[1])*y.to[1]
}

func (y ray) across(lab [3]float64) float64 {
	return (lab[2]-y.at[1])*y.to[0] - (lab[1]-y.at[0])*y.to[1]
}

// search finds mixtures on one level of lightness.
type search struct {
	cal    *calibrate.Calibration
	e      *calibrate.Evaluator
	top    []float64 // most phr per curve
	total  float64   // most phr in all
	level  float64
	slopes [][3]float64 // Lab per phr of each pigment
	all    []int        // every pigment
}

func (s *search) predict(b *blend) {
	s.e.Set(b.q[:b.n], b.c[:b.n])
	b.lab = s.e.Lab(0).Values()
}

// cross finds the mixture on the level between two mixtures on either side of
// it, by the Illinois form of the rule of false position.
func (s *search) cross(from, to blend) (blend, bool) {
	lo, hi := 0.0, 1.0
	fl, fh := from.lab[0]-s.level, to.lab[0]-s.level
	if fl*fh > 0 {
		return blend{}, false
	}
	side := 0
	for range 40 {
		t := lo + (hi-lo)*fl/(fl-fh)
		if fl == fh {
			t = lo
		}
		b := between(&from, &to, t)
		s.predict(&b)
		f := b.lab[0] - s.level
		switch {
		case math.Abs(f) <= levelOff:
			return b, true
		case f*fh > 0:
			hi, fh = t, f
			if side == 1 {
				fl /= 2
			}
			side = 1
		default:
			lo, fl = t, f
			if side == -1 {
				fh /= 2
			}
			side = -1
		}
	}
	return blend{}, false
}

// between mixes two mixtures, t of the second.
func between(from, to *blend, t float64) blend {
	b := *from
	for i := range b.n {
		b.c[i] *= 1 - t
	}
	for i, q := range to.q[:to.n] {
		b.put(q, b.of(q)+t*to.c[i])
	}
	if t >= 1 {
		return *to
	}
	return b
}

// firstLook follows each pigment and each pair from nothing to the limits,
// alone and brought to each level with the lightest or darkest pigment.
func (s *search) firstLook(levels []float64) [][]blend {
	out := make([][]blend, len(levels))
	n := len(s.cal.Curves)
	light, dark := 1, 1
	var l, d float64 = -1, 101
	for q := 1; q < n; q++ {
		var b blend
		b.put(q, s.top[q])
		s.predict(&b)
		if b.lab[0] > l {
			light, l = q, b.lab[0]
		}
		if b.lab[0] < d {
			dark, d = q, b.lab[0]
		}
	}
	var none blend
	s.predict(&none)
	follow := func(full blend) {
		if sum := full.total(); sum > s.total {
			full = between(&none, &full, s.total/sum)
		}
		last := none
		for k := scales - 1; k >= 0; k-- {
			b := between(&none, &full, math.Pow(2, -float64(k)))
			s.predict(&b)
			for i, level := range levels {
				s.level = level
				if x, ok := s.cross(last, b); ok {
					out[i] = append(out[i], x)
				}
				toner := light
				if b.lab[0] > level {
					toner = dark
				}
				more := b
				more.put(toner, math.Min(s.top[toner], b.of(toner)+s.total-b.total()))
				if more.of(toner) <= b.of(toner) {
					continue
				}
				s.predict(&more)
				if x, ok := s.cross(b, more); ok {
					out[i] = append(out[i], x)
				}
			}
			last = b
		}
	}
	ratios := []float64{0.15, 0.5, 0.85}
	if n == 3 { // two pigments: the starts are the outline
		ratios = nil
		for k := -12; k <= 12; k++ {
			ratios = append(ratios, 1/(1+math.Pow(1.6, float64(k))))
		}
	}
	for p := 1; p < n; p++ {
		var one blend
		one.put(p, s.top[p])
		follow(one)
		for q := p + 1; q < n; q++ {
			for _, r := range ratios {
				var two blend
				two.put(p, r*s.top[p])
				two.put(q, (1-r)*s.top[q])
				follow(two)
			}
		}
	}
	return out
}

// settle brings a mixture onto the level and the ray by Newton's method on two
// of its loadings, or one and a pigment not yet in it, and tells whether it got
// there.
func (s *search) settle(b *blend, y ray) bool {
	for range 10 {
		dl, dx := s.level-b.lab[0], -y.across(b.lab)
		if math.Abs(dl) <= levelOff && math.Abs(dx) <= levelOff {
			return true
		}
		next, ok := s.newton(b, y, dl, dx, b.q[:b.n])
		if !ok && b.n < blendSize {
			next, ok = s.newton(b, y, dl, dx, s.all)
		}
		if !ok {
			return false
		}
		*b = next
		s.predict(b)
	}
	return false
}

// newton changes the loading of a pigment of the mixture and of one other so
// that by the gradients lightness moves by dl and the colour across the ray by
// dx, with the pair that moves the colour least on the way.
func (s *search) newton(b *blend, y ray, dl, dx float64, others []int) (blend, bool) {
	s.gradients(b, others)
	cheapest, best := math.Inf(1), *b
	sum := b.total()
	for _, p := range b.q[:b.n] {
		for _, q := range others {
			if p == q {
				continue
			}
			lp, lq := s.slopes[p][0], s.slopes[q][0]
			xp, xq := y.turn(s.slopes[p]), y.turn(s.slopes[q])
			det := lp*xq - lq*xp
			if det == 0 {
				continue
			}
			dp, dq := (dl*xq-lq*dx)/det, (lp*dx-dl*xp)/det
			cp, cq := b.of(p), b.of(q)
			part := reach(dp, cp)
			switch {
			case cq > 0:
				part = math.Min(part, reach(dq, cq))
			case dq <= 0:
				continue
			}
			if cp+part*dp > s.top[p] || cq+part*dq > s.top[q] || sum+part*(dp+dq) > s.total {
				continue
			}
			cost := (math.Abs(dp)*norm(s.slopes[p]) + math.Abs(dq)*norm(s.slopes[q])) / part
			if cost < cheapest {
				cheapest, best = cost, *b
				best.put(p, cp+part*dp)
				best.put(q, cq+part*dq)
			}
		}
	}
	return best, !math.IsInf(cheapest, 1)
}

// gradients fills the slopes of some pigments at a mixture.
func (s *search) gradients(b *blend, of []int) {
	s.predict(b)
	for axis := range 3 {
		var pull [1][3]float64
		pull[0][axis] = 1
		s.e.Aim(pull[:])
		for _, q := range of {
			s.slopes[q][axis] = s.e.Slope(q)
		}
	}
}

// reach is the part of a step d that a loading c bears: it never takes away
// more than 0.7 of it, nor more than trebles it.
func reach(d, c float64) float64 {
	switch {
	case d < 0:
		return math.Min(1, 0.7*c/-d)
	case d > 0:
		return math.Min(1, 2*c/d)
	}
	return 1
}

// turn is the part of a gradient across the ray, push the part along it.
func (y ray) turn(g [3]float64) float64   { return g[2]*y.to[0] - g[1]*y.to[1] }
func (y ray) thrust(g [3]float64) float64 { return g[1]*y.to[0] + g[2]*y.to[1] }

func norm(g [3]float64) float64 { return math.Sqrt(g[0]*g[0] + g[1]*g[1] + g[2]*g[2]) }

// stride is how far a pigment may move the colour in one step of a walk.
const stride = 15

// push walks a mixture out along a ray, on the level, as far as it goes, in
// steps no longer than first.
func (s *search) push(b *blend, y ray, first float64) {
	const last, enough = 0.4, 0.02
	trust := first
	for range 60 {
		next, gain := s.move(b, y, trust)
		if gain < enough {
			return
		}
		s.predict(&next)
		if s.settle(&next, y) && y.along(next.lab) > y.along(b.lab)+enough/2 {
			*b = next
			trust = math.Min(2*trust, first)
			continue
		}
		if trust /= 3; trust < last {
			return
		}
	}
}

// move finds the best trade of pigments that by the gradients keeps lightness
// and direction, while no pigment moves the colour by more than trust, and the
// gain along the ray it promises.
func (s *search) move(b *blend, y ray, trust float64) (blend, float64) {
	s.gradients(b, s.all)
	sum := b.total()
	left := y.most - y.along(b.lab)
	best, gain := *b, 0.0
	n := len(s.slopes)
	for i := 1; i < n; i++ {
		li, xi, ri := s.slopes[i][0], y.turn(s.slopes[i]), y.thrust(s.slopes[i])
		for j := i + 1; j < n; j++ {
			lj, xj, rj := s.slopes[j][0], y.turn(s.slopes[j]), y.thrust(s.slopes[j])
			dk := li*xj - lj*xi
			for k := j + 1; k < n; k++ {
				lk, xk, rk := s.slopes[k][0], y.turn(s.slopes[k]), y.thrust(s.slopes[k])
				d := [3]float64{lj*xk - lk*xj, lk*xi - li*xk, dk}
				rate := d[0]*ri + d[1]*rj + d[2]*rk
				if rate < 0 {
					rate = -rate
					d[0], d[1], d[2] = -d[0], -d[1], -d[2]
				}
				step := left / rate
				trade := [3]int{i, j, k}
				empties := false
				count := b.n
				for t, q := range trade {
					c := b.of(q)
					if c == 0 {
						count++
					}
					most := trust / (math.Abs(d[t]) * norm(s.slopes[q]))
					if most < step {
						step, empties = most, false
					}
					if d[t] < 0 && -c/d[t] <= step {
						step, empties = -c/d[t], true
					} else if d[t] > 0 && (s.top[q]-c)/d[t] < step {
						step, empties = (s.top[q]-c)/d[t], false
					}
				}
				if more := d[0] + d[1] + d[2]; more > 0 && (s.total-sum)/more < step {
					step, empties = (s.total-sum)/more, false
				}
				if empties {
					count--
				}
				if count > blendSize || !(step*rate > gain) {
					continue
				}
				gain = step * rate
				best = *b
				for t, q := range trade {
					c := b.of(q) + step*d[t]
					if c < 1e-6*s.top[q] {
						c = 0
					}
					best.put(q, c)
				}
			}
		}
	}
	return best, gain
}
