package calibrate

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"masstone/calibrate/layer"
	"masstone/color"
)

// Noise is the standard deviation of one reading of a chip.
type Noise struct {
	LabSD      float64 // of each Lab channel
	SpectrumSD float64 // of the reflectance factor in each band
	// ScaleSD is that of a whole spectrum as a share of it, and OffsetSD in
	// reflectance factor, as of one surface against another. Learnt in a crooked shop.
	ScaleSD, OffsetSD float64 `json:",omitempty"`
}

// Surface is what is known of the surface constants of a Kubelka-Munk layer
// before any chip is read. A standard deviation of 0 holds the constant.
type Surface struct {
	K1, K1SD, K2, K2SD float64
}

// A reading is one chip prepared for the fit: names resolved to indices,
// conditions to weights.
type reading struct {
	chip        *Chip
	curve       []int     // curve index per component: 0 the resin, i+1 pigment i
	loading     []float64 // per component, 1 for the resin
	weighSD     []float64 // sd of the loading by the scale alone, 0 for exact
	loadingSD   []float64 // sd of the loading, strength scatter counted
	border      []int     // unknown of the component's loading among the castings' own, -1 for none
	thick       int       // that of the thickness, -1 for none
	waves       int       // first of the casting's discrepancy, that of K before that of S, -1 for none
	off         int       // of the reading itself: its scale, then its offset; -1 for none
	weights     []*color.Weights
	trust       float64 // 1, or less for a chip the fit distrusts
	open        float64 // sd by which a number may lie from what was read, beside the noise: what all lights share is told once
	recorded    *Chip   // the chip as recorded, where the fit takes it for another; or nil
	thickness   float64
	thicknessSD float64
	narrow      float64 // of the aperture, against that of most chips, per mm^2
	backing     [color.Bands]float64
}

// rows counts the numbers read.
func (r *reading) rows() int {
	if r.chip.Spectrum != nil {
		return color.Bands
	}
	return 3 * len(r.weights)
}

// unit is the standard deviation of one number read of r.
func (p *problem) unit(r *reading) float64 {
	if r.chip.Spectrum != nil {
		return p.noise.SpectrumSD
	}
	return math.Hypot(p.noise.LabSD, r.open)
}

// A casting is one cup that cured, with all that was read of it: what was in the
// cup, how thick it is and how it misses the law of mixing are the same in all
// its readings.
type casting struct {
	readings []int
	from, to int // its own unknowns: x[n+from : n+to]
}

// A problem is the joint fit of all chips: unknowns, evidence and priors.
//
// x holds a block per curve, ln K and ln S on all bands and, of a pigment, what
// its exponent is made of; then a block of what all share; then, from n on, the
// castings' own unknowns. All but the curves are of unit variance before the
// readings are heard.
type problem struct {
	pigments []string
	layer    layer.Layer
	readings []reading
	castings []casting
	surface  Surface // prior of k1 and k2, for a layer that has them
	k1, k2   int     // their unknowns, -1 when held
	crowd    int     // unknown of the crowding
	loss     int     // unknown of the light lost
	noise    Noise
	usual    Noise // what the noise is expected to be
	hyper    hyperparameters
	// openStrength is the strength scatter of a straight shop at its root mean square over
	// what is open of it; 0 before it was learnt
	openStrength float64
	// crookedChance is that a straight shop is crooked after all
	crookedChance float64

	curves    int   // 1 + pigments
	start     []int // first unknown of each block: of the curves, then of what all share
	n         int   // unknowns that castings share
	d         int   // unknowns of their own
	bySpectra bool

	scale  []float64                 // per curve and kind: how much rougher than usual it runs
	prec   [][3][color.Bands]float64 // precision bands per curve and kind
	levels []float64                 // prior level per curve and kind
	level  map[int]scatterLevel      // of each curve's ln S, once learnt
	loose  bool                      // curves keep to their levels no closer than these are known
	logDet float64                   // ln det of the prior precision
}

// unknown returns the position of band b of curve q's ln K (scatter false) or
// ln S.
func (p *problem) unknown(q int, scatter bool, b int) int {
	if scatter {
		b += color.Bands
	}
	return p.start[q] + b
}

// newProblem resolves the chips against the pigments.
func newProblem(pigments []string, chips []Chip, l layer.Layer, surface Surface, noise Noise) (*problem, error) {
	p := &problem{pigments: pigments, layer: l, surface: surface, k1: -1, k2: -1, level: map[int]scatterLevel{}, curves: len(pigments) + 1}
	index := map[string]int{}
	for i, code := range pigments {
		if _, twice := index[code]; twice {
			return nil, fmt.Errorf("pigment %s is listed twice", code)
		}
		index[code] = i + 1
	}
	named := map[string]int{} // castings by their name
	for i := range chips {
		c := &chips[i]
		if err := c.Check(); err != nil {
			return nil, err
		}
		r := reading{chip: c, trust: 1, open: c.OpenSD * math.Sqrt(float64(len(c.Labs))), thick: -1, waves: -1, off: -1, thickness: float64(c.Thickness), thicknessSD: float64(c.ThicknessSD), backing: c.Backing, narrow: c.narrow}
		r.add(0, 1, 0)
		for _, code := range c.pigments() {
			q, known := index[code]
			if !known {
				return nil, fmt.Errorf("chip %s: pigment %s is not among the pigments to fit; add it", c.Name, code)
			}
			r.add(q, float64(c.Loadings[code]), float64(c.WeighSD(code)))
		}
		if c.Spectrum != nil {
			p.bySpectra = true
		} else {
			for _, lab := range c.Labs {
				w, err := color.WeightsFor(lab.Under)
				if err != nil {
					return nil, fmt.Errorf("chip %s: %w", c.Name, err)
				}
				r.weights = append(r.weights, w)
			}
		}
		at, again := named[c.Casting]
		if again = again && c.Casting != "" && p.sameCup(&p.castings[at], c); !again {
			at = len(p.castings)
			p.castings = append(p.castings, casting{})
			if c.Casting != "" {
				named[c.Casting] = at
			}
		}
		p.castings[at].readings = append(p.castings[at].readings, i)
		p.readings = append(p.readings, r)
	}
	for k := range p.castings {
		p.own(&p.castings[k])
	}
	for q := range p.curves {
		p.start = append(p.start, p.n)
		p.n += perCurve
		if q > 0 {
			p.n++ // its exponent
		}
	}
	p.start = append(p.start, p.n)
	p.crowd, p.loss = p.n, p.n+1
	p.n += 2
	if _, ok := l.(layer.KubelkaMunk); ok && surface.K1SD > 0 && surface.K2SD > 0 {
		p.k1, p.k2 = p.n, p.n+1
		p.n += 2
	}
	p.noise, p.usual = noise, noise
	p.setPriors()
	return p, nil
}

// sameCup reports whether a chip may be of a casting: of its content, and as thick as
// what was read of the same part.
func (p *problem) sameCup(of *casting, c *Chip) bool {
	return !slices.ContainsFunc(of.readings, func(i int) bool {
		o := p.readings[i].chip
		return !maps.Equal(o.Loadings, c.Loadings) || o.Part == c.Part && (o.Thickness != c.Thickness || o.ThicknessSD != c.ThicknessSD)
	})
}

// own gives a casting its unknowns.
func (p *problem) own(c *casting) {
	c.from = p.d
	next := func(n int) (at int) {
		at = p.d
		p.d += n
		return at
	}
	first := &p.readings[c.readings[0]]
	for k, q := range first.curve {
		if q > 0 {
			first.border[k] = next(1)
		}
	}
	thick := map[string]int{} // of parts
	for _, i := range c.readings {
		if r := &p.readings[i]; r.thicknessSD > 0 {
			if _, has := thick[r.chip.Part]; !has {
				thick[r.chip.Part] = next(1)
			}
			r.thick = thick[r.chip.Part]
		}
	}
	first.waves = next(2 * errorWaves)
	for _, i := range c.readings {
		r := &p.readings[i]
		r.border, r.waves = first.border, first.waves
		r.off = next(2)
	}
	c.to = p.d
}

// isStraight reports whether mixtures keep to the law of mixing and readings to their
// scale.
func (p *problem) isStraight() bool {
	h := &p.hyper
	return h.k == 0 && h.s == 0 && h.scale == 0 && h.offset == 0 && h.bent == 0
}

// strays is how many of a casting's own unknowns may be other than 0: in a
// straight shop those before its waves.
func (p *problem) strays(c *casting) int {
	if p.isStraight() {
		return p.readings[c.readings[0]].waves - c.from
	}
	return c.to - c.from
}

func (r *reading) add(curve int, loading, sd float64) {
	r.curve = append(r.curve, curve)
	r.loading = append(r.loading, loading)
	r.weighSD = append(r.weighSD, sd)
	r.loadingSD = append(r.loadingSD, sd)
	r.border = append(r.border, -1)
}

// setHyper sets how far things stray. What x says of them stays what it is, where
// there is room for it.
func (p *problem) setHyper(to hyperparameters, x state) {
	from := p.hyper
	p.hyper = to
	carry := func(at int, old, new float64) {
		if old == new {
			return
		}
		if new <= 0 {
			x[at] = 0
			return
		}
		x[at] = inside(x[at]*old/new, -5, 5)
	}
	if to.bent != from.bent { // v = bent (mean + sd e) stays
		again := func(at int, mean, sd float64) {
			if x[at] = inside((from.bent/to.bent*(mean+sd*x[at])-mean)/sd, -5, 5); to.bent == 0 {
				x[at] = 0
			}
		}
		for q := 1; q < p.curves; q++ {
			again(p.start[q]+perCurve, lnExponent, lnExponentSD)
		}
		again(p.crowd, crowding, crowdingSD)
	}
	for i := range p.castings {
		c := &p.castings[i]
		for n, k := range c.readings {
			r := &p.readings[k]
			for e, at := range r.border {
				if at < 0 {
					continue
				}
				old := r.loadingSD[e]
				r.loadingSD[e] = math.Hypot(r.weighSD[e], to.strength*r.loading[e])
				if n == 0 {
					carry(p.n+at, old, r.loadingSD[e])
				}
			}
			if n == 0 {
				for e := range errorWaves {
					carry(p.n+r.waves+e, from.k, to.k)
					carry(p.n+r.waves+errorWaves+e, from.s, to.s)
				}
			}
			if r.off >= 0 {
				carry(p.n+r.off, from.scale, to.scale)
				carry(p.n+r.off+1, from.offset, to.offset)
			}
		}
	}
}

// setPriors installs the priors at the present scales.
func (p *problem) setPriors() {
	if p.scale == nil {
		p.scale = make([]float64, 2*p.curves)
		for k := range p.scale {
			p.scale[k] = 1
		}
	}
	p.prec = make([][3][color.Bands]float64, 2*p.curves)
	p.levels = make([]float64, 2*p.curves)
	p.logDet = 0
	for k := range p.prec {
		s := usual(k/2, k%2 == 1).rougher(p.scale[k])
		if v, learnt := p.level[k/2]; learnt && k%2 == 1 {
			s.Level, s.Spread = v.ln, pigmentSpread
			if k == 1 {
				s.Spread = resinSpread
			}
			if p.loose {
				s.Spread = math.Hypot(s.Spread, v.sd)
			}
		}
		d0, d1, d2 := s.precision()
		p.prec[k] = [3][color.Bands]float64{d0, d1, d2}
		p.levels[k] = s.Level
		p.logDet += s.logDet()
	}
}

// layerAt returns the layer with the surface constants of x.
func (p *problem) layerAt(x state) layer.Layer {
	if p.k1 < 0 {
		return p.layer
	}
	return layer.KubelkaMunk{
		K1: inside(p.surface.K1+p.surface.K1SD*x[p.k1], 0, 0.2),
		K2: inside(p.surface.K2+p.surface.K2SD*x[p.k2], 0, 0.95),
	}
}

func inside(v, lo, hi float64) float64 { return math.Min(math.Max(v, lo), hi) }
