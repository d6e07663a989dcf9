package calibrate

import (
	"math"
	"slices"

	"masstone/calibrate/layer"
	"masstone/color"
)

// report turns the optimum into a calibration.
func (p *problem) report(x state, model LayerModel, main color.Condition) (*Calibration, error) {
	sys := p.system()
	left, err := p.leaveOut(x, sys)
	if err != nil {
		return nil, err
	}
	// what predictions count of the hyperparameters counts in the bars of the curves too
	was, isStraight := p.hyper, p.isStraight()
	open := was
	if isStraight {
		open = was.doubted(p.crookedChance)
	}
	x = slices.Clone(x)
	p.setHyper(open, x)
	p.loose = true
	p.setPriors()
	defer func() {
		p.setHyper(was, x)
		p.loose = false
		p.setPriors()
	}()
	if err := p.inform(x, sys); err != nil {
		return nil, err
	}
	post, err := p.compact(x, sys)
	if err != nil {
		return nil, err
	}
	// portions to come scatter by what is open of it; the curves' bars are the chips'
	scatter := p.hyper.strength
	if isStraight {
		least := was
		least.strength = math.Max(was.strength, p.openStrength)
		scatter = least.doubted(p.crookedChance).strength
	}
	c := &Calibration{Layer: model, Noise: p.noise, Scatter: scatter, CastingError: CastingError{K: p.hyper.k, S: p.hyper.s}, Posterior: post, Main: main}
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
	c.Noise.ScaleSD, c.Noise.OffsetSD = p.hyper.scale, p.hyper.offset
	c.Law, _ = p.law(x)
	for q := range c.Law.ExponentSD {
		if q > 0 {
			cov, _ := sys.Inverse(q, q)
			c.Law.ExponentSD[q] = c.Law.Exponents[q] * c.Law.Bent * lnExponentSD * math.Sqrt(math.Max(cov[perCurve*(sys.Size(q)+1)], 0))
		}
	}
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
	if !isStraight { // chips do not show how far the law bends where none was cast
		c.ModelError.Widen = math.Max(1, c.ModelError.Widen)
	}
	var all []float64
	inside := 0
	for i := range p.readings {
		r := &p.readings[i]
		m := &misses[i]
		p.reflect(r, x, &w)
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
			if e >= 0 && r.loadingSD[k] > 0 {
				if rep.Weighed == nil {
					rep.Weighed = map[string]PHR{}
				}
				rep.Weighed[p.pigments[r.curve[k]-1]] = PHR(r.loadingAt(p, x, k))
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

// curveBars fills the standard deviations of the curves, where sys is informed.
func (p *problem) curveBars(c *Calibration, sys *system) {
	for q := range p.curves {
		cov, _ := sys.Inverse(q, q)
		for b := range color.Bands {
			c.Curves[q].KSD[b] = math.Sqrt(math.Max(cov[b*(sys.Size(q)+1)], 0))
			c.Curves[q].SSD[b] = math.Sqrt(math.Max(cov[(color.Bands+b)*(sys.Size(q)+1)], 0))
		}
	}
}

// surfaceVariance returns the posterior variances of k1 and k2.
func (p *posterior) surfaceVariance() [2]float64 {
	at, n := 0, p.width()
	for _, r := range p.Rank[:len(p.Rank)-1] {
		at += r
	}
	return [2]float64{p.Cov[packed(at, at, n)], p.Cov[packed(at+1, at+1, n)]}
}
