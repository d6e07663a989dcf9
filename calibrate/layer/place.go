package layer

import "math"

// place is where a layer lies in the table, its cloudiness u and its clearness v,
// both 0..1, with their partials to K and S per mm:
//
//	q^2 = K (2S + K/4), p = S + K/2                              (10)
//	u = S / (p + q t), v = 1 / (1 + 4 (t/q) (p + q t) / (1 - t^2))
//	t = tanh(q X/2)
//
// In the reflectance R and the transmittance T of the two-flux layer of that p
// and q, u = R/(1 - T) and v = T/(2 - T). In these two the exact functions run
// smoothly into every edge: no thickness (v = 1), infinite depth (v = 0), no
// scattering (u = 0), no absorption (u = 1) and, where thickness hides the last
// trace of absorption, the corner of the latter two. v crowds the thin layers,
// whose grazing light bends the most.
type place struct{ u, uk, us, v, vk, vs float64 }

// decay is q of (10), what the light decays with per mm in the depth.
func decay(k, s float64) float64 { return math.Sqrt(k * (2*s + 0.25*k)) }

// locate takes K and S, both above 0, X and 1/X, z = q X and e = exp(-z).
func (at *place) locate(k, s, x, perX, z, e float64) {
	half := 0.5 * x
	p := s + 0.5*k
	qk, qs := 2*s+0.5*k, 2*k // partials of w = q^2
	w := k * (qk - 0.25*k)
	var g, gw, a float64 // g = t/q, its partial to w, a = 1 - t^2
	if y := 0.25 * z * z; y < 1.0/64 {
		g = half * (1 + y*(-1./3+y*(2./15+y*(-17./315+y*(62./2835+y*(-1382./155925+y*(21844./6081075)))))))
		gw = half * half * half * (-1./3 + y*(4./15+y*(-51./315+y*(248./2835+y*(-6910./155925+y*(131064./6081075))))))
		a = 1 - w*g*g
	} else {
		over := 1 / ((1 + e) * w)
		once := over * w
		g = (1 - e) * over * (z * perX)
		a = 4 * e * once * once
		gw = 0.5 * (half*a - g) * over * (1 + e)
	}
	d := p + w*g
	dw := 0.5 * (g + half*a)

	over := 1 / d
	at.u = s * over
	up := at.u * over
	uw := up * dw
	at.uk = -uw*qk - 0.5*up
	at.us = over - uw*qs - up

	over = 1 / (a + 4*g*d)
	v := a * over
	at.v = v
	over *= -4 * v
	vw := (gw*d + g*(dw+g*d*half)) * over // da/dw = -g a X/2
	vp := g * over
	at.vk = vw*qk + 0.5*vp
	at.vs = vw*qs + vp
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
