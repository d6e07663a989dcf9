package calibrate

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"masstone/color"
)

// An update is new chips read in the light of a calibration. Its unknowns x are
// all of unit variance before the chips are read: first u (1) of the curves that
// the chips hold, then weighing and thickness errors, then the discrepancy that
// all chips share, then each chip's own.
type update struct {
	c *Calibration
	p *problem // the chips resolved; its curves are the calibration's

	order  []int      // z by position in the posterior, those that the chips touch first
	seen   int        // how many they touch
	law    int        // first of the law of mixing in that order
	column []int      // first z of each touched curve in that order
	row    []int      // first entry of each curve's directions in the posterior's basis
	factor *mat.Dense // lower: z in that order = factor u
	base   state      // ln K and ln S before learning

	border  []int   // position in x of each of the castings' own unknowns, -1 for none
	common  int     // first of the shared discrepancy
	shared  float64 // its size, 0 for none
	own     []int   // per chip: first of its discrepancy
	size    []float64
	n, rows int

	work  workspace
	bands *mat.Dense // derivatives of one chip's reflectance factor, a row per band
	jac   *mat.Dense // J
}

func newUpdate(c *Calibration, chips []Chip, o LearnOptions) (*update, error) {
	surface := Surface{}
	if len(c.Posterior.Rank) > len(c.Curves) {
		// unit deviations make the border unknowns k1 and k2 themselves
		surface = Surface{K1: c.Layer.K1, K1SD: 1, K2: c.Layer.K2, K2SD: 1}
	}
	noise := c.Noise
	if !(noise.LabSD > 0) {
		noise.LabSD = usualNoise.LabSD
	}
	if !(noise.SpectrumSD > 0) {
		noise.SpectrumSD = usualNoise.SpectrumSD
	}
	p, err := newProblem(c.Codes(), through(chips, c.Aperture), c.model, surface, noise)
	if err != nil {
		return nil, err
	}
	own := 1.0 // of what a casting misses the law of mixing by
	if o.Bias > 0 {
		own = ownFloorShare
	}
	p.setHyper(hyperparameters{strength: o.Scatter, k: own * c.CastingError.K, s: own * c.CastingError.S, scale: noise.ScaleSD, offset: noise.OffsetSD, bent: c.Law.Bent, loss: c.Law.Loss}, make(state, p.n+p.d))
	l := &update{c: c, p: p}
	for i := range p.readings {
		r := &p.readings[i]
		r.trust = math.Sqrt(float64(max(1, o.Readings[r.chip.Name])))
		r.open *= r.trust // more readings leave it as it is
		if r.chip.Spectrum != nil {
			l.rows += color.Bands
		} else {
			l.rows += 3 * len(r.weights)
		}
	}
	if err := l.factorise(); err != nil {
		return nil, err
	}
	l.n = l.seen
	for _, moves := range p.moving() {
		at := -1
		if moves {
			at = l.n
			l.n++
		}
		l.border = append(l.border, at)
	}
	l.base = make(state, p.n+p.d)
	for q := range c.Curves {
		for b := range color.Bands {
			l.base[p.unknown(q, false, b)] = math.Log(math.Max(c.Curves[q].K[b], 1e-300))
			l.base[p.unknown(q, true, b)] = math.Log(math.Max(c.Curves[q].S[b], 1e-300))
		}
	}
	for q := range c.Curves[1:] {
		l.base[p.start[q+1]+perCurve] = c.Law.unknown(q + 1)
	}
	if c.Law.Bent > 0 {
		l.base[p.crowd] = (c.Law.Crowding/c.Law.Bent - crowding) / crowdingSD
	}
	return l, l.sizeDiscrepancies(o.Bias)
}

// moving tells of each of the castings' own unknowns whether it makes a
// difference.
func (p *problem) moving() []bool {
	out := make([]bool, p.d)
	for i := range p.readings {
		r := &p.readings[i]
		for k, e := range r.border {
			if e >= 0 && r.loadingSD[k] > 0 {
				out[e] = true
			}
		}
		if r.thick >= 0 {
			out[r.thick] = true
		}
		for w := range errorWaves {
			out[r.waves+w] = p.hyper.k > 0
			out[r.waves+errorWaves+w] = p.hyper.s > 0
		}
		if r.off >= 0 {
			out[r.off], out[r.off+1] = p.hyper.scale > 0, p.hyper.offset > 0
		}
	}
	return out
}

// factorise orders the z, those of curves in the chips first, and factors
// their covariance as it is claimed.
func (l *update) factorise() error {
	post := l.c.Posterior
	touched := make([]bool, len(post.Rank))
	touched[0] = true
	for q := len(l.c.Curves); q < len(post.Rank); q++ {
		touched[q] = true
	}
	for i := range l.p.readings {
		for _, q := range l.p.readings[i].curve {
			touched[q] = true
		}
	}
	row := 0
	for q, r := range post.Rank {
		l.row = append(l.row, row)
		if q < len(l.c.Curves) {
			row += r * perCurve
		}
	}
	l.column = make([]int, len(post.Rank))
	for _, first := range []bool{true, false} {
		at := 0
		for q, r := range post.Rank {
			if touched[q] == first {
				l.column[q] = len(l.order)
				for k := range r {
					l.order = append(l.order, at+k)
				}
			}
			at += r
		}
		if first {
			l.law = len(l.order)
			for k := range post.Law { // of all pigments: they share a few
				l.order = append(l.order, at+k)
			}
			l.seen = len(l.order)
		}
	}
	n, w := len(l.order), l.c.ModelError.widening()
	cov := mat.NewSymDense(n, nil)
	for i := range n {
		for k := i; k < n; k++ {
			a, b := min(l.order[i], l.order[k]), max(l.order[i], l.order[k])
			cov.SetSym(i, k, w*w*post.Cov[packed(a, b, n)])
		}
	}
	var chol mat.Cholesky
	// a stored covariance has the digits of float32
	for slack := 1e-7; !chol.Factorize(cov); slack *= 10 {
		if slack > 1e-3 {
			return fmt.Errorf("the calibration's covariance is not positive; fit it again")
		}
		for i := range n {
			cov.SetSym(i, i, cov.At(i, i)*(1+slack))
		}
	}
	var lower mat.TriDense
	chol.LTo(&lower)
	l.factor = mat.DenseCopyOf(&lower)
	return nil
}

// sizeDiscrepancies sizes the discrepancies at what the calibration predicts of
// the chips.
func (l *update) sizeDiscrepancies(bias float64) error {
	main, err := color.WeightsFor(l.c.Main)
	if err != nil {
		return err
	}
	own := l.c.ModelError.Floor
	if bias > 0 {
		own *= ownFloorShare
		l.common = l.n
		l.n += discrepancyRank
	}
	x := l.state(make([]float64, l.n))
	l.p.expand(x, &l.work)
	l.own = make([]int, len(l.p.readings))
	l.size = make([]float64, len(l.p.readings))
	for i := range l.p.readings {
		r := &l.p.readings[i]
		l.p.reflect(r, x, &l.work)
		if bias > 0 && i == 0 {
			missed, err := l.missed(r, main)
			if err != nil {
				return err
			}
			l.shared = discrepancySize(math.Hypot(bias, missed), &l.work.partials.R, main)
		}
		if own > 0 {
			l.own[i], l.size[i] = l.n, discrepancySize(own, &l.work.partials.R, main)
			l.n += discrepancyRank
		}
	}
	return nil
}

// missed is by how much, in CIEDE2000 units per direction, castings of one target
// are expected to miss the law of mixing alike.
func (l *update) missed(r *reading, main *color.Weights) (float64, error) {
	of := *l.c
	of.Noise.ScaleSD, of.Noise.OffsetSD = 0, 0
	e, err := of.Evaluator(Setting{Thickness: ThicknessMM(r.thickness), Backing: r.backing, Specular: r.chip.Measurement.Specular, Aperture: r.chip.Aperture}, main.Under)
	if err != nil || len(r.curve)-1 > MaxComponents {
		return 0, err
	}
	e.Set(r.curve[1:], r.loading[1:])
	lab := e.LabGradient(0, make([][3]float64, len(r.curve)))
	return math.Sqrt((1 - ownFloorShare*ownFloorShare) * trace(color.Metric00(lab), e.missed()) / 3), nil
}

// errors returns z, in the posterior's order, at x.
func (l *update) errors(x []float64) []float64 {
	z := make([]float64, len(l.order))
	for i, at := range l.order {
		row := l.factor.RawRowView(i)
		for k := range min(i+1, l.seen) {
			z[at] += row[k] * x[k]
		}
	}
	return z
}

// state returns the problem's state at x.
func (l *update) state(x []float64) state {
	post, p := l.c.Posterior, l.p
	s := append(state(nil), l.base...)
	z := l.errors(x)
	at := 0
	for q, rank := range post.Rank {
		row := l.row[q]
		if q == len(l.c.Curves) {
			// directions of k1 and k2: rows of two
			for r := range rank {
				s[p.k1] += post.Basis[row+2*r] * z[at+r]
				s[p.k2] += post.Basis[row+2*r+1] * z[at+r]
			}
			continue
		}
		for r := range rank {
			for b := range color.Bands {
				s[p.unknown(q, false, b)] += post.Basis[row+b] * z[at+r]
				s[p.unknown(q, true, b)] += post.Basis[row+color.Bands+b] * z[at+r]
			}
			row += perCurve
		}
		at += rank
	}
	if post.Law > 0 {
		at := post.width() - post.Law
		if post.Discrepancy != nil {
			at -= discrepancyRank
		}
		for q := range l.c.Curves[1:] {
			s[p.start[q+1]+perCurve] += z[at+q]
		}
		s[p.crowd] += z[at+len(l.c.Curves)-1]
		s[p.loss] += z[at+len(l.c.Curves)]
	}
	for e, pos := range l.border {
		if pos >= 0 {
			s[p.n+e] = x[pos]
		}
	}
	return s
}

// predict evaluates chip i at x, whose state is s and expanded: the workspace then
// holds its reflectance, changed by factor.
func (l *update) predict(i int, x []float64, s state) (factor [color.Bands]float64) {
	r, w := &l.p.readings[i], &l.work
	l.p.reflect(r, s, w)
	for b := range factor {
		f := 1.0
		for k := range discrepancyRank {
			if l.shared > 0 {
				f += l.shared * x[l.common+k] * waves[k][b]
			}
			if l.size[i] > 0 {
				f += l.size[i] * x[l.own[i]+k] * waves[k][b]
			}
		}
		factor[b] = f
	}
	return factor
}

// colours returns what is predicted of each chip at x.
func (l *update) colours(x []float64) []color.Lab {
	s := l.state(x)
	l.p.expand(s, &l.work)
	out := make([]color.Lab, len(l.p.readings))
	for i := range out {
		f := l.predict(i, x, s)
		r := l.work.partials.R
		for b := range r {
			r[b] *= f[b]
		}
		out[i] = l.reportWeights(i).Lab((*color.Reflectance)(&r))
	}
	return out
}

// reportWeights is the condition chip i is reported under.
func (l *update) reportWeights(i int) *color.Weights {
	r := &l.p.readings[i]
	for _, w := range r.weights {
		if w.Under == l.c.Main {
			return w
		}
	}
	if r.chip.Spectrum == nil {
		return r.weights[0]
	}
	w, err := color.WeightsFor(l.c.Main)
	if err != nil {
		panic(err) // the calibration was made under it
	}
	return w
}

// measured is chip i's reading under the condition it is reported under.
func (l *update) measured(i int) color.Lab {
	r, judge := &l.p.readings[i], l.reportWeights(i)
	if r.chip.Spectrum != nil {
		return judge.Lab(r.chip.Spectrum)
	}
	for k, w := range r.weights {
		if w == judge {
			return r.chip.Labs[k]
		}
	}
	return r.chip.Labs[0]
}

// misfit is the first term of (1): that of spectra and that of colours.
func (l *update) misfit(x []float64) (bands, labs float64) {
	s := l.state(x)
	l.p.expand(s, &l.work)
	for i := range l.p.readings {
		f := l.predict(i, x, s)
		r := &l.p.readings[i]
		scale := r.trust / l.p.unit(r)
		refl := l.work.partials.R
		for b := range refl {
			refl[b] *= f[b]
		}
		if r.chip.Spectrum != nil {
			for b, m := range r.chip.Spectrum {
				d := (refl[b] - m) * scale
				bands += d * d
			}
			continue
		}
		for j, w := range r.weights {
			a, b := w.Lab((*color.Reflectance)(&refl)).Values(), r.chip.Labs[j].Values()
			for t := range a {
				d := (a[t] - b[t]) * scale
				labs += d * d
			}
		}
	}
	return bands, labs
}

// cost is (1).
func (l *update) cost(x []float64) float64 {
	bands, labs := l.misfit(x)
	sum := bands + labs
	for _, v := range x {
		sum += v * v
	}
	return sum
}

// linearise fills l.jac with J at x and returns the residuals y - h there.
func (l *update) linearise(x []float64) *mat.VecDense {
	if l.jac == nil {
		l.jac = mat.NewDense(l.rows, l.n, nil)
		l.bands = mat.NewDense(color.Bands, l.n, nil)
	}
	l.jac.Zero()
	left := mat.NewVecDense(l.rows, nil)
	s := l.state(x)
	l.p.expand(s, &l.work)
	row := 0
	var weight [color.Bands]float64
	for i := range l.p.readings {
		r := &l.p.readings[i]
		f := l.predict(i, x, s)
		l.slopes(i, s, &f)
		refl := l.work.partials.R
		for b := range refl {
			refl[b] *= f[b]
		}
		scale := r.trust / l.p.unit(r)
		if r.chip.Spectrum != nil {
			for b, m := range r.chip.Spectrum {
				out := l.jac.RawRowView(row)
				for k, v := range l.bands.RawRowView(b) {
					out[k] = v * scale
				}
				left.SetVec(row, (m-refl[b])*scale)
				row++
			}
			continue
		}
		for j, w := range r.weights {
			w.LabWithJacobian((*color.Reflectance)(&refl), &l.work.lab, &l.work.jac)
			m := r.chip.Labs[j].Values()
			for t := range 3 {
				for b := range weight {
					weight[b] = l.work.jac[t][b] * scale
				}
				out := mat.NewVecDense(l.n, l.jac.RawRowView(row))
				out.MulVec(l.bands.T(), mat.NewVecDense(color.Bands, weight[:]))
				left.SetVec(row, (m[t]-l.work.lab[t])*scale)
				row++
			}
		}
	}
	// from z to u, in place
	if l.seen > 0 {
		u := l.jac.Slice(0, l.rows, 0, l.seen).(*mat.Dense)
		u.Mul(mat.DenseCopyOf(u), l.factor.Slice(0, l.seen, 0, l.seen))
	}
	return left
}

// slopes fills l.bands with the derivatives of chip i's reflectance factor, as
// the workspace holds it, by z of the touched curves and the rest of x.
func (l *update) slopes(i int, s state, factor *[color.Bands]float64) {
	r, p, post := &l.p.readings[i], l.p, l.c.Posterior
	l.bands.Zero()
	p.slopes(r, s, &l.work, p.scaling(r, s), func(b int, c *change) {
		f := factor[b]
		out := l.bands.RawRowView(b)
		for k, q := range r.curve {
			dk, ds := c.k[k]*f, c.s[k]*f
			at, row := l.column[q], l.row[q]
			for range post.Rank[q] {
				out[at] += dk*post.Basis[row+b] + ds*post.Basis[row+color.Bands+b]
				at++
				row += perCurve
			}
		}
		c.owns(p, r, 0, func(e int, v float64) {
			if pos := l.border[e]; pos >= 0 {
				out[pos] += v * f
			}
		})
		if q := len(l.c.Curves); p.k1 >= 0 {
			by1, by2 := c.shared[p.k1-p.start[p.curves]]*f, c.shared[p.k2-p.start[p.curves]]*f
			for k := range post.Rank[q] {
				out[l.column[q]+k] += by1*post.Basis[l.row[q]+2*k] + by2*post.Basis[l.row[q]+2*k+1]
			}
		}
		if post.Law > 0 {
			for k, q := range r.curve {
				if q > 0 {
					out[l.law+q-1] += c.exponent[k] * f
				}
			}
			shared := l.law + len(l.c.Curves) - 1
			out[shared] += c.shared[p.crowd-p.start[p.curves]] * f
			out[shared+1] += c.shared[p.loss-p.start[p.curves]] * f
		}
		for k := range discrepancyRank {
			if l.shared > 0 {
				out[l.common+k] += l.shared * l.work.partials.R[b] * waves[k][b]
			}
			if l.size[i] > 0 {
				out[l.own[i]+k] += l.size[i] * l.work.partials.R[b] * waves[k][b]
			}
		}
	})
}
