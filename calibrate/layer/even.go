package layer

import "math"

// deep is the z beyond which the far side of a layer is out of sight.
const deep = 40

// even returns the even functions of z = q X that a layer is made of, for q^2, X
// and e = exp(-2 min(z, deep)). Written in these nothing divides by q, K, S or X
// where they vanish:
//
//	c   = cosh z; its derivative to q^2 is X h / 2
//	h   = sinh z / q
//	m   = the derivative of h to q^2
//	one = 1 = c^2 - q^2 h^2
//
// Once z is not small c, h and m are divided by e^z, and one by its square, so
// only ratios have a meaning. deepX is X, or what stands for it in a layer too
// deep to see through.
func even(q2, x, e float64) (c, h, m, one, deepX float64) {
	if v := q2 * x * x; v < 1.0/16 {
		c = 1 + v*(1./2+v*(1./24+v*(1./720+v*(1./40320+v*(1./3628800)))))
		h = x * (1 + v*(1./6+v*(1./120+v*(1./5040+v*(1./362880+v*(1./39916800))))))
		m = x * x * x * (1./6 + v*(1./60+v*(1./1680+v*(1./90720+v*(1./7983360+v*(1./1037836800))))))
		return c, h, m, 1, x
	}
	q := math.Sqrt(q2)
	inverse := 1 / q
	if q*x > deep {
		x = deep * inverse
	}
	c, h = 0.5+0.5*e, (0.5-0.5*e)*inverse
	return c, h, 0.5 * (x*c - h) * inverse * inverse, e, x
}
