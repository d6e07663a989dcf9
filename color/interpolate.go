package color

// sprague divides each interval of evenly spaced values into parts, by the
// fifth-degree polynomial of Sprague (1880) with the end points of CIE
// 167:2005; it needs six values. The result has (len(y)-1)*parts + 1 values.
func sprague(y []float64, parts int) []float64 {
	n := len(y)
	at := func(i int) float64 {
		switch { // (15) CIE 167:2005, end points
		case i == -2:
			return (884*y[0] - 1960*y[1] + 3033*y[2] - 2648*y[3] + 1080*y[4] - 180*y[5]) / 209
		case i == -1:
			return (508*y[0] - 540*y[1] + 488*y[2] - 367*y[3] + 144*y[4] - 24*y[5]) / 209
		case i == n:
			return (508*y[n-1] - 540*y[n-2] + 488*y[n-3] - 367*y[n-4] + 144*y[n-5] - 24*y[n-6]) / 209
		case i == n+1:
			return (884*y[n-1] - 1960*y[n-2] + 3033*y[n-3] - 2648*y[n-4] + 1080*y[n-5] - 180*y[n-6]) / 209
		}
		return y[i]
	}
	out := make([]float64, 0, (n-1)*parts+1)
	for i := range n - 1 {
		p, q, r, s, t, u := at(i-2), at(i-1), at(i), at(i+1), at(i+2), at(i+3)
		c1 := (2*p - 16*q + 16*s - 2*t) / 24
		c2 := (-p + 16*q - 30*r + 16*s - t) / 24
		c3 := (-9*p + 39*q - 70*r + 66*s - 33*t + 7*u) / 24
		c4 := (13*p - 64*q + 126*r - 124*s + 61*t - 12*u) / 24
		c5 := (-5*p + 25*q - 50*r + 50*s - 25*t + 5*u) / 24
		for k := range parts {
			x := float64(k) / float64(parts)
			out = append(out, r+x*(c1+x*(c2+x*(c3+x*(c4+x*c5))))) // (15)
		}
	}
	return append(out, y[n-1])
}

// lagrange gives the first node and the coefficients by which values at
// nodes first, first+1, ... add up to the value at position x (in steps):
// cubic inside, quadratic in the first and last interval, as ASTM E2022.
func lagrange(x float64, nodes int) (first int, c [4]float64) {
	i := min(max(int(x), 0), nodes-2)
	degree := 3
	switch i {
	case 0:
		first, degree = 0, 2
	case nodes - 2:
		first, degree = nodes-3, 2
	default:
		first = i - 1
	}
	for j := 0; j <= degree; j++ {
		c[j] = 1
		for k := 0; k <= degree; k++ {
			if k != j {
				c[j] *= (x - float64(first+k)) / float64(j-k)
			}
		}
	}
	return first, c
}
