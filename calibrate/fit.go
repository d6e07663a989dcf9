package calibrate

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"masstone/calibrate/layer"
	"masstone/calibrate/minimize"
	"masstone/color"
)

// usualNoise is the scatter of a handheld instrument on one piece, from which
// the fit starts and near which it stays unless the readings say otherwise.
// Common practice, no source.
var usualNoise = Noise{LabSD: 0.08, SpectrumSD: 0.001}

// roughnessDF is how many bands' worth of opinion the usual roughness of a
// curve carries against the 30 its own bands carry.
const roughnessDF = 20

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

// roughen sets each curve's own roughness from the posterior expectation of
// its squared bends and steps: an expectation-maximisation step under a scaled
// inverse chi-square prior about the usual roughness.
func (p *problem) roughen(x state, sys *minimize.Bordered) error {
	var w workspace
	g := make([]float64, p.n+p.d)
	p.linearise(x, &w, sys, g)
	if err := sys.Factor(); err != nil {
		return err
	}
	j := mat.NewDense(color.Bands, p.n+p.d, nil)
	for k := range p.scale {
		j.Zero()
		for b := range color.Bands {
			j.Set(b, p.unknown(k/2, k%2 == 1, b), 1)
		}
		cov := sys.Covariance(j)
		s := usual(k/2, k%2 == 1)
		s.Spread = math.Inf(1)
		d0, d1, d2 := s.precision()
		second := func(a, b int) float64 { // E x_a x_b
			return x[p.unknown(k/2, k%2 == 1, a)]*x[p.unknown(k/2, k%2 == 1, b)] + cov.At(a, b)
		}
		sum := 0.0
		for b := range color.Bands {
			sum += d0[b] * second(b, b)
			if b >= 1 {
				sum += 2 * d1[b] * second(b, b-1)
			}
			if b >= 2 {
				sum += 2 * d2[b] * second(b, b-2)
			}
		}
		p.scale[k] = math.Sqrt((roughnessDF + sum) / (roughnessDF + color.Bands - 1))
	}
	p.setPriors()
	return nil
}

// noiseCost is -2 ln of the prior of the noise. An instrument is rarely much
// better than usual; readings may well be worse, for reasons of the piece.
func noiseCost(n Noise) float64 {
	cost := func(sd, usual float64) float64 {
		d := math.Log(sd / usual)
		if d < 0 {
			d /= math.Log(1.25)
		} else {
			d /= math.Log(2)
		}
		return d * d
	}
	return cost(n.LabSD, usualNoise.LabSD) + cost(n.SpectrumSD, usualNoise.SpectrumSD)
}

// quieten chooses the noise by the marginal likelihood of the readings, by
// factors that shrink, and leaves x at the optimum under the best.
func (p *problem) quieten(ctx context.Context, x state, sys *minimize.Bordered) error {
	judge := func(y state) (float64, error) {
		if _, _, err := p.converge(ctx, y, sys, 0.3, 8); err != nil {
			return math.Inf(1), err
		}
		v, err := p.evidence(y, sys)
		return v + noiseCost(p.noise), err
	}
	best, err := judge(x)
	if err != nil {
		return err
	}
	knobs := []*float64{}
	if p.m > 0 {
		knobs = append(knobs, &p.noise.LabSD)
	}
	if p.byBand {
		knobs = append(knobs, &p.noise.SpectrumSD)
	}
	y := make(state, len(x))
	for _, knob := range knobs {
		for _, factor := range []float64{1.6, 1.2} {
			for _, f := range []float64{factor, 1 / factor} {
				for {
					old := *knob
					*knob *= f
					copy(y, x)
					v, err := judge(y)
					if ctx.Err() != nil {
						return ctx.Err()
					}
					if err != nil || v > best-0.2 {
						*knob = old
						break
					}
					best = v
					copy(x, y)
				}
			}
		}
	}
	return nil
}

// optimise brings x to the optimum with roughness and noise learnt.
func (p *problem) optimise(ctx context.Context, x state, progress func(string)) error {
	say := func(s string) {
		if progress != nil {
			progress(s)
		}
	}
	say("finding the curves")
	if err := p.anneal(ctx, x); err != nil {
		return err
	}
	sys := p.system()
	for range 2 {
		say("learning how rough each curve runs")
		if err := p.roughen(x, sys); err != nil {
			return err
		}
		if _, _, err := p.converge(ctx, x, sys, 0.3, 12); err != nil {
			return err
		}
	}
	say("weighing the noise of the readings")
	if err := p.quieten(ctx, x, sys); err != nil {
		return err
	}
	_, _, err := p.converge(ctx, x, sys, 1e-6, 40)
	return err
}

// Options of a fit. The zero value fits with every layer model and keeps the
// one whose left-out chips come out best.
type Options struct {
	Layer    string          // KubelkaMunk or ExactLayer; empty for the better
	Index    float64         // refractive index of the resin for ExactLayer; 0 for 1.50
	Surface  *Surface        // prior of k1 and k2 for KubelkaMunk; nil for DefaultSurface
	Noise    *Noise          // expected noise of a reading; nil for a usual handheld
	Main     color.Condition // condition of reports; zero for the first in evidence
	Progress func(step string)
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
	var trials []LayerModel
	if o.Layer == "" || o.Layer == KubelkaMunk {
		trials = append(trials, LayerModel{Name: KubelkaMunk})
	}
	if o.Layer == "" || o.Layer == ExactLayer {
		index := o.Index
		if index == 0 {
			index = 1.50
		}
		trials = append(trials, LayerModel{Name: ExactLayer, Index: index})
	}
	if len(trials) == 0 {
		return nil, fmt.Errorf("layer model %q is not known; use %s or %s", o.Layer, KubelkaMunk, ExactLayer)
	}
	var best *Calibration
	var tried []LayerTrial
	for _, model := range trials {
		c, err := fitWith(ctx, pigments, chips, model, o)
		if err != nil {
			return nil, err
		}
		tried = append(tried, c.Others...)
		if best == nil || c.Others[0].LogScore > best.Others[0].LogScore {
			best = c
		}
	}
	best.Others = tried
	return best, nil
}

// fitWith fits one layer model.
func fitWith(ctx context.Context, pigments []string, chips []Chip, model LayerModel, o Options) (*Calibration, error) {
	surface := defaultSurface
	if o.Surface != nil {
		surface = *o.Surface
	}
	if model.Name == KubelkaMunk {
		model.K1, model.K2 = surface.K1, surface.K2
	}
	l, err := model.build()
	if err != nil {
		return nil, err
	}
	noise := usualNoise
	if o.Noise != nil {
		noise = *o.Noise
	}
	p, err := newProblem(pigments, chips, l, surface, noise)
	if err != nil {
		return nil, err
	}
	x := p.flat()
	if err := p.optimise(ctx, x, func(s string) {
		if o.Progress != nil {
			o.Progress(l.Name() + ": " + s)
		}
	}); err != nil {
		return nil, err
	}
	return p.report(x, model, o.Main)
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
	c := &Calibration{Layer: model, Noise: p.noise, Posterior: post, Main: main}
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
		c.Main = color.Under(color.D65, color.TenDegree)
		if len(c.Lights) > 0 {
			c.Main = c.Lights[0]
		}
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
	inside, score := 0, 0.0
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
		score += m.credit(c.ModelError)
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
	c.Others = []LayerTrial{{Name: model.Name, MeanDE00: c.LeaveOut.MeanDE00, LogScore: score / float64(len(misses))}}
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
