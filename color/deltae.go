package color

import "math"

// Delta76 is the CIE 1976 colour difference of raw L*, a*, b* (ISO/CIE 11664-4).
func Delta76(std, sample [3]float64) float64 {
	dl, da, db := sample[0]-std[0], sample[1]-std[1], sample[2]-std[2]
	return math.Sqrt(dl*dl + da*da + db*db) // (7)
}

// Delta94 is the CIE 1994 colour difference (CIE 116-1995) with the weights of
// graphic arts, or of textiles. The chroma of std sets the tolerances, so the
// two colours are not interchangeable.
func Delta94(std, sample [3]float64, textile bool) float64 {
	kl, k1, k2 := 1.0, 0.045, 0.015
	if textile {
		kl, k1, k2 = 2, 0.048, 0.014
	}
	c := math.Hypot(std[1], std[2])
	dl, dc, dh := parts(std, sample)
	dl /= kl
	dc /= 1 + k1*c
	dh /= 1 + k2*c
	return math.Sqrt(dl*dl + dc*dc + dh*dh) // (8)
}

// DeltaCMC is the CMC(l:c) colour difference (ISO 105-J03). The tolerances are
// those of std, so the two colours are not interchangeable. l and c divide the
// lightness and chroma parts: 2, 1 for acceptability, 1, 1 for perceptibility.
func DeltaCMC(std, sample [3]float64, l, c float64) float64 {
	c1, h1 := math.Hypot(std[1], std[2]), hueDegrees(std[1], std[2])
	sl := 0.511
	if std[0] >= 16 {
		sl = 0.040975 * std[0] / (1 + 0.01765*std[0])
	}
	sc := 0.0638*c1/(1+0.0131*c1) + 0.638
	c4 := c1 * c1 * c1 * c1
	f := math.Sqrt(c4 / (c4 + 1900))
	t := 0.36 + math.Abs(0.4*math.Cos((h1+35)*math.Pi/180))
	if h1 >= 164 && h1 <= 345 {
		t = 0.56 + math.Abs(0.2*math.Cos((h1+168)*math.Pi/180))
	}
	sh := sc * (f*t + 1 - f)
	dl, dc, dh := parts(std, sample)
	dl /= l * sl
	dc /= c * sc
	dh /= sh
	return math.Sqrt(dl*dl + dc*dc + dh*dh) // (9)
}

// parts gives the signed lightness, chroma and hue difference, sample less
// std. The hue difference is positive for a turn against the clock (red to
// yellow to green) and keeps its accuracy for the smallest turns.
func parts(std, sample [3]float64) (dl, dc, dh float64) {
	a1, b1, a2, b2 := std[1], std[2], sample[1], sample[2]
	c1, c2 := math.Hypot(a1, b1), math.Hypot(a2, b2)
	cross, dot := a1*b2-a2*b1, a1*a2+b1*b2
	switch {
	case c1*c2 == 0: // a neutral has no hue
	case dot > 0:
		dh = cross / math.Sqrt((c1*c2+dot)/2) // (7) Seve 1991
	default: // past a quarter turn his divisor tends to 0
		dh = math.Copysign(math.Sqrt(2*(c1*c2-dot)), cross)
	}
	return sample[0] - std[0], c2 - c1, dh
}

const to7 = 25.0 * 25 * 25 * 25 * 25 * 25 * 25

func chromaShare(c float64) float64 {
	c7 := c * c * c
	c7 *= c7 * c
	return math.Sqrt(c7 / (c7 + to7))
}

// Delta00 is the CIEDE2000 colour difference (ISO/CIE 11664-6; Sharma, Wu,
// Dalal 2005) of raw L*, a*, b*, with kL = kC = kH = 1. It is symmetric and
// allocates nothing. Hues exactly half a turn apart, which the formula leaves
// to rounding, take the mean of the two angles as they stand.
func Delta00(std, sample [3]float64) float64 {
	c := (math.Hypot(std[1], std[2]) + math.Hypot(sample[1], sample[2])) / 2
	g := 1 + 0.5*(1-chromaShare(c))
	a1, a2 := g*std[1], g*sample[1]
	b1, b2 := std[2], sample[2]
	c1, c2 := math.Sqrt(a1*a1+b1*b1), math.Sqrt(a2*a2+b2*b2)

	// Mean hue and half the hue difference, in radians.
	var hue, half float64
	switch h1, h2 := turn(math.Atan2(b1, a1)), turn(math.Atan2(b2, a2)); {
	case c1 == 0: // a neutral has no hue, the other counts alone
		hue = h2
	case c2 == 0:
		hue = h1
	default:
		d := h2 - h1
		hue, half = (h1+h2)/2, d/2
		if math.Abs(d) > math.Pi+halfTurnSlack {
			hue = turn(hue - math.Pi)
			half -= math.Copysign(math.Pi, d)
		}
	}
	sl, sc, sh, rt := tolerances00((std[0]+sample[0])/2, (c1+c2)/2, hue)
	l := (sample[0] - std[0]) / sl
	dc := (c2 - c1) / sc
	dh := 2 * math.Sqrt(c1*c2) * math.Sin(half) / sh
	return math.Sqrt(max(0, l*l+dc*dc+dh*dh+rt*dc*dh)) // (10)
}

// Two hues half a turn apart differ from pi by rounding only.
const halfTurnSlack = 1e-12

// turn brings an angle from -pi to pi into 0 to 2 pi.
func turn(h float64) float64 {
	if h < 0 {
		return h + 2*math.Pi
	}
	return h
}

// The constants of T and of the rotation, angles as sines and cosines.
var (
	sin30, cos30 = math.Sincos(30 * math.Pi / 180)
	sin6, cos6   = math.Sincos(6 * math.Pi / 180)
	sin63, cos63 = math.Sincos(63 * math.Pi / 180)
)

// tolerances00 gives SL, SC, SH and RT of CIEDE2000 at mean lightness l, mean
// chroma c (with a* stretched) and mean hue, 0 to 2 pi.
func tolerances00(l, c, hue float64) (sl, sc, sh, rt float64) {
	s1, c1 := math.Sincos(hue)
	s2, c2 := 2*s1*c1, c1*c1-s1*s1
	s3, c3 := s2*c1+c2*s1, c2*c1-s2*s1
	s4, c4 := 2*s2*c2, c2*c2-s2*s2
	t := 1 - 0.17*(c1*cos30+s1*sin30) + 0.24*c2 + 0.32*(c3*cos6-s3*sin6) - 0.20*(c4*cos63+s4*sin63)
	l50 := (l - 50) * (l - 50)
	sl = 1 + 0.015*l50/math.Sqrt(20+l50)
	sc = 1 + 0.045*c
	sh = 1 + 0.015*c*t
	if c == 0 {
		return sl, sc, sh, 0
	}
	away := (hue*180/math.Pi - 275) / 25
	twist := 60 * math.Pi / 180 * math.Exp(-away*away) // 2 x 30 degrees
	rt = -2 * chromaShare(c) * math.Sin(twist)
	return sl, sc, sh, rt
}
