package recipes

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
		if c[k] <= 0 {
			continue
		}
		v += s.misweighed(k)
		w2 := s.scatter * s.scatter * c[k] * c[k]
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

// misweighed is what weighing pigment k adds to F, however little of it there
// is, by the last residuals.
func (s *subset) misweighed(k int) float64 {
	w, v := s.b.weigh[s.at[k]], 0.0
	for r := range 3 * len(s.wants) {
		v += w * w * s.j[r][k] * s.j[r][k]
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
