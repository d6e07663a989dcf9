package calibrate

import (
	"fmt"
	"math"

	"masstone/calibrate/layer"
	"masstone/color"
)

// Setting is what a mixture is judged in: how thick, over what, read how.
type Setting struct {
	Thickness ThicknessMM
	Backing   color.Reflectance
	Specular  color.Specular
	// ThicknessSD is how far a casting's thickness misses, a standard deviation.
	ThicknessSD ThicknessMM
	// Aperture is what it is read through; 0 is for that of the chips.
	Aperture ApertureMM
}

// Check returns an error that says what is impossible about the setting.
func (s Setting) Check() error {
	if !(s.Thickness > 0 && s.Thickness < 1e4) {
		return fmt.Errorf("thickness %g mm; give a thickness above 0", float64(s.Thickness))
	}
	if !(s.Aperture >= 0) {
		return fmt.Errorf("aperture of radius %g mm; give a radius, or 0 for that of the chips", float64(s.Aperture))
	}
	if !(s.ThicknessSD >= 0 && s.ThicknessSD < 1e4) {
		return fmt.Errorf("thickness known to %g mm; give its standard deviation, 0 for exact", float64(s.ThicknessSD))
	}
	for b, r := range s.Backing {
		if !(r >= 0 && r <= 1.2) {
			return fmt.Errorf("backing reflects %g at %d nm; give a reflectance factor from 0 to 1", r, color.FirstNM+b*color.StepNM)
		}
	}
	return nil
}

// MaxComponents bounds the pigments in one mixture.
const MaxComponents = 15

// An Evaluator answers for mixtures of one calibration in one setting, without
// allocating. It is not safe for concurrent use; Clone one per goroutine.
type Evaluator struct {
	cal       *Calibration
	setting   Setting
	narrow    float64 // of its aperture, against that of most chips
	weights   []*color.Weights
	backing   [color.Bands]float64
	rows      []float64 // per curve, the directions of its error in K and S themselves: Posterior.Basis, times them
	rowsAt    []int     // where each curve's begin
	zAt       []int     // first z of each curve
	lawAt     int       // and of the law of mixing
	cov       []float64 // full square covariance of z
	width     int
	detail    int // most directions used per curve
	scratch   *evaluatorScratch
	surfaceKM *layer.KubelkaMunk
}

type evaluatorScratch struct {
	k, s       [color.Bands]float64
	partials   layer.Partials
	lab        [3]float64
	jac        [3][color.Bands]float64
	n          int
	pigment    [MaxComponents]int
	phr        [MaxComponents]float64
	goes       [MaxComponents]float64 // how far each goes, by the law of mixing
	slope      [MaxComponents]float64 // and that per phr
	total      float64                // phr
	room       float64                // of scattering, at the total
	spill      [color.Bands]float64
	fieldK     [color.Bands]float64
	fieldS     [color.Bands]float64
	crowds     float64
	covariance covarianceScratch
}

// Evaluator prepares evaluation under the given conditions, the first being
// the main one.
func (c *Calibration) Evaluator(set Setting, under ...color.Condition) (*Evaluator, error) {
	if err := set.Check(); err != nil {
		return nil, err
	}
	if len(under) == 0 {
		under = []color.Condition{c.Main}
	}
	e := &Evaluator{cal: c, setting: set, narrow: set.Aperture.against(c.Aperture), backing: set.Backing, detail: maxRank + lotRank, scratch: new(evaluatorScratch)}
	for _, cond := range under {
		w, err := color.WeightsFor(cond)
		if err != nil {
			return nil, err
		}
		e.weights = append(e.weights, w)
	}
	at, z := 0, 0
	for q, r := range c.Posterior.Rank {
		e.zAt = append(e.zAt, z)
		z += r
		if q == len(c.Curves) {
			break // the surface
		}
		e.rowsAt = append(e.rowsAt, at)
		for i := range r * perCurve {
			v := c.Posterior.Basis[at+i]
			if b := i % perCurve; b < color.Bands {
				v *= c.Curves[q].K[b]
			} else {
				v *= c.Curves[q].S[b-color.Bands]
			}
			e.rows = append(e.rows, v)
		}
		at += r * perCurve
	}
	e.lawAt = z
	z += c.Posterior.Law
	if c.Posterior.Discrepancy != nil {
		e.zAt = append(e.zAt, z)
		z += discrepancyRank
	}
	e.width = z
	e.cov = make([]float64, z*z)
	i := 0
	for a := range z {
		for b := a; b < z; b++ {
			e.cov[a*z+b] = c.Posterior.Cov[i]
			e.cov[b*z+a] = c.Posterior.Cov[i]
			i++
		}
	}
	if km, ok := c.model.(layer.KubelkaMunk); ok && len(c.Posterior.Rank) > len(c.Curves) {
		e.surfaceKM = &km
	}
	return e, nil
}

// Clone returns an evaluator that shares the calibration and has its own
// working memory.
func (e *Evaluator) Clone() *Evaluator {
	c := *e
	c.scratch = new(evaluatorScratch)
	return &c
}

// In returns an evaluator in another setting, with its own working memory. It
// shares what was prepared, so that it costs little beside a new one.
func (e *Evaluator) In(set Setting) (*Evaluator, error) {
	if err := set.Check(); err != nil {
		return nil, err
	}
	c := e.Clone()
	c.setting, c.backing, c.narrow = set, set.Backing, set.Aperture.against(e.cal.Aperture)
	return c, nil
}

// Coarse returns an evaluator with its own working memory that follows only
// the leading directions of each curve's error. Its Covariance costs less; it
// leaves out what the others add to the error and what they take from it.
func (e *Evaluator) Coarse(directions int) *Evaluator {
	c := e.Clone()
	c.detail = directions
	return c
}

// Conditions returns the conditions of the evaluator, the main one first.
func (e *Evaluator) Conditions() []color.Condition {
	out := make([]color.Condition, len(e.weights))
	for i, w := range e.weights {
		out[i] = w.Under
	}
	return out
}

// Set mixes: pigments are curve positions (1 and up) and phr their loadings,
// both of the same length, at most MaxComponents. Loadings below 0 count as 0.
func (e *Evaluator) Set(pigments []int, phr []float64) {
	s := e.scratch
	resin := &e.cal.Curves[0]
	s.k, s.s = resin.K, resin.S
	s.n = len(pigments)
	copy(s.pigment[:], pigments)
	copy(s.phr[:], phr)
	law := &e.cal.Law
	total := 0.0
	for i, q := range pigments {
		c := math.Max(phr[i], 0)
		s.goes[i], s.slope[i] = goes(c, law.exponent(q))
		if c == 0 {
			continue
		}
		total += c
		curve := &e.cal.Curves[q]
		g := s.goes[i]
		for b := range s.k {
			s.k[b] += g * curve.K[b]
			s.s[b] += g * curve.S[b]
		}
	}
	s.total, s.room = total, law.room(total)
	if s.room != 1 {
		for b := range s.s {
			s.s[b] *= s.room
		}
	}
	spill(e.cal.model, &s.k, &s.s, float64(e.setting.Thickness), law.Loss*e.narrow, &e.backing, e.setting.Specular, &s.partials, &s.spill)
	e.cal.Posterior.Discrepancy.apply(&s.partials)
}

// Reflectance returns the reflectance factor of the mixture last set.
func (e *Evaluator) Reflectance() color.Reflectance { return e.scratch.partials.R }

// Lab returns the colour of the mixture last set under condition i.
func (e *Evaluator) Lab(i int) color.Lab {
	return e.weights[i].Lab((*color.Reflectance)(&e.scratch.partials.R))
}

// LabGradient returns L*, a*, b* of the mixture last set under condition i,
// and their derivatives with respect to each pigment's loading (per phr).
// grad must have room for the pigments set.
func (e *Evaluator) LabGradient(i int, grad [][3]float64) [3]float64 {
	s := e.scratch
	e.weights[i].LabWithJacobian((*color.Reflectance)(&s.partials.R), &s.lab, &s.jac)
	crowd := e.cal.Law.Crowding * s.room
	var less [3]float64 // by crowding
	if crowd != 0 {
		for b := range color.Bands {
			r := s.partials.DS[b] * s.s[b] * crowd
			less[0] += s.jac[0][b] * r
			less[1] += s.jac[1][b] * r
			less[2] += s.jac[2][b] * r
		}
	}
	for p, q := range s.pigment[:s.n] {
		curve := &e.cal.Curves[q]
		var d0, d1, d2 float64
		for b := range color.Bands {
			r := s.partials.DK[b]*curve.K[b] + s.partials.DS[b]*curve.S[b]*s.room
			d0 += s.jac[0][b] * r
			d1 += s.jac[1][b] * r
			d2 += s.jac[2][b] * r
		}
		g := s.slope[p]
		grad[p] = [3]float64{g*d0 - less[0], g*d1 - less[1], g*d2 - less[2]}
	}
	return s.lab
}

// Aim prepares Slope: pull is the gradient of some function of the Lab under
// each condition, at the mixture last set.
func (e *Evaluator) Aim(pull [][3]float64) {
	s := e.scratch
	s.fieldK, s.fieldS = [color.Bands]float64{}, [color.Bands]float64{}
	for i, g := range pull {
		e.weights[i].LabWithJacobian((*color.Reflectance)(&s.partials.R), &s.lab, &s.jac)
		for b := range color.Bands {
			w := g[0]*s.jac[0][b] + g[1]*s.jac[1][b] + g[2]*s.jac[2][b]
			s.fieldK[b] += w * s.partials.DK[b]
			s.fieldS[b] += w * s.partials.DS[b] * s.room
		}
	}
	s.crowds = 0
	if crowd := e.cal.Law.Crowding; crowd != 0 {
		for b, v := range s.fieldS {
			s.crowds += v * s.s[b] * crowd
		}
	}
}

// Slope returns how the function given to Aim changes per phr of any pigment
// added to the mixture, in it or not.
func (e *Evaluator) Slope(pigment int) float64 {
	curve, s := &e.cal.Curves[pigment], e.scratch
	sum := 0.0
	for b := range color.Bands {
		sum += s.fieldK[b]*curve.K[b] + s.fieldS[b]*curve.S[b]
	}
	if p := e.cal.Law.exponent(pigment); p != 1 {
		at := 0.0
		for i, q := range s.pigment[:s.n] {
			if q == pigment {
				at = math.Max(s.phr[i], 0)
			}
		}
		_, slope := goes(at, p)
		sum *= slope
	}
	return sum - s.crowds
}
