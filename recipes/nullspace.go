package recipes

import (
	"math"
)

// nullSpaceWalk walks the null space of the colour: the direction of loadings
// that changes it least is walked both ways as long as F falls, correcting the
// colour after each step. It gives up where F no longer falls fast enough to come
// below enough, and returns F, at c.
//
// What weighing costs however little of a pigment there is stands between a
// mixture without it and better ones with more of it: the walk begins as if it
// were paid already, and goes back where that was not earned. It ends where it
// comes to the end of an earlier walk of the set.
func (s *subset) nullSpaceWalk(enough float64) float64 {
	start := s.expected(&s.c)
	if s.byPredicted {
		return start
	}
	if s.hides(&s.c) {
		if start > 4*enough {
			return start // among hiding mixtures doubt changes little
		}
	} else if start > 32*enough {
		return start // the way from here leads through hiding mixtures, tried as well
	}
	origin, keep, best := s.c, s.c, start
	for k := range s.n {
		if s.c[k] == 0 {
			best += s.misweighed(k)
		}
	}
	var dir [MaxPerRecipe]float64
	size, sign, gain, moved := 0.35, 1.0, 0.0, true
	for step := range 14 {
		if best > enough && step > 1 && best-enough > 5*gain {
			break
		}
		if moved { // the residuals are those of c
			s.normal()
			var ok bool
			if dir, ok = s.loosest(); !ok {
				break
			}
		}
		moved = false
		for range 2 {
			for k := range s.n {
				s.c[k] = keep[k] + sign*size*dir[k]
			}
			s.clamp(&s.c)
			if v := s.correct(); v < best-1e-4*best {
				gain = best - v
				best, keep, moved = v, s.c, true
				break
			}
			s.c = keep
			sign = -sign
		}
		if moved && s.near(&s.walkEnd) {
			break
		} else if moved {
			size = math.Min(size*1.6, 3)
		} else if size *= 0.3; size < 0.02 {
			break
		}
	}
	if s.c = keep; best < start {
		return best
	}
	s.c = origin
	return start
}

// hides reports whether loadings make the layer nearly opaque.
func (s *subset) hides(c *[MaxPerRecipe]float64) bool {
	sum := 0.0
	for k := range s.n {
		sum += c[k] * s.b.scatter[s.at[k]]
	}
	return sum*s.b.thickness > 1.5
}

// correct takes one Gauss-Newton step back to the colour and returns F, at c.
func (s *subset) correct() float64 {
	f := s.residuals(&s.c)
	s.normal()
	s.move(1e-4)
	for k := range s.n {
		s.trial[k] = s.c[k] + s.step[k]
	}
	s.clamp(&s.trial)
	if g := s.residuals(&s.trial); g < f {
		s.c, f = s.trial, g
	} else {
		s.residuals(&s.c)
	}
	if s.byPredicted {
		return f
	}
	return f + s.spread(&s.c)
}

// loosest returns the change of loadings, relative to themselves and a little,
// that the colour feels least: an inverse-power step of the scaled normal
// matrix. It has the length of the loadings.
func (s *subset) loosest() (dir [MaxPerRecipe]float64, ok bool) {
	var idx [MaxPerRecipe]int
	var scale [MaxPerRecipe]float64
	m := 0
	trace := 0.0
	for k := range s.n {
		if s.c[k] < s.hi[k] {
			idx[m] = k
			scale[m] = s.c[k] + little
			trace += s.a[k][k] * scale[m] * scale[m]
			m++
		}
	}
	if m < 2 {
		return dir, false
	}
	for i := range m {
		for k := 0; k <= i; k++ {
			v := s.a[idx[i]][idx[k]] * scale[i] * scale[k]
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
		dir[idx[i]] = x[i] * scale[i]
		sum += dir[idx[i]]
	}
	if sum < 0 { // towards more paste, so that a walk keeps its sense
		for i := range m {
			dir[idx[i]] = -dir[idx[i]]
		}
	}
	return dir, true
}

// polish minimises F itself from c: Newton steps with the curvature of f, the
// spread's slope by differences and its curvature as learnt from how that slope
// changes, by symmetric rank-one updates (Nocedal and Wright, Numerical
// Optimization, 6.2; on least squares plus a smooth rest, 10.3). It returns F,
// at c.
func (s *subset) polish() float64 {
	best := s.expected(&s.c)
	if s.byPredicted {
		return best
	}
	var bend [MaxPerRecipe][MaxPerRecipe]float64
	slope := s.spreadSlope()
	mu := 1e-3
	for range 20 {
		s.normal()
		for i := range s.n {
			s.g[i] -= slope[i] / 2
			for k := range s.n {
				s.a[i][k] += bend[i][k]
			}
		}
		for k := range s.n {
			s.free[k] = !(s.c[k] <= s.lo[k] && s.g[k] < 0 || s.c[k] >= s.hi[k] && s.g[k] > 0)
		}
		from, gain := s.c, 0.0
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
				break
			}
			mu = math.Max(mu*10, 1e-3)
		}
		if gain < 1e-6*best {
			break
		}
		mu /= 10
		next := s.spreadSlope()
		var moved, miss [MaxPerRecipe]float64
		size, missed, along := 0.0, 0.0, 0.0
		for i := range s.n {
			moved[i] = s.c[i] - from[i]
			miss[i] = (next[i] - slope[i]) / 2
		}
		for i := range s.n {
			for k := range s.n {
				miss[i] -= bend[i][k] * moved[k]
			}
			along += miss[i] * moved[i]
			size += moved[i] * moved[i]
			missed += miss[i] * miss[i]
		}
		if math.Abs(along) > 1e-8*math.Sqrt(size*missed) {
			for i := range s.n {
				for k := range s.n {
					bend[i][k] += miss[i] * miss[k] / along
				}
			}
		}
		slope = next
	}
	return best
}

// spreadSlope returns the change of the spread per phr of each pigment, by
// differences. Of a pigment that is not in yet it is steep by what weighing any
// of it costs, so that none stays none. The residuals are those of c afterwards.
func (s *subset) spreadSlope() (slope [MaxPerRecipe]float64) {
	s.residuals(&s.c)
	base := s.spread(&s.c)
	for k := range s.n {
		h := 1e-3*s.c[k] + 1e-5
		t := s.c
		t[k] += h
		s.residuals(&t)
		slope[k] = (s.spread(&t) - base) / h
	}
	s.residuals(&s.c)
	return slope
}
