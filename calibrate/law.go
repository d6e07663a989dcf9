package calibrate

import "math"

// Law is how the pastes of a calibration depart from a law of mixing that is linear
// in the loading; the zero value is that law. With c in phr and T the total,
//
//	K = K_0 + sum g_i K_i, S = (S_0 + sum g_i S_i) / (1 + Crowding T)     (1)
//	g_i = c_i (c_i + least)^(p_i - 1)
//
// which is c^p but for traces, where a power would go without end.
type Law struct {
	// Bent is how far the law was let go, of 1 for what is usual of pastes that
	// depart from it.
	Bent float64 `json:"bent"`
	// Exponents are p, by curve; that of the resin is 1.
	Exponents []float64 `json:"exponents"`
	// ExponentSD are what the chips leave open of p.
	ExponentSD []float64 `json:"exponent_sd"`
	Crowding   float64   `json:"crowding_per_phr"`
	// Loss is c of the light that scatters past what the instrument sees, of radius
	// r in mm, against what is lost past the aperture of most chips, r0: as if the resin
	// absorbed c (1/r^2 - 1/r0^2) more, over its scattering.
	Loss float64 `json:"aperture_loss,omitempty"`
}

// least is a trace of paste, in phr: about what a scale can still tell. Common
// practice, no source.
const least = 0.01

// goes is how far c phr of a paste of exponent p go, and slope that per phr.
func goes(c, p float64) (g, slope float64) {
	if p == 1 {
		return c, 1
	}
	c = math.Max(c, -least/2)
	f := math.Exp((p - 1) * math.Log(c+least))
	return c * f, f * (1 + (p-1)*c/(c+least))
}

// exponent is that of curve q.
func (l *Law) exponent(q int) float64 {
	if l.Exponents == nil {
		return 1
	}
	return l.Exponents[q]
}

// unknown is the number of unit variance that an exponent is made of.
func (l *Law) unknown(q int) float64 {
	if l.Bent == 0 || q == 0 {
		return 0
	}
	return (math.Log(l.exponent(q))/l.Bent - lnExponent) / lnExponentSD
}

// room is what is left of scattering at a total loading, of 1.
func (l *Law) room(total float64) float64 { return 1 / (1 + l.Crowding*math.Max(total, 0)) }

// structureRank is how many unknowns of a posterior are of the law: an exponent
// per pigment, the crowding, the loss.
func (p *problem) structureRank() int {
	if p.hyper.bent == 0 && p.hyper.loss == 0 {
		return 0
	}
	return p.curves + 1
}

// law reads the law off x, and the unknowns of its posterior in their order.
func (p *problem) law(x state) (Law, []int) {
	if p.structureRank() == 0 {
		return Law{}, nil
	}
	l := Law{Bent: p.hyper.bent, Exponents: []float64{1}, ExponentSD: make([]float64, p.curves)}
	var at []int
	for q := 1; q < p.curves; q++ {
		at = append(at, p.start[q]+perCurve)
		l.Exponents = append(l.Exponents, p.hyper.exponent(x[p.start[q]+perCurve]))
	}
	l.Crowding, l.Loss = p.hyper.crowding(x[p.crowd]), p.hyper.lost(x[p.loss])
	return l, append(at, p.crowd, p.loss)
}
