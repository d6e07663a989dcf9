package layer

import "math"

type place struct{ u, uk, us, v, vk, vs float64 }

// locate computes a layer's place in the table, its cloudiness u and its
// clearness v, both 0..1, with their partials to K and S per mm, for
// e = exp(-q X):
//
//	q^2 = K (2S + K/4), p = S + K/2                              (10)
//	u = S C / (p C + q^2 H), v = 1 / (1 + 4 H (p C + q^2 H))
//	C = cosh(q X/2), H = sinh(q X/2)/q
//
// In the reflectance R and the transmittance T of the two-flux layer of that p
// and q, u = R/(1 - T) and v = T/(2 - T). In these two the exact functions run
// smoothly into every edge: no thickness (v = 1), infinite depth (v = 0), no
// scattering (u = 0), no absorption (u = 1) and, where thickness hides the last
// trace of absorption, the corner of the latter two. v crowds the thin layers,
// whose grazing light bends the most.
func (at *place) locate(k, s, x, e float64) {
	p := s + 0.5*k
	qk, qs := 2*s+0.5*k, 2*k // partials of q^2
	q2 := k * (qk - 0.25*k)
	c, h, m, one, x := even(q2, 0.5*x, e)
	cq := 0.5 * x * h
	a := p*c + q2*h
	aq := p*cq + h + q2*m

	over := 1 / a
	u := s * c * over
	uq, up := (s*cq-u*aq)*over, u*c*over
	at.u = u
	at.uk = uq*qk - 0.5*up
	at.us = uq*qs - up + c*over

	over = 1 / (one + 4*h*a)
	v := one * over
	over *= -4 * v
	vq, vp := (m*a+h*aq)*over, h*c*over
	at.v = v
	at.vk = vq*qk + 0.5*vp
	at.vs = vq*qs + vp
}

// invert answers the layer, as absorption and reduced scattering times
// thickness, that lies at u and v. Infinite depth (v = 0) needs u below 1.
func invert(u, v float64) (absorption, scattering float64) {
	t := 2 * v / (1 + v)
	switch {
	case u <= 0:
		return -math.Log(t), 0 // T = exp(-K X/2)
	case u >= 1:
		return 0, (1/t - 1) * 4 / 3 // T = 1/(1 + S X)
	}
	// With S = 1, K lies between that of infinite depth and that of none.
	c := 1/u - 1
	lo, hi := c*c/(2+c), 2*c
	if v <= 0 {
		return lo / 2 * thickest, 4. / 3 * thickest
	}
	depth := func(k float64) (tanh, q float64) { // tanh(q X/2) that gives u
		q = math.Sqrt(k * (2 + k/4))
		return min((1/u-1-k/2)/q, 1), q
	}
	for range 60 {
		k := (lo + hi) / 2
		tanh, q := depth(k)
		sech2 := 1 - tanh*tanh
		if sech2/(sech2+2*tanh/(q*u)) < t {
			lo = k
		} else {
			hi = k
		}
	}
	tanh, q := depth(hi)
	x := 2 * math.Atanh(tanh) / q
	return hi / 2 * x, x * 4 / 3
}
