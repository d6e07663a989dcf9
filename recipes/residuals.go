package recipes

import (
	"math"
)

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
