package calibrate

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"masstone/color"
)

// A Sensitivity is how the reflectance factor of a mixture answers to what the
// calibration does not know, and to what the cup does not say. Rows are bands.
type Sensitivity struct {
	// Blocks lists which entries of Unknowns the columns of Unknown stand for:
	// the resin's, then each pigment's in the order set, then the surface's.
	Blocks    []Block
	Unknown   *mat.Dense           // bands x columns, per standard deviation of the fit
	Loading   *mat.Dense           // bands x pigments set, per phr; nil without pigments
	Thickness [color.Bands]float64 // per mm
	// Casting is per standard deviation of what each casting and reading has of its
	// own: its misses of the law of mixing, its surface, the scale of the reading. It
	// is nil where they have none.
	Casting *mat.Dense // bands x columns
}

// Block is a run of entries of Unknowns.
type Block struct{ First, Len int }

// Sensitivity linearises the mixture last set. It allocates.
func (e *Evaluator) Sensitivity() Sensitivity {
	s := e.scratch
	p, law := e.cal.Posterior, &e.cal.Law
	out := Sensitivity{Thickness: s.partials.DX, Casting: e.casting()}
	columns := 0
	block := func(q int) {
		out.Blocks = append(out.Blocks, Block{e.zAt[q], p.Rank[q]})
		columns += p.Rank[q]
	}
	block(0)
	for _, q := range s.pigment[:s.n] {
		block(q)
	}
	if e.surfaceKM != nil {
		block(len(e.cal.Curves))
	}
	if p.Law > 0 {
		for _, q := range s.pigment[:s.n] {
			out.Blocks = append(out.Blocks, Block{e.lawAt + q - 1, 1})
		}
		out.Blocks = append(out.Blocks, Block{e.lawAt + len(e.cal.Curves) - 1, 2})
		columns += s.n + 2
	}
	out.Unknown = mat.NewDense(color.Bands, max(columns, 1), nil)
	if s.n > 0 {
		out.Loading = mat.NewDense(color.Bands, s.n, nil)
	}
	for b := range color.Bands {
		row, at := out.Unknown.RawRowView(b), 0
		curve := func(q int, c float64) {
			for r := range p.Rank[q] {
				curve := e.rows[e.rowsAt[q]+r*perCurve:]
				row[at] = c * (s.partials.DK[b]*curve[b] + s.partials.DS[b]*curve[color.Bands+b]*s.room)
				at++
			}
		}
		curve(0, 1)
		for i, q := range s.pigment[:s.n] {
			curve(q, s.goes[i])
			out.Loading.Set(b, i, s.slope[i]*(s.partials.DK[b]*e.cal.Curves[q].K[b]+s.partials.DS[b]*e.cal.Curves[q].S[b]*s.room)-
				s.partials.DS[b]*s.s[b]*law.Crowding*s.room)
		}
		if e.surfaceKM != nil {
			row[at], row[at+1] = e.surfaceKM.SurfacePartials(s.partials.R[b], e.setting.Specular)
			at += 2
		}
		if p.Law == 0 {
			continue
		}
		for i, q := range s.pigment[:s.n] {
			f := s.goes[i] * law.exponent(q) * math.Log(math.Max(s.phr[i], 0)+least) * law.Bent * lnExponentSD
			row[at] = f * (s.partials.DK[b]*e.cal.Curves[q].K[b] + s.partials.DS[b]*e.cal.Curves[q].S[b]*s.room)
			at++
		}
		row[at] = -s.partials.DS[b] * s.s[b] * crowdingSD * law.Bent * s.total * s.room
		row[at+1] = s.spill[b] * lossSD * law.Loss * e.narrow
	}
	return out
}

// casting is Sensitivity's Casting of the mixture last set.
func (e *Evaluator) casting() *mat.Dense {
	s, d, n := e.scratch, e.cal.CastingError, e.cal.Noise
	if d == (CastingError{}) && n.OffsetSD == 0 && n.ScaleSD == 0 {
		return nil
	}
	out := mat.NewDense(color.Bands, 2*errorWaves+2, nil)
	waves := waves60()
	for b := range color.Bands {
		row := out.RawRowView(b)
		for i := range waves {
			row[i] = s.partials.DK[b] * s.k[b] * d.K * waves[i][b]
			row[errorWaves+i] = s.partials.DS[b] * s.s[b] * d.S * waves[i][b]
		}
		row[2*errorWaves], row[2*errorWaves+1] = n.OffsetSD, n.ScaleSD*s.partials.R[b]
	}
	return out
}

// Unknowns returns the covariance of what the fit does not know, in the few
// directions per curve in which it is kept.
func (e *Evaluator) Unknowns() *mat.SymDense {
	return mat.NewSymDense(e.width, append([]float64(nil), e.cov...))
}
