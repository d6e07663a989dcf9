package calibrate

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"

	"masstone/calibrate/layer"
	"masstone/color"
)

// columns is the Jacobian of a casting's readings by one block of unknowns: of a
// curve, or of what all share. A band of a spectrum answers to K and S of that
// band only.
type columns struct {
	block int
	k, s  []float64 // per row, by ln K and ln S of the row's band; nil where dense holds them
	dense blas64.General
	at    int // unknown of the block where the dense columns begin
	// M times dense, M the weight of the casting
	weighed blas64.General
}

// A linear is a casting's readings linearised at some x, in units of their noise,
//
//	y - f = r - J dx - U u                                      (4)
//
// with u the casting's own unknowns, of unit variance. Without u the readings
// have covariance C = I + U U', so J' C^-1 J is what they say of x, and what is
// then said of u is
//
//	u = U' C^-1 (r - J dx),  its covariance given x I - U' C^-1 U      (5)
//
// Here r is what the readings leave were u = 0.
type linear struct {
	n      int
	band   []int     // per row, of a spectrum; -1 of a colour
	miss   []float64 // y - f
	r      []float64
	own    blas64.General // U, n x own
	curves []columns
	shared columns
	m      blas64.Symmetric // C^-1, full
	logDet float64          // ln det C
	noise  float64          // sum of ln of the noise's variance
	mr     []float64        // M r
	spread []float64        // J H^-1 J', n x n, once asked for
	buffer []float64
	used   int
	work   workspace // to linearise with
}

// take returns n zeroed numbers of the buffer.
func (l *linear) take(n int) []float64 {
	if l.used+n > len(l.buffer) {
		l.buffer = make([]float64, max(2*len(l.buffer), l.used+n, 4096))
		l.used = 0
	}
	out := l.buffer[l.used : l.used+n : l.used+n]
	l.used += n
	clear(out)
	return out
}

func (l *linear) matrix(rows, cols int) blas64.General {
	return blas64.General{Rows: rows, Cols: cols, Stride: max(cols, 1), Data: l.take(rows * max(cols, 1))}
}

// all lists the Jacobian's blocks.
func (l *linear) all(do func(c *columns)) {
	for i := range l.curves {
		do(&l.curves[i])
	}
	do(&l.shared)
}

// sharedCount is how many unknowns all castings share.
func (p *problem) sharedCount() int { return p.n - p.start[p.curves] }

// jacobian linearises readings of one casting, of own unknowns own from from on.
func (p *problem) jacobian(l *linear, readings []*reading, from, own int, x state, w *workspace) {
	l.used, l.n, l.noise, l.spread = 0, 0, 0, nil
	l.band, l.curves = l.band[:0], l.curves[:0]
	spectra := true
	for _, r := range readings {
		l.n += r.rows()
		spectra = spectra && r.chip.Spectrum != nil
	}
	l.miss, l.r, l.mr = l.take(l.n), l.take(l.n), l.take(l.n)
	l.own = l.matrix(l.n, own)
	for _, q := range readings[0].curve {
		c := columns{block: q}
		width := perCurve
		if q > 0 {
			width++
		}
		if spectra {
			c.k, c.s = l.take(l.n), l.take(l.n)
			c.at = perCurve
			width -= perCurve
		}
		c.dense = l.matrix(l.n, width)
		l.curves = append(l.curves, c)
	}
	l.shared = columns{block: p.curves, dense: l.matrix(l.n, p.sharedCount())}
	row := 0
	for _, r := range readings {
		p.reflect(r, x, w)
		if r.chip.Spectrum != nil {
			p.spectrumRows(l, r, row, from, x, w)
		} else {
			p.colourRows(l, r, row, from, x, w)
		}
		row += r.rows()
	}
}

// spectrumRows fills the rows of a spectrum.
func (p *problem) spectrumRows(l *linear, r *reading, row, from int, x state, w *workspace) {
	per := r.trust / p.unit(r)
	l.noise -= 2 * color.Bands * math.Log(per)
	p.slopes(r, x, w, p.scaling(r, x), func(b int, c *change) {
		i := row + b
		l.miss[i] = (r.chip.Spectrum[b] - w.partials.R[b]) * per
		for k := range r.curve {
			q := &l.curves[k]
			if q.k != nil {
				q.k[i], q.s[i] = c.k[k]*per, c.s[k]*per
			} else {
				q.dense.Data[i*q.dense.Stride+b] = c.k[k] * per
				q.dense.Data[i*q.dense.Stride+color.Bands+b] = c.s[k] * per
			}
			if q.block > 0 {
				q.dense.Data[i*q.dense.Stride+perCurve-q.at] = c.exponent[k] * per
			}
		}
		for k, v := range c.shared {
			l.shared.dense.Data[i*l.shared.dense.Stride+k] = v * per
		}
		own := l.own.Data[i*l.own.Stride : i*l.own.Stride+l.own.Cols]
		c.owns(p, r, from, func(e int, v float64) { own[e] = v * per })
		l.band = append(l.band, b)
	})
}

// scaling is what a reading is multiplied by at x.
func (p *problem) scaling(r *reading, x state) float64 {
	if r.off < 0 {
		return 1
	}
	return 1 + p.hyper.scale*x[p.n+r.off]
}

// colourRows fills the rows of colours.
func (p *problem) colourRows(l *linear, r *reading, row, from int, x state, w *workspace) {
	per := r.trust / p.unit(r)
	l.noise -= 2 * float64(r.rows()) * math.Log(per)
	for len(w.jacs) < len(r.weights) {
		w.jacs = append(w.jacs, [3][color.Bands]float64{})
	}
	for j, weights := range r.weights {
		weights.LabWithJacobian((*color.Reflectance)(&w.partials.R), &w.lab, &w.jacs[j])
		for t, m := range r.chip.Labs[j].Values() {
			l.miss[row+3*j+t] = (m - w.lab[t]) * per
			l.band = append(l.band, -1)
		}
	}
	p.slopes(r, x, w, p.scaling(r, x), func(b int, c *change) {
		for n := range r.rows() {
			i, by := row+n, w.jacs[n/3][n%3][b]*per
			for k := range r.curve {
				q := &l.curves[k]
				at := q.dense.Data[i*q.dense.Stride:]
				at[b] += c.k[k] * by
				at[color.Bands+b] += c.s[k] * by
				if q.block > 0 {
					at[perCurve] += c.exponent[k] * by
				}
			}
			for k, v := range c.shared {
				l.shared.dense.Data[i*l.shared.dense.Stride+k] += v * by
			}
			own := l.own.Data[i*l.own.Stride : i*l.own.Stride+l.own.Cols]
			c.owns(p, r, from, func(e int, v float64) { own[e] += v * by })
		}
	})
}

// change is how the reflectance factor of one band answers to the unknowns: per
// component to ln K, ln S and exponent, to what all share, and to what is the
// casting's own.
type change struct {
	band         int
	k, s         [MaxComponents + 1]float64
	exponent     [MaxComponents + 1]float64
	loading      [MaxComponents + 1]float64 // per phr
	shared       []float64
	sharedRoom   [4]float64
	dk, ds       float64 // to ln K and ln S of the mixture
	dx           float64
	scale, shift float64
}

// owns calls set with what the band answers to each of the casting's own unknowns,
// counted from from.
func (c *change) owns(p *problem, r *reading, from int, set func(e int, v float64)) {
	for k, e := range r.border {
		if e >= 0 {
			set(e-from, c.loading[k]*r.loadingSD[k])
		}
	}
	if r.thick >= 0 {
		set(r.thick-from, c.dx*r.thicknessSD)
	}
	if r.waves >= 0 && (p.hyper.k > 0 || p.hyper.s > 0) {
		dk, ds := c.dk*p.hyper.k, c.ds*p.hyper.s
		waves := waves60()
		for i := range waves {
			v := waves[i][c.band]
			set(r.waves-from+i, dk*v)
			set(r.waves-from+errorWaves+i, ds*v)
		}
	}
	if r.off >= 0 && (p.hyper.scale > 0 || p.hyper.offset > 0) {
		set(r.off-from, c.scale)
		set(r.off-from+1, c.shift)
	}
}

// slopes calls do for every band with how the reading, as reflect left it,
// answers there. factor is that of its scale.
func (p *problem) slopes(r *reading, x state, w *workspace, factor float64, do func(b int, c *change)) {
	var c change
	c.shared = c.sharedRoom[:p.sharedCount()]
	room := 1 / (1 + w.crowd*math.Max(w.total, 0))
	bend := p.hyper.bent * lnExponentSD
	surface, twoFlux := w.layer.(layer.KubelkaMunk)
	for b := range color.Bands {
		c.band = b
		rk, rs := w.partials.DK[b]*factor, w.partials.DS[b]*factor
		if w.k[b] == faintest { // held there by mix
			rk = 0
		}
		if w.s[b] == faintest {
			rs = 0
		}
		c.dk, c.ds = rk*w.k[b], rs*w.s[b]
		for i, q := range r.curve {
			c.k[i], c.s[i] = rk*w.ki[i][b], rs*w.si[i][b]
			both := c.k[i] + c.s[i]
			c.loading[i] = both*w.answers[i] - c.ds*w.crowd*room
			c.exponent[i] = 0
			if q > 0 {
				c.exponent[i] = both * w.power[q] * w.traces[i] * bend
			}
		}
		c.shared[p.crowd-p.start[p.curves]] = -c.ds * w.total * room * p.hyper.bent * crowdingSD
		if w.crowd == leastCrowding {
			c.shared[p.crowd-p.start[p.curves]] = 0
		}
		c.shared[p.loss-p.start[p.curves]] = w.spill[b] * factor * w.lost * r.narrow * lossSD
		if w.lost*r.narrow == 0 {
			c.shared[p.loss-p.start[p.curves]] = 0
		}
		if p.k1 >= 0 && twoFlux {
			bare := w.partials.R[b]
			if r.off >= 0 {
				bare = (bare - p.hyper.offset*x[p.n+r.off+1]) / factor
			}
			d1, d2 := surface.SurfacePartials(bare, r.chip.Measurement.Specular)
			c.shared[p.k1-p.start[p.curves]], c.shared[p.k2-p.start[p.curves]] = p.surface.K1SD*d1*factor, p.surface.K2SD*d2*factor
		}
		c.dx = w.partials.DX[b] * factor
		c.scale, c.shift = 0, 0
		if r.off >= 0 {
			c.scale = (w.partials.R[b] - p.hyper.offset*x[p.n+r.off+1]) / factor * p.hyper.scale
			c.shift = p.hyper.offset
		}
		do(b, &c)
	}
}

// weigh takes the casting's own unknowns, u at present, out of its readings.
func (l *linear) weigh(u []float64) bool {
	n := l.n
	copy(l.r, l.miss)
	if l.own.Cols > 0 {
		blas64.Gemv(blas.NoTrans, 1, l.own, vector(u), 1, vector(l.r))
	}
	l.m = blas64.Symmetric{N: n, Stride: n, Uplo: blas.Lower, Data: l.take(n * n)}
	if 3*l.own.Cols < n {
		if !l.narrow() {
			return false
		}
	} else {
		blas64.Syrk(blas.NoTrans, 1, l.own, 0, l.m)
		for i := range n {
			l.m.Data[i*n+i]++
		}
		if !l.invert() {
			return false
		}
	}
	blas64.Symv(1, l.m, vector(l.r), 0, vector(l.mr))
	return true
}

// weighAll sets M times what is dense of the Jacobian.
func (l *linear) weighAll() {
	l.all(func(c *columns) {
		c.weighed = l.matrix(l.n, c.dense.Cols)
		if c.dense.Cols > 0 {
			blas64.Symm(blas.Left, 1, l.m, c.dense, 0, c.weighed)
		}
	})
}

// narrow sets M where the casting has few unknowns of its own: with A A' = I + U'U
//
//	M = I - (U A^-T) (U A^-T)'
//
// (Woodbury).
func (l *linear) narrow() bool {
	n, own := l.n, l.own.Cols
	l.logDet = 0
	if own > 0 {
		a := blas64.Symmetric{N: own, Stride: own, Uplo: blas.Lower, Data: l.take(own * own)}
		blas64.Syrk(blas.Trans, 1, l.own, 0, a)
		for i := range own {
			a.Data[i*own+i]++
		}
		factor, ok := lapack64.Potrf(a)
		if !ok {
			return false
		}
		for i := range own {
			l.logDet += 2 * math.Log(factor.Data[i*own+i])
		}
		u := l.matrix(n, own)
		copy(u.Data, l.own.Data)
		blas64.Trsm(blas.Right, blas.Trans, 1, factor, u)
		blas64.Syrk(blas.NoTrans, -1, u, 0, l.m)
	}
	for i := range n {
		l.m.Data[i*n+i]++
		for k := i + 1; k < n; k++ {
			l.m.Data[i*n+k] = l.m.Data[k*n+i]
		}
	}
	return true
}

// invert turns C, in m, into M.
func (l *linear) invert() bool {
	n := l.n
	factor, ok := lapack64.Potrf(l.m)
	if !ok {
		return false
	}
	l.logDet = 0
	for i := range n {
		l.logDet += 2 * math.Log(factor.Data[i*n+i])
	}
	lapack64.Potri(factor)
	for i := range n {
		for k := i + 1; k < n; k++ {
			l.m.Data[i*n+k] = l.m.Data[k*n+i]
		}
	}
	return true
}
