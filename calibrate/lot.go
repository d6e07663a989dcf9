package calibrate

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"masstone/color"
)

// Strength is what is believed of a lot against the lot that was calibrated:
// how much further its ln K and ln S lie, in every band alike. exp(Ln) - 1 is
// the share by which the lot is stronger.
type Strength struct {
	Ln float64 `json:"ln"`
	SD float64 `json:"sd"` // standard deviation of Ln
}

// lotRank is how many directions of error a lot adds to a curve.
const lotRank = 1

// NewLot returns the calibration for new lots of the named pigments: their
// curves stay where they are, and may all have moved by a common factor whose
// ln has the given standard deviation (0.10 is usual; common practice, no
// source), independent of the rest. The code "" stands for the resin, whose own
// colour drifts from lot to lot likewise. A deviation of 0 changes nothing.
func (c *Calibration) NewLot(drift map[string]float64) (*Calibration, error) {
	lots := make(map[string]Strength, len(drift))
	for code, sd := range drift {
		lots[code] = Strength{SD: sd}
	}
	return c.WithLots(lots)
}

// WithLots returns the calibration for lots about which something is believed
// already, by pigment code ("" for the resin): their curves are moved to the
// believed strength, with its doubt as in NewLot.
func (c *Calibration) WithLots(lots map[string]Strength) (*Calibration, error) {
	out := c.clone()
	for _, code := range slices.Sorted(maps.Keys(lots)) {
		lot := lots[code]
		q := c.Index(code)
		if q == 0 && code != "" {
			return nil, fmt.Errorf("pigment %s is not in this calibration; it knows %v", code, c.Codes())
		}
		if !(lot.SD >= 0 && lot.SD <= 3) || !(math.Abs(lot.Ln) <= 3) {
			return nil, fmt.Errorf("lot of %s: ln strength %g with deviation %g; give numbers within 3, such as 0 and 0.1", naming(code), lot.Ln, lot.SD)
		}
		curve, factor := &out.Curves[q], math.Exp(lot.Ln)
		// what the posterior holds is widened before it is claimed
		sd := lot.SD / out.ModelError.widening()
		for b := range color.Bands {
			curve.K[b] *= factor
			curve.S[b] *= factor
			curve.KSD[b] = math.Hypot(curve.KSD[b], sd)
			curve.SSD[b] = math.Hypot(curve.SSD[b], sd)
		}
		if sd > 0 {
			out.Posterior.drift(q, sd)
		}
	}
	return out, nil
}

// widening is by how much the standard deviations of the posterior are widened
// before they are claimed.
func (m ModelError) widening() float64 {
	if m.Widen > 0 {
		return m.Widen
	}
	return 1
}

// naming is how a curve is called in messages.
func naming(code string) string {
	if code == "" {
		return "the resin"
	}
	return code
}

// clone returns a copy whose curves and posterior may be changed.
func (c *Calibration) clone() *Calibration {
	out := *c
	out.Curves = slices.Clone(c.Curves)
	p := *c.Posterior
	p.Rank, p.Basis, p.Cov = slices.Clone(p.Rank), slices.Clone(p.Basis), slices.Clone(p.Cov)
	if p.Discrepancy != nil {
		d := *p.Discrepancy
		p.Discrepancy = &d
	}
	out.Posterior = &p
	return &out
}

// drift adds to curve q a common shift of ln K and ln S of standard deviation
// sd, independent of all z. A lot's direction stands first among those of its
// curve; where it is there already its variance grows.
func (p *posterior) drift(q int, sd float64) {
	at, row := 0, 0
	for _, r := range p.Rank[:q] {
		at += r
		row += r * perCurve
	}
	if !p.drifts(q) {
		shift := make([]float64, perCurve)
		for i := range shift {
			shift[i] = 1
		}
		old := p.dense()
		p.Basis = slices.Insert(p.Basis, row, shift...)
		p.Rank[q]++
		n := old.SymmetricDim()
		grown := mat.NewSymDense(n+1, nil)
		from := func(i int) int { // old position of a new z
			if i > at {
				return i - 1
			}
			return i
		}
		for i := range n + 1 {
			for k := i; k < n+1; k++ {
				if i != at && k != at {
					grown.SetSym(i, k, old.At(from(i), from(k)))
				}
			}
		}
		p.pack(grown)
	}
	p.Cov[packed(at, at, p.width())] += sd * sd
}

// drifts reports whether curve q has a lot's direction.
func (p *posterior) drifts(q int) bool {
	row := 0
	for _, r := range p.Rank[:q] {
		row += r * perCurve
	}
	if p.Rank[q] == 0 {
		return false
	}
	for _, v := range p.Basis[row : row+perCurve] {
		if v != 1 {
			return false
		}
	}
	return true
}

// width is how many z there are.
func (p *posterior) width() int {
	n := 0
	for _, r := range p.Rank {
		n += r
	}
	n += p.Law
	if p.Discrepancy != nil {
		n += discrepancyRank
	}
	return n
}

// packed is the position of entry i, k (i <= k) among packed upper rows.
func packed(i, k, n int) int { return i*n - i*(i-1)/2 + k - i }

// dense unpacks the covariance.
func (p *posterior) dense() *mat.SymDense {
	n := p.width()
	s := mat.NewSymDense(n, nil)
	for i := range n {
		for k := i; k < n; k++ {
			s.SetSym(i, k, p.Cov[packed(i, k, n)])
		}
	}
	return s
}

// pack installs a covariance of the present width.
func (p *posterior) pack(s *mat.SymDense) {
	n := s.SymmetricDim()
	p.Cov = make(floats, 0, n*(n+1)/2)
	for i := range n {
		for k := i; k < n; k++ {
			p.Cov = append(p.Cov, s.At(i, k))
		}
	}
}

// UsualDrift is how much the strength of a pigment differs from lot to lot, a
// standard deviation of its ln: 0.10, for whites whiteDrift, since a white is
// sold by its hiding. Common practice, no source.
func (c *Calibration) UsualDrift() map[string]float64 {
	out := map[string]float64{}
	for q := range c.Curves[1:] {
		curve := &c.Curves[q+1]
		out[curve.Code] = usualDrift
		if curve.white() {
			out[curve.Code] = whiteDrift
		}
	}
	return out
}

const (
	usualDrift = 0.10
	whiteDrift = 0.05
)

// white reports whether a pigment scatters far more than it absorbs everywhere
// but in the violet: in depth it reflects more than about 0.75.
func (c *Curve) white() bool {
	for b := range color.Bands {
		if color.FirstNM+b*color.StepNM >= 450 && !(c.K[b] < 0.04*c.S[b]) {
			return false
		}
	}
	return true
}
