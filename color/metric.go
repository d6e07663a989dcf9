package color

import "math"

// Metric00 gives the symmetric matrix M for which CIEDE2000 squared is d' M d
// for a small offset d = (dL*, da*, db*) from std (11). It turns least squares
// in Lab into least squares in CIEDE2000.
func Metric00(std [3]float64) [3][3]float64 {
	g := 1 + 0.5*(1-chromaShare(math.Hypot(std[1], std[2])))
	a, b := g*std[1], std[2]
	c := math.Sqrt(a*a + b*b)
	sl, sc, sh, rt := tolerances00(std[0], c, turn(math.Atan2(b, a)))
	cos, sin := 1.0, 0.0 // at the neutral axis every direction is alike
	if c > 0 {
		cos, sin = a/c, b/c
	}
	// Rows: dC/SC and dH/SH by da* and db*.
	ca, cb := g*cos/sc, sin/sc
	ha, hb := -g*sin/sh, cos/sh
	var m [3][3]float64
	m[0][0] = 1 / (sl * sl)
	m[1][1] = ca*ca + ha*ha + rt*ca*ha
	m[2][2] = cb*cb + hb*hb + rt*cb*hb
	m[1][2] = ca*cb + ha*hb + rt*(ca*hb+cb*ha)/2
	m[2][1] = m[1][2]
	return m
}
