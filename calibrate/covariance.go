package calibrate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"

	"masstone/color"
)

// covarianceScratch is an Evaluator's working memory for the covariance of a
// colour: the parts of a mixture whose error shows in it, and how.
type covarianceScratch struct {
	field [3][perCurve]float64 // how L*, a*, b* answer to K, then S, of each band
	z     [3][mostErrors]float64
	cz    [mostErrors]float64
	parts int
	from  [mostParts]int // first z of each part
	len   [mostParts]int
	n     int // z of all parts

	// The parts' square of the covariance of all z, and which parts it is of: a
	// mixture is mostly asked about again with other loadings, or another last
	// pigment.
	block   []float64
	blockOf []int
}

// The parts are the resin, the pigments, the surface, the law of mixing (what all
// pigments share, then each one's exponent) and the discrepancy.
const (
	mostParts  = 2*MaxComponents + 4
	mostErrors = (MaxComponents+1)*(maxRank+lotRank) + 2 + MaxComponents + 2 + discrepancyRank
)

// begin adds a part of n errors from z on, and returns where their slopes go.
func (d *covarianceScratch) begin(z, n int) (at int) {
	at = d.n
	d.from[d.parts], d.len[d.parts] = z, n
	d.parts++
	d.n += n
	return at
}

// Covariance returns what the calibration leaves uncertain of the Lab under
// the condition of the last LabGradient, model error included: the covariance
// of L*, a*, b*.
func (e *Evaluator) Covariance() [3][3]float64 {
	s := e.scratch
	w := &s.covariance
	w.parts, w.n = 0, 0
	for t := range 3 {
		for b, j := range s.jac[t] {
			w.field[t][b] = j * s.partials.DK[b]
			w.field[t][color.Bands+b] = j * s.partials.DS[b] * s.room
		}
	}
	e.curveErrors(0, 1)
	if e.surfaceKM != nil {
		at := w.begin(e.zAt[len(e.cal.Curves)], 2)
		for t := range 3 {
			w.z[t][at], w.z[t][at+1] = 0, 0
		}
		for b := range color.Bands {
			d1, d2 := e.surfaceKM.SurfacePartials(s.partials.R[b], e.setting.Specular)
			for t := range 3 {
				w.z[t][at] += s.jac[t][b] * d1
				w.z[t][at+1] += s.jac[t][b] * d2
			}
		}
	}
	if d := e.cal.Posterior.Discrepancy; d != nil {
		at := w.begin(e.zAt[len(e.zAt)-1], discrepancyRank)
		for r := range discrepancyRank {
			for t := range 3 {
				w.z[t][at+r] = d.slope(r, &s.jac[t], &s.partials.R)
			}
		}
	}
	for i, q := range s.pigment[:s.n] {
		if s.phr[i] > 0 {
			e.curveErrors(q, s.goes[i])
		}
	}
	if e.cal.Posterior.Law > 0 {
		e.lawErrors()
	}
	casting := e.missed()
	if w.n == 0 {
		return e.cal.ModelError.widen(casting, s.lab)
	}
	e.gather()
	square := blas64.General{Rows: w.n, Cols: w.n, Stride: w.n, Data: w.block}
	var out [3][3]float64
	for t := range 3 {
		cz := vector(w.cz[:w.n])
		blas64.Gemv(blas.NoTrans, 1, square, vector(w.z[t][:w.n]), 0, cz)
		for u := range t + 1 {
			out[t][u] = blas64.Dot(cz, vector(w.z[u][:w.n]))
			out[u][t] = out[t][u]
		}
	}
	return e.cal.ModelError.widen(plus(out, casting), s.lab)
}

// missed is what a casting's own errors add to the covariance of its colour: its
// miss of the law of mixing, its thickness, its surface and the scale of its
// reading.
func (e *Evaluator) missed() (out [3][3]float64) {
	s, d, n := e.scratch, e.cal.CastingError, &e.cal.Noise
	add := func(band func(b int) float64) {
		var z [3]float64
		for b := range color.Bands {
			v := band(b)
			for t := range z {
				z[t] += s.jac[t][b] * v
			}
		}
		for t := range 3 {
			for u := range 3 {
				out[t][u] += z[t] * z[u]
			}
		}
	}
	if sd := float64(e.setting.ThicknessSD); sd > 0 {
		add(func(b int) float64 { return s.partials.DX[b] * sd })
	}
	if n.OffsetSD > 0 {
		add(func(b int) float64 { return n.OffsetSD })
	}
	if n.ScaleSD > 0 {
		add(func(b int) float64 { return n.ScaleSD * s.partials.R[b] })
	}
	if d.K == 0 && d.S == 0 {
		return out
	}
	waves := waves60()
	for i := range waves {
		add(func(b int) float64 { return s.partials.DK[b] * s.k[b] * d.K * waves[i][b] })
		add(func(b int) float64 { return s.partials.DS[b] * s.s[b] * d.S * waves[i][b] })
	}
	return out
}

func plus(a, b [3][3]float64) [3][3]float64 {
	for i := range a {
		for j := range a[i] {
			a[i][j] += b[i][j]
		}
	}
	return a
}

// curveErrors adds curve q at c phr: how L*, a*, b* answer to its errors.
func (e *Evaluator) curveErrors(q int, c float64) {
	w := &e.scratch.covariance
	n := min(e.cal.Posterior.Rank[q], e.detail)
	if n == 0 {
		return
	}
	at := w.begin(e.zAt[q], n)
	rows := blas64.General{Rows: n, Cols: perCurve, Stride: perCurve, Data: e.rows[e.rowsAt[q] : e.rowsAt[q]+n*perCurve]}
	for t := range 3 {
		blas64.Gemv(blas.NoTrans, c, rows, vector(w.field[t][:]), 0, vector(w.z[t][at:at+n]))
	}
}

// lawErrors adds how L*, a*, b* answer to the errors of the law of mixing.
func (e *Evaluator) lawErrors() {
	s, law, w := e.scratch, &e.cal.Law, &e.scratch.covariance
	shared := e.lawAt + len(e.cal.Curves) - 1
	at := w.begin(shared, 2)
	crowd, loss := crowdingSD*law.Bent*s.total*s.room, lossSD*law.Loss*e.narrow
	for t := range 3 {
		w.z[t][at], w.z[t][at+1] = 0, 0
		for b, j := range s.jac[t] {
			w.z[t][at] -= j * s.partials.DS[b] * s.s[b] * crowd
			if loss != 0 {
				w.z[t][at+1] += j * s.spill[b] * loss
			}
		}
	}
	for i, q := range s.pigment[:s.n] {
		if s.phr[i] <= 0 {
			continue
		}
		at, curve := w.begin(e.lawAt+q-1, 1), &e.cal.Curves[q]
		f := s.goes[i] * law.exponent(q) * math.Log(s.phr[i]+least) * law.Bent * lnExponentSD
		for t := range 3 {
			sum := 0.0
			for b := range color.Bands {
				sum += w.field[t][b]*curve.K[b] + w.field[t][color.Bands+b]*curve.S[b]
			}
			w.z[t][at] = sum * f
		}
	}
}

func vector(v []float64) blas64.Vector { return blas64.Vector{N: len(v), Inc: 1, Data: v} }

// gather brings together the covariance of the parts' errors.
func (e *Evaluator) gather() {
	w := &e.scratch.covariance
	same := 0 // leading parts that the block holds already
	if len(w.block) == w.n*w.n {
		for same < min(w.parts, len(w.blockOf)) && w.blockOf[same] == w.from[same] {
			same++
		}
	}
	if same == w.parts {
		return
	}
	w.blockOf = append(w.blockOf[:0], w.from[:w.parts]...)
	w.block = slices.Grow(w.block[:0], w.n*w.n)[:w.n*w.n]
	held := 0
	for _, n := range w.len[:same] {
		held += n
	}
	i := 0
	for a := range w.parts {
		first, at := 0, 0
		if a < same {
			first, at = same, held
		}
		for k := range w.len[a] {
			row, into := e.cov[(w.from[a]+k)*e.width:], w.block[i*w.n+at:]
			for b := first; b < w.parts; b++ {
				into = into[copy(into, row[w.from[b]:w.from[b]+w.len[b]]):]
			}
			i++
		}
	}
}

// widen applies the model error to a covariance of Lab at lab.
func (m ModelError) widen(cov [3][3]float64, lab [3]float64) [3][3]float64 {
	w := m.Widen * m.Widen
	for i := range cov {
		for j := range cov[i] {
			cov[i][j] *= w
		}
	}
	if m.Floor > 0 {
		floor := inverse3(color.Metric00(lab))
		for i := range cov {
			for j := range cov[i] {
				cov[i][j] += m.Floor * m.Floor * floor[i][j]
			}
		}
	}
	return cov
}

// inverse3 inverts a symmetric positive 3 x 3 matrix.
func inverse3(m [3][3]float64) [3][3]float64 {
	a, b, c := m[0][0], m[0][1], m[0][2]
	d, e, f := m[1][1], m[1][2], m[2][2]
	A, B, C := d*f-e*e, c*e-b*f, b*e-c*d
	inv := 1 / (a*A + b*B + c*C)
	D, E, F := a*f-c*c, b*c-a*e, a*d-b*b
	return [3][3]float64{
		{A * inv, B * inv, C * inv},
		{B * inv, D * inv, E * inv},
		{C * inv, E * inv, F * inv},
	}
}
