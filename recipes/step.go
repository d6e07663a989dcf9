package recipes

import (
	"math"
)

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
