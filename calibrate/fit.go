package calibrate

import (
	"context"
	"fmt"
	"math"
	"slices"

	"golang.org/x/sync/errgroup"
	"gonum.org/v1/gonum/mat"

	"masstone/calibrate/layer"
	"masstone/calibrate/minimize"
	"masstone/color"
)

// anneal brings x from anywhere to the optimum: at first the readings are
// believed only roughly, so that the curves find their place before single
// chips pull on their loadings.
func (p *problem) anneal(ctx context.Context, x state) error {
	noise := p.noise
	sys := p.system()
	for _, doubt := range []float64{40, 10, 3, 1} {
		p.noise = Noise{LabSD: noise.LabSD * doubt, SpectrumSD: noise.SpectrumSD * doubt}
		tol, limit := 1.0, 12
		if doubt == 1 {
			tol, limit = 0.5, 40
		}
		if _, _, err := p.converge(ctx, x, sys, tol, limit); err != nil {
			return err
		}
	}
	return nil
}

// learn learns from the optimum x what the curves are like and how good the
// readings and weighings are, and moves x to the optimum there.
func (p *problem) learn(ctx context.Context, x state) error {
	sys := p.system()
	for round := range 3 {
		scatter, noise := p.scatter, p.noise
		if err := p.tune(ctx, x, sys); err != nil {
			return err
		}
		if round == 0 || p.byBand {
			if err := p.haze(ctx, x, sys); err != nil {
				return err
			}
		}
		if err := p.strew(ctx, x, sys); err != nil {
			return err
		}
		if near(p.scatter, scatter, 1.35) && near(p.noise.LabSD, noise.LabSD, 1.1) && near(p.noise.SpectrumSD, noise.SpectrumSD, 1.1) {
			break
		}
	}
	_, _, err := p.converge(ctx, x, sys, 1e-3, 20)
	return err
}

// near reports whether one positive number is another to a factor.
func near(a, b, factor float64) bool { return a < b*factor && b < a*factor }

// finish learns roughness and noise to the end.
func (p *problem) finish(ctx context.Context, x state) error {
	sys := p.system()
	for range 2 {
		if err := p.tune(ctx, x, sys); err != nil {
			return err
		}
	}
	_, _, err := p.converge(ctx, x, sys, 1e-6, 40)
	return err
}

// Options of a fit. The zero value fits with every layer model and keeps the
// one whose left-out chips come out best.
type Options struct {
	Layer string // KubelkaMunk or ExactLayer; empty for the better
	// Index is the refractive index of the resin for ExactLayer; 0 for the one
	// that makes the readings most likely.
	Index float64
	// Anisotropy is the mean cosine of the scattering angle for ExactLayer, from
	// 0 to 0.9; nil for the better of forward and even scattering.
	Anisotropy *float64
	Surface    *Surface        // prior of k1 and k2 for KubelkaMunk; nil for DefaultSurface
	Noise      *Noise          // expected noise of a reading; nil for a usual handheld
	Main       color.Condition // condition of reports; zero for the first in evidence
	Progress   func(step string)
}

// DefaultSurface is the surface of a resin of refractive index near 1.5: k1 is
// Fresnel's reflectance at normal incidence, k2 that of diffuse light inside
// (Judd 1942: 0.596), with the spread of real instruments and resins.
var defaultSurface = Surface{K1: 0.04, K1SD: 0.002, K2: 0.60, K2SD: 0.03}

// Fit finds the optics of the resin and its pigments that explain all chips at
// once, and what the chips leave unknown. Evidence of different kinds may be
// mixed: Lab under one or several conditions, spectra, any thickness, any
// backing, specular included or excluded. Errors name the chip at fault.
func Fit(ctx context.Context, pigments []string, chips []Chip, o Options) (*Calibration, error) {
	if len(chips) == 0 {
		return nil, fmt.Errorf("no chips to fit; import some")
	}
	measurements, err := measurementsOf(chips)
	if err != nil {
		return nil, err
	}
	// The first round tries the models that real pastes may follow, on a usual
	// resin. Another index, and even scattering, are worth a try where the exact
	// layer then comes near the best.
	var trials, second []LayerModel
	if o.Layer == "" || o.Layer == KubelkaMunk {
		trials = append(trials, LayerModel{Name: KubelkaMunk})
	}
	if o.Layer == "" || o.Layer == ExactLayer {
		index := o.Index
		if index == 0 {
			index = usualIndex
		}
		exact := LayerModel{Name: ExactLayer, Index: index, Anisotropy: forward}
		if o.Anisotropy != nil {
			exact.Anisotropy = *o.Anisotropy
		} else {
			even := exact
			even.Anisotropy = 0
			second = append(second, even)
		}
		trials = append(trials, exact)
	}
	if len(trials) == 0 {
		return nil, fmt.Errorf("layer model %q is not known; use %s or %s", o.Layer, KubelkaMunk, ExactLayer)
	}
	if o.Progress != nil {
		o.Progress("finding the curves")
	}
	var dropped []LayerTrial
	fits, err := candidates(ctx, pigments, chips, trials, o)
	if err != nil {
		return nil, err
	}
	if last := len(fits) - 1; last > 0 && !fits[last].worth(fits) {
		dropped = append(dropped, fits[last].trial)
		fits = fits[:last]
	}
	if err := learnAll(ctx, fits); err != nil {
		return nil, err
	}
	if exact := &fits[len(fits)-1]; exact.model.Name == ExactLayer && exact.worth(fits) {
		var round errgroup.Group
		var more []candidate
		if o.Index == 0 {
			round.Go(func() error { return exact.refract(ctx) })
		}
		round.Go(func() (err error) {
			if more, err = candidates(ctx, pigments, chips, second, o); err != nil {
				return err
			}
			for i := range more {
				step := more[i].learn
				if o.Index == 0 {
					step = more[i].refract
				}
				if err := step(ctx); err != nil {
					return err
				}
			}
			return nil
		})
		if err := round.Wait(); err != nil {
			return nil, err
		}
		fits = append(fits, more...)
	}
	best := top(fits)
	if o.Progress != nil {
		o.Progress("looking for chips that are wrong on record")
	}
	if best.p, best.x, best.found, err = best.p.mend(ctx, best.x); err != nil {
		return nil, err
	}
	if o.Progress != nil {
		o.Progress("finding the optimum")
	}
	if err := best.p.finish(ctx, best.x); err != nil {
		return nil, err
	}
	if o.Progress != nil {
		o.Progress("leaving each chip out in turn")
	}
	c, err := best.p.report(best.x, best.model, o.Main)
	if err != nil {
		return nil, err
	}
	best.trial = c.Others[0]
	c.Others, c.Measurements = nil, measurements
	for i := range fits {
		c.Others = append(c.Others, fits[i].trial)
	}
	c.Others = append(c.Others, dropped...)
	for i := range best.found {
		c.Suspects = append(c.Suspects, best.found[i].suspect(best.p))
	}
	return c, nil
}

// forward is how far forward a paste's particles scatter, as the mean cosine of
// the angle: particles of the size of light's wavelength have 0.5 to 0.8. From
// memory.
const forward = 0.7

// hopeless is by how much, in ln density of a left-out chip, the exact layer of
// a usual index may fall behind before nothing learnt makes up for it.
const hopeless = 1.5

// poor is how much a model has to widen its bars that does not fit well.
const poor = 1.3

// worth reports whether an exact layer of usual index and forward scattering is
// worth learning more of.
func (f *candidate) worth(fits []candidate) bool {
	best := top(fits)
	return f.trial.LogScore > best.trial.LogScore-hopeless || best.widen > poor
}

// candidates fits the models, side by side.
func candidates(ctx context.Context, pigments []string, chips []Chip, models []LayerModel, o Options) ([]candidate, error) {
	fits := make([]candidate, len(models))
	var all errgroup.Group
	for i := range models {
		all.Go(func() (err error) {
			fits[i], err = newCandidate(ctx, pigments, chips, models[i], o)
			return err
		})
	}
	return fits, all.Wait()
}

// learnAll learns what the candidates' curves and readings are like, side by side.
func learnAll(ctx context.Context, fits []candidate) error {
	var all errgroup.Group
	for i := range fits {
		all.Go(func() error { return fits[i].learn(ctx) })
	}
	return all.Wait()
}

// learn learns what the curves and readings are like and judges anew.
func (f *candidate) learn(ctx context.Context) error {
	if err := f.p.learn(ctx, f.x); err != nil {
		return err
	}
	return f.judge()
}

// top returns the candidate whose left-out chips come out best.
func top(fits []candidate) *candidate {
	best := &fits[0]
	for i := range fits {
		if fits[i].trial.LogScore > best.trial.LogScore {
			best = &fits[i]
		}
	}
	return best
}

// A candidate is one layer model's fit, as far as choosing between models
// needs it.
type candidate struct {
	p     *problem
	x     state
	model LayerModel
	main  color.Condition
	trial LayerTrial
	widen float64
	found []finding // chips that are wrong in a way no noise explains
}

// newCandidate fits one layer model and judges it by its left-out chips.
func newCandidate(ctx context.Context, pigments []string, chips []Chip, model LayerModel, o Options) (candidate, error) {
	surface := defaultSurface
	if o.Surface != nil {
		surface = *o.Surface
	}
	if model.Name == KubelkaMunk {
		model.K1, model.K2 = surface.K1, surface.K2
	}
	l, err := model.build()
	if err != nil {
		return candidate{}, err
	}
	noise := usualNoise
	if o.Noise != nil {
		noise = *o.Noise
	}
	p, err := newProblem(pigments, chips, l, surface, noise)
	if err != nil {
		return candidate{}, err
	}
	f := candidate{p: p, x: p.flat(), model: model, main: o.Main}
	if f.main == (color.Condition{}) {
		f.main = p.mainCondition()
	}
	p.scatterBy(usualScatter, f.x)
	if err := p.anneal(ctx, f.x); err != nil {
		return f, err
	}
	if err := p.tune(ctx, f.x, p.system()); err != nil {
		return f, err
	}
	return f, f.judge()
}

// judge sums up the chips left out in turn.
func (f *candidate) judge() error {
	weights, err := color.WeightsFor(f.main)
	if err != nil {
		return err
	}
	left, err := f.p.leaveOut(f.x, f.p.system())
	if err != nil {
		return err
	}
	misses := f.p.colourMisses(left, weights)
	e := fitModelError(misses)
	f.trial, f.widen = judge(f.model, misses, e), e.Widen
	return nil
}

// judge sums up the left-out chips of a layer model.
func judge(model LayerModel, misses []colourMiss, e ModelError) LayerTrial {
	t := LayerTrial{Name: model.Name, Anisotropy: model.Anisotropy, Index: model.Index}
	n := 0.0
	for i := range misses {
		t.LogScore += misses[i].credit(e) / float64(len(misses))
		if !misses[i].vague {
			t.MeanDE00 += color.Delta00(misses[i].measured, misses[i].leftOut)
			n++
		}
	}
	t.MeanDE00 /= math.Max(n, 1)
	return t
}

// mainCondition is the first in evidence, or daylight and the 10 degree
// observer where only spectra were read.
func (p *problem) mainCondition() color.Condition {
	for i := range p.readings {
		if w := p.readings[i].weights; len(w) > 0 {
			return w[0].Under
		}
	}
	return color.Under(color.D65, color.TenDegree)
}

// report turns the optimum into a calibration.
func (p *problem) report(x state, model LayerModel, main color.Condition) (*Calibration, error) {
	sys := p.system()
	left, err := p.leaveOut(x, sys)
	if err != nil {
		return nil, err
	}
	post, err := p.compact(x, sys)
	if err != nil {
		return nil, err
	}
	c := &Calibration{Layer: model, Noise: p.noise, Scatter: p.scatter, Posterior: post, Main: main}
	seen := map[color.Condition]bool{}
	top := make([]float64, p.curves)
	for i := range p.readings {
		r := &p.readings[i]
		total := -1.0 // the resin's 1 is no loading
		for k, q := range r.curve {
			total += r.loading[k]
			top[q] = math.Max(top[q], r.loading[k])
		}
		c.MaxTotal = max(c.MaxTotal, PHR(total))
		if r.chip.Spectrum != nil {
			c.Spectral = true
		}
		for _, w := range r.weights {
			if !seen[w.Under] {
				seen[w.Under] = true
				c.Lights = append(c.Lights, w.Under)
			}
		}
	}
	if c.Main == (color.Condition{}) {
		c.Main = p.mainCondition()
	}
	weights, err := color.WeightsFor(c.Main)
	if err != nil {
		return nil, err
	}

	var w workspace
	p.expand(x, &w)
	for q := range p.curves {
		curve := Curve{}
		if q > 0 {
			curve.Code = p.pigments[q-1]
			curve.MaxPHR = PHR(top[q])
		}
		for b := range color.Bands {
			curve.K[b] = w.all[p.unknown(q, false, b)]
			curve.S[b] = w.all[p.unknown(q, true, b)]
		}
		c.Curves = append(c.Curves, curve)
	}
	p.curveBars(c, sys)
	if km, ok := w.layer.(layer.KubelkaMunk); ok {
		c.Layer.K1, c.Layer.K2 = km.K1, km.K2
		if p.k1 >= 0 {
			v := post.surfaceVariance()
			c.Layer.K1SD, c.Layer.K2SD = math.Sqrt(v[0]), math.Sqrt(v[1])
			c.Layer.SurfaceKnown = c.Layer.K2SD < 0.5*p.surface.K2SD
		}
		c.model = km
	} else {
		c.model = w.layer
	}

	misses := p.colourMisses(left, weights)
	c.ModelError = fitModelError(misses)
	var all []float64
	inside := 0
	for i := range p.readings {
		r := &p.readings[i]
		m := &misses[i]
		thickness := p.mix(r, x, &w)
		w.layer.Bands(&w.k, &w.s, thickness, &r.backing, r.chip.Measurement.Specular, &w.partials)
		under := c.Main
		if r.chip.Spectrum == nil {
			under = r.chip.Labs[0].Under
			for _, l := range r.chip.Labs {
				if l.Under == c.Main {
					under = c.Main
				}
			}
		}
		judge := weights
		if under != c.Main {
			if judge, err = color.WeightsFor(under); err != nil {
				return nil, err
			}
		}
		z2, _ := m.score(c.ModelError)
		rep := ChipReport{Chip: r.chip.Name, Measured: color.LabFrom(m.measured, under), Fitted: judge.Lab((*color.Reflectance)(&w.partials.R)),
			Vague: m.vague, Sigma: sigma(z2), Inside: z2 <= chi95}
		if m.vague {
			rep.Sigma, rep.Inside = 0, true
		}
		rep.LeftOut = color.LabFrom(m.leftOut, under)
		rep.DE00 = color.Delta00(m.measured, rep.Fitted.Values())
		rep.LeftDE00 = color.Delta00(m.measured, m.leftOut)
		for k, e := range r.border {
			if e >= 0 {
				if rep.Weighed == nil {
					rep.Weighed = map[string]PHR{}
				}
				rep.Weighed[p.pigments[r.curve[k]-1]] = PHR(r.loading[k] + r.weigh[k]*x[p.n+e])
			}
		}
		c.Chips = append(c.Chips, rep)
		if !m.vague {
			all = append(all, rep.LeftDE00)
			if rep.Inside {
				inside++
			}
		}
	}
	slices.Sort(all)
	if n := len(all); n > 0 {
		c.LeaveOut = LeaveOutSummary{Chips: n, MedianDE00: all[n/2], Coverage95: float64(inside) / float64(n)}
		for _, v := range all {
			c.LeaveOut.MeanDE00 += v / float64(n)
		}
	}
	c.Others = []LayerTrial{judge(model, misses, c.ModelError)}
	return c, nil
}

// curveBars fills the standard deviations of the curves.
func (p *problem) curveBars(c *Calibration, sys *minimize.Bordered) {
	j := mat.NewDense(color.Bands, p.n+p.d, nil)
	for k := range 2 * p.curves {
		j.Zero()
		for b := range color.Bands {
			j.Set(b, p.unknown(k/2, k%2 == 1, b), 1)
		}
		cov := sys.Covariance(j)
		for b := range color.Bands {
			sd := math.Sqrt(math.Max(cov.At(b, b), 0))
			if k%2 == 1 {
				c.Curves[k/2].SSD[b] = sd
			} else {
				c.Curves[k/2].KSD[b] = sd
			}
		}
	}
}

// surfaceVariance returns the posterior variances of k1 and k2.
func (p *posterior) surfaceVariance() [2]float64 {
	width := 0
	for _, r := range p.Rank {
		width += r
	}
	n := len(p.Cov)
	return [2]float64{p.Cov[n-3], p.Cov[n-1]}
}
