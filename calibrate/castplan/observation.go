package castplan

import (
	"context"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"masstone/calibrate"
	"masstone/color"
)

// faint is the signal to noise below which a direction of a reading is left
// out of the reckoning: it teaches one part in 2500 of what is not known of it.
const faint = 0.02

// settings keeps one evaluator per setting: each holds the covariance.
type settings struct {
	c     *calibrate.Calibration
	ready map[calibrate.Setting]*calibrate.Evaluator
}

func (in settings) evaluator(s calibrate.Setting) (*calibrate.Evaluator, error) {
	if e, ok := in.ready[s]; ok {
		return e, nil
	}
	e, err := in.c.Evaluator(s)
	if err == nil {
		in.ready[s] = e
	}
	return e, err
}

// linearisePredictions linearises the mixtures of interest.
func (s *knowledge) linearisePredictions(in settings, interest []Interest) error {
	width, _ := s.cov.Dims()
	s.pull = mat.NewDense(width, 3*len(interest), nil)
	weights, err := color.WeightsFor(in.c.Main)
	if err != nil {
		return err
	}
	for i, m := range interest {
		fail := func(err error) error { return fmt.Errorf("mixture of interest %d: %w", i+1, err) }
		pigments, phr, err := in.c.Resolve(m.Loadings)
		if err != nil {
			return fail(err)
		}
		e, err := in.evaluator(m.Setting)
		if err != nil {
			return fail(err)
		}
		e.Set(pigments, phr)
		sens := e.Sensitivity()
		r := e.Reflectance()
		var lab [3]float64
		var jac [3][color.Bands]float64
		weights.LabWithJacobian(&r, &lab, &jac)
		root, err := metricRoot(lab)
		if err != nil {
			return fail(err)
		}
		var g mat.Dense // B G, 3 x columns
		g.Mul(labRows(&jac), sens.Unknown)
		g.Mul(root, &g)
		var pull, q mat.Dense
		pull.Mul(columnsOf(s.cov, sens.Blocks), g.T())
		s.pull.Slice(0, width, 3*i, 3*i+3).(*mat.Dense).Copy(&pull)
		q.Mul(&g, rowsOf(&pull, sens.Blocks))
		var out [3][3]float64
		for a := range 3 {
			for b := range 3 {
				out[a][b] = (q.At(a, b) + q.At(b, a)) / 2
			}
		}
		s.errors = append(s.errors, out)
		var own [3][3]float64
		if sens.Casting != nil {
			var seen, square mat.Dense
			seen.Mul(labRows(&jac), sens.Casting)
			seen.Mul(root, &seen)
			square.Mul(&seen, seen.T())
			for a := range 3 {
				for b := range 3 {
					own[a][b] = square.At(a, b)
				}
			}
		}
		s.castings = append(s.castings, own)
	}
	return nil
}

// metricRoot returns B with B'B the metric of CIEDE2000 at lab.
func metricRoot(lab [3]float64) (*mat.Dense, error) {
	m := color.Metric00(lab)
	sym := mat.NewSymDense(3, nil)
	for a := range 3 {
		for b := a; b < 3; b++ {
			sym.SetSym(a, b, m[a][b])
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(sym) {
		return nil, fmt.Errorf("its colour has no measure of difference")
	}
	var u mat.TriDense
	chol.UTo(&u)
	return mat.DenseCopyOf(&u), nil
}

// linearise reduces every candidate to its observation.
func (s *knowledge) linearise(ctx context.Context, in settings, r Request) error {
	var weights []*color.Weights
	for _, under := range r.Reading.Lights {
		w, err := color.WeightsFor(under)
		if err != nil {
			return err
		}
		weights = append(weights, w)
	}
	chips := make([]calibrate.Chip, len(r.Candidates))
	evaluators := make([]*calibrate.Evaluator, len(chips))
	for i := range chips {
		chips[i] = r.Candidates[i].Evidence()
		e, err := in.evaluator(calibrate.Setting{Thickness: chips[i].Thickness, Backing: chips[i].Backing, Specular: chips[i].Measurement.Specular, Aperture: chips[i].Aperture})
		if err != nil {
			return fmt.Errorf("chip %s: %w", chips[i].Name, err)
		}
		evaluators[i] = e
	}
	s.observations = make([]observation, len(chips))
	return inParallel(ctx, len(chips), func(i int) error {
		l, err := observationOf(in.c, evaluators[i].Clone(), &chips[i], r.Reading.Spectrum, weights)
		if err != nil {
			return fmt.Errorf("chip %s: %w", chips[i].Name, err)
		}
		l.compress(s.cov)
		s.observations[i] = *l
		return nil
	})
}

// observationOf linearises one chip and its reading.
func observationOf(c *calibrate.Calibration, e *calibrate.Evaluator, chip *calibrate.Chip, spectrum bool, weights []*color.Weights) (*observation, error) {
	pigments, phr, err := c.Resolve(chip.Loadings)
	if err != nil {
		return nil, err
	}
	e.Set(pigments, phr)
	sens := e.Sensitivity()
	// errors of the cup, per standard deviation: the loadings and the thickness
	cup := mat.NewDense(color.Bands, len(pigments)+1, nil)
	for b := range color.Bands {
		for k, q := range pigments {
			weighed := math.Hypot(float64(chip.WeighSD(c.Curves[q].Code)), c.Scatter*phr[k])
			cup.Set(b, k, sens.Loading.At(b, k)*weighed)
		}
		cup.Set(b, len(pigments), sens.Thickness[b]*float64(chip.ThicknessSD))
	}
	cup = beside(cup, sens.Casting)
	j, noise := sens.Unknown, c.Noise.SpectrumSD
	if !spectrum {
		r := e.Reflectance()
		see := mat.NewDense(3*len(weights), color.Bands, nil)
		for k, w := range weights {
			var lab [3]float64
			var jac [3][color.Bands]float64
			w.LabWithJacobian(&r, &lab, &jac)
			see.Slice(3*k, 3*k+3, 0, color.Bands).(*mat.Dense).Copy(labRows(&jac))
		}
		j, noise = &mat.Dense{}, c.Noise.LabSD
		j.Mul(see, sens.Unknown)
		seen := &mat.Dense{}
		seen.Mul(see, cup)
		cup = seen
	}
	rows, _ := j.Dims()
	n := mat.NewSymDense(rows, nil)
	n.SymOuterK(1, cup)
	for a := range rows {
		n.SetSym(a, a, n.At(a, a)+noise*noise)
	}
	return &observation{sens.Blocks, underRoot(n, j)}, nil
}

// beside returns the columns of a and of b, which may be nil.
func beside(a, b *mat.Dense) *mat.Dense {
	if b == nil {
		return a
	}
	out := &mat.Dense{}
	out.Augment(a, b)
	return out
}

// compress keeps the directions of the reading that stand out of its noise, as the
// unknowns now are; later they can only stand out less.
func (l *observation) compress(cov *mat.Dense) {
	rows, columns := l.j.Dims()
	var jc, s mat.Dense
	jc.Mul(l.j, blocksOf(cov, l.blocks))
	s.Mul(&jc, l.j.T())
	sym := mat.NewSymDense(rows, nil)
	for a := range rows {
		for b := a; b < rows; b++ {
			sym.SetSym(a, b, (s.At(a, b)+s.At(b, a))/2)
		}
	}
	var eig mat.EigenSym
	if !eig.Factorize(sym, true) {
		return // keep all
	}
	values := eig.Values(nil) // ascending
	first := 0
	for first < rows-1 && !(values[first] > faint*faint) {
		first++
	}
	var v mat.Dense
	eig.VectorsTo(&v)
	short := mat.NewDense(rows-first, columns, nil)
	short.Mul(v.Slice(0, rows, first, rows).T(), l.j)
	l.j = short
}

// underRoot returns L^-1 m for s = L L'. s is a covariance with a positive
// diagonal added and so positive; should rounding deny it, the larger
// rows diag(s) stands in for it, with which a reading teaches less.
func underRoot(s *mat.SymDense, m *mat.Dense) *mat.Dense {
	var chol mat.Cholesky
	rows, columns := m.Dims()
	out := mat.NewDense(rows, columns, nil)
	if !chol.Factorize(s) {
		for a := range rows {
			for k, v := range m.RawRowView(a) {
				out.Set(a, k, v/math.Sqrt(float64(rows)*math.Max(s.At(a, a), 1e-300)))
			}
		}
		return out
	}
	var l mat.TriDense
	chol.LTo(&l)
	for a := range rows {
		row := out.RawRowView(a)
		copy(row, m.RawRowView(a))
		for b := range a {
			f := l.At(a, b)
			for k, v := range out.RawRowView(b) {
				row[k] -= f * v
			}
		}
		for k := range row {
			row[k] /= l.At(a, a)
		}
	}
	return out
}

func labRows(jac *[3][color.Bands]float64) *mat.Dense {
	out := mat.NewDense(3, color.Bands, nil)
	for t := range 3 {
		out.SetRow(t, jac[t][:])
	}
	return out
}
