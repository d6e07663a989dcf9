package calibrate

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"masstone/color"
)

// CarriedStrength is by how much a paste is as strong in one resin as in another, a
// standard deviation of its ln. Common practice, no source.
const CarriedStrength = 0.15

// Carry returns the calibration of a new resin from a few of its chips and what
// another resin's calibration knows of the same pastes. The shape of their curves is
// believed as far as that posterior does; how strong each is in the new resin is
// free within CarriedStrength, and resin and surface are free as in a fit:
//
//	ln K_i, ln S_i of the new resin = those of the old + a_i, a_i ~ N(0, 0.15^2)   (1)
//
// Learn's equations then find them. Of an exact layer the index is the one by which
// the chips are likeliest, of those usual in resins. Pastes that no chip holds keep
// the prior (1) and its wider bars.
func (c *Calibration) Carry(ctx context.Context, chips []Chip, o Options) (*Calibration, error) {
	if len(chips) == 0 {
		return nil, fmt.Errorf("no chips to fit; import some")
	}
	measurements, err := measurementsOf(chips)
	if err != nil {
		return nil, err
	}
	o.step("hearing the chips")
	var best *carried
	var tried []indexTried
	for _, index := range c.indices(o) {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		prior, err := c.inNewResin(chips, index)
		if err != nil {
			return nil, err
		}
		k, err := prior.hear(chips)
		if err != nil {
			return nil, err
		}
		if index > 0 {
			beyond := (index - usualIndex) / indexSpread
			k.evidence += beyond * beyond
		}
		tried = append(tried, indexTried{index, k.evidence})
		if best == nil || k.evidence < best.evidence {
			best = k
		}
	}
	out := best.cal
	out.Layer.IndexSD = indexSD(tried)
	out.Layer.SurfaceKnown = len(tried) > 1 && out.Layer.IndexSD < indexSpread/2
	if out.Layer.Name == KubelkaMunk {
		out.Layer.SurfaceKnown = out.Layer.K2SD > 0 && out.Layer.K2SD < 0.5*defaultSurface.K2SD
	}
	out.Measurements, out.Warnings = measurements, nil
	if o.Main != (color.Condition{}) {
		out.Main = o.Main
	}
	for i := range chips {
		for _, lab := range chips[i].Labs {
			if chips[i].Spectrum == nil && !slices.Contains(out.Lights, lab.Under) {
				out.Lights = append(out.Lights, lab.Under)
			}
		}
		out.Spectral = out.Spectral || chips[i].Spectrum != nil
	}
	o.step("leaving each chip out in turn")
	if err := best.leaveOut(ctx, chips); err != nil {
		return nil, err
	}
	return out, nil
}

// indices are those to try; 0 where the layer has none.
func (c *Calibration) indices(o Options) []float64 {
	switch {
	case c.Layer.Name != ExactLayer:
		return []float64{0}
	case o.Index != 0:
		return []float64{o.Index}
	}
	return []float64{1.42, 1.45, 1.48, 1.50, 1.52, 1.55, 1.58} // of casting resins; from memory
}

// An indexTried is an index and -2 ln of how likely it is.
type indexTried struct{ index, evidence float64 }

// indexSD is what they leave open of the index: each stands for all that are nearer to
// it than to its neighbours. 0 where none was asked for.
func indexSD(all []indexTried) float64 {
	if len(all) < 2 {
		return 0
	}
	best := slices.MinFunc(all, func(a, b indexTried) int { return cmp.Compare(a.evidence, b.evidence) }).evidence
	var sum, first, second float64
	for _, t := range all {
		w := math.Exp((best - t.evidence) / 2)
		sum, first, second = sum+w, first+w*t.index, second+w*t.index*t.index
	}
	first, second = first/sum, second/sum
	const step = 0.025 // at most, between those tried
	return math.Sqrt(math.Max(second-first*first, 0) + step*step/12)
}

// inNewResin returns what is known of the pastes in a resin of which nothing is
// known.
func (c *Calibration) inNewResin(chips []Chip, index float64) (*Calibration, error) {
	drift := map[string]float64{}
	for _, code := range c.Codes() {
		drift[code] = CarriedStrength
	}
	out, err := c.NewLot(drift)
	if err != nil {
		return nil, err
	}
	if index > 0 && index != c.Layer.Index {
		out.Layer.Index = index
		if out.model, err = out.Layer.build(); err != nil {
			return nil, err
		}
	}
	p, err := newProblem(out.Codes(), through(chips, out.Aperture), out.model, Surface{}, out.Noise)
	if err != nil {
		return nil, err
	}
	basis, err := openResin(p.shows(out.asState(p))[0])
	if err != nil {
		return nil, err
	}
	post, w := out.Posterior, out.ModelError.widening()
	old, n := post.dense(), post.width()
	was := post.Rank[0]
	rank, _ := basis.Dims()
	surface, law := n-post.Law, n-post.Law // first of what is of the surface, of the law
	if len(post.Rank) > len(out.Curves) {
		surface -= 2
	}
	post.Basis = append(append(floats{}, basis.RawMatrix().Data...), post.Basis[was*perCurve:]...)
	post.Rank[0] = rank
	cov := mat.NewSymDense(n-was+rank, nil)
	for i := range rank {
		cov.SetSym(i, i, 1/(w*w))
	}
	for i := was; i < n; i++ {
		for k := i; k < n; k++ {
			if (i >= surface && i < law) || (k >= surface && k < law) {
				continue // the other resin's
			}
			cov.SetSym(i-was+rank, k-was+rank, old.At(i, k))
		}
	}
	if surface < law {
		out.Layer.K1, out.Layer.K2 = defaultSurface.K1, defaultSurface.K2
		if out.model, err = out.Layer.build(); err != nil {
			return nil, err
		}
		for i, sd := range []float64{defaultSurface.K1SD, defaultSurface.K2SD} {
			cov.SetSym(surface+i-was+rank, surface+i-was+rank, sd*sd/(w*w))
		}
	}
	post.pack(cov)
	for b := range color.Bands {
		var k, s float64
		for r := range rank {
			k = math.Hypot(k, basis.At(r, b))
			s = math.Hypot(s, basis.At(r, color.Bands+b))
		}
		out.Curves[0].KSD[b], out.Curves[0].SSD[b] = k, s
	}
	return out, nil
}

// asState is the calibration's curves as a problem's.
func (c *Calibration) asState(p *problem) state {
	x := make(state, p.n+p.d)
	for q := range c.Curves {
		for b := range color.Bands {
			x[p.unknown(q, false, b)] = math.Log(math.Max(c.Curves[q].K[b], 1e-300))
			x[p.unknown(q, true, b)] = math.Log(math.Max(c.Curves[q].S[b], 1e-300))
		}
	}
	return x
}

// openResin are the directions of a resin of which nothing is known, as usual has it,
// those first that show most.
func openResin(show *mat.SymDense) (*mat.Dense, error) {
	cov := mat.NewSymDense(perCurve, nil)
	for kind, scatter := range []bool{false, true} {
		d0, d1, d2 := usual(0, scatter).precision()
		prec := mat.NewSymDense(color.Bands, nil)
		for b := range color.Bands {
			for gap, d := range [][color.Bands]float64{d0, d1, d2} {
				if b >= gap {
					prec.SetSym(b, b-gap, d[b])
				}
			}
		}
		var chol mat.Cholesky
		var inv mat.SymDense
		if !chol.Factorize(prec) || chol.InverseTo(&inv) != nil {
			return nil, fmt.Errorf("what is usual of a resin is no distribution")
		}
		at := kind * color.Bands
		for a := range color.Bands {
			for b := a; b < color.Bands; b++ {
				cov.SetSym(at+a, at+b, inv.At(a, b))
			}
		}
	}
	// all of them: bare chips show what hardly shows in mixtures, and what has no room
	// in the resin would go into the surface
	basis, _, _, _, err := directions(cov, show, math.Inf(1), perCurve)
	return basis, err
}

// A carried is a calibration of a new resin and how it came about.
type carried struct {
	prior, cal *Calibration
	learned    Learned
	evidence   float64 // -2 ln likelihood of the chips, up to a constant
}

// hear learns the chips.
func (c *Calibration) hear(chips []Chip) (*carried, error) {
	o := LearnOptions{Scatter: c.Scatter}
	cal, learned, err := c.Learn(chips, o)
	if err != nil {
		return nil, err
	}
	k := &carried{prior: c, cal: cal, learned: learned}
	l, err := newUpdate(c, chips, o)
	if err != nil {
		return nil, err
	}
	x := make([]float64, l.n)
	if _, err := l.converge(x); err != nil {
		return nil, err
	}
	var chol mat.Cholesky
	if !chol.Factorize(l.information(x)) {
		return nil, fmt.Errorf("the readings of %s leave the range of numbers; read it again", chips[0].Name)
	}
	k.evidence = l.cost(x) + chol.LogDet()
	return k, nil
}

// leaveOut fills the reports of the chips: what would be said of each had it not been
// read, by hearing the others alone.
func (k *carried) leaveOut(ctx context.Context, chips []Chip) error {
	c := k.cal
	c.Chips, c.LeaveOut, c.Suspects = nil, LeaveOutSummary{}, nil
	var all []float64
	inside := 0.0
	for i, heard := range k.learned.Chips {
		if err := ctx.Err(); err != nil {
			return err
		}
		rep := ChipReport{Chip: heard.Chip, Measured: heard.Measured, Fitted: heard.After, Weighed: heard.Weighed}
		rep.DE00 = color.Delta00(rep.Measured.Values(), rep.Fitted.Values())
		others := slices.DeleteFunc(slices.Clone(chips), func(o Chip) bool {
			return chips[i].Casting != "" && o.Casting == chips[i].Casting || o.Name == chips[i].Name
		})
		without, _, err := k.prior.Learn(others, LearnOptions{Scatter: c.Scatter})
		if err != nil {
			return err
		}
		chip := &chips[i]
		said, err := without.Predict(chip.Sample(), rep.Measured.Under)
		if err != nil {
			return err
		}
		p := said.Colors[0]
		rep.LeftOut, rep.LeftDE00 = p.Lab, color.Delta00(rep.Measured.Values(), p.Lab.Values())
		cov := p.Cov
		for t := range cov {
			cov[t][t] += c.Noise.LabSD*c.Noise.LabSD + chip.OpenSD*chip.OpenSD
		}
		inv, a, b := inverse3(cov), rep.Measured.Values(), p.Lab.Values()
		z2 := 0.0
		for s := range a {
			for t := range a {
				z2 += (a[s] - b[s]) * inv[s][t] * (a[t] - b[t])
			}
		}
		rep.Sigma, rep.Inside = sigma(z2), z2 <= chi95
		// a resin that no bare chip shows lies beyond what its slopes tell
		bare := func(o Chip) bool { return len(o.pigments()) == 0 }
		if p.Cov[0][0]+p.Cov[1][1]+p.Cov[2][2] > 3*vague*vague*c.Noise.LabSD*c.Noise.LabSD || bare(*chip) && !slices.ContainsFunc(others, bare) {
			rep.Vague, rep.Sigma, rep.Inside = true, 0, true
		} else {
			all = append(all, rep.LeftDE00)
			if rep.Inside {
				inside++
			}
		}
		c.Chips = append(c.Chips, rep)
	}
	if n := len(all); n > 0 {
		slices.Sort(all)
		c.LeaveOut = LeaveOutSummary{Chips: n, MedianDE00: all[n/2], Coverage95: inside / float64(n)}
		for _, v := range all {
			c.LeaveOut.MeanDE00 += v / float64(n)
		}
	}
	c.Others = []LayerTrial{{Name: c.Layer.Name, Index: c.Layer.Index, Anisotropy: c.Layer.Anisotropy, MeanDE00: c.LeaveOut.MeanDE00, LogLikelihood: -k.evidence / 2, Weight: 1}}
	return nil
}
