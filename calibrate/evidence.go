package calibrate

import (
	"fmt"
	"math"

	"masstone/calibrate/layer"
	"masstone/calibrate/minimize"
	"masstone/color"
)

// Noise is the standard deviation of one reading of a chip.
type Noise struct {
	LabSD      float64 // of each Lab channel
	SpectrumSD float64 // of the reflectance factor in each band
}

// Surface is what is known of the surface constants of a Kubelka-Munk layer
// before any chip is read. A standard deviation of 0 holds the constant.
type Surface struct {
	K1, K1SD, K2, K2SD float64
}

// A reading is one chip prepared for the fit: names resolved to indices,
// conditions to weights.
type reading struct {
	chip      *Chip
	curve     []int     // curve index per component: 0 the resin, i+1 pigment i
	loading   []float64 // per component, 1 for the resin
	scaleSD   []float64 // sd of the loading by the scale alone, 0 for exact
	loadingSD []float64 // sd of the loading, strength scatter counted
	border    []int     // border unknown of the component, -1 for none
	thick     int       // border unknown of the thickness, -1 for none
	weights   []*color.Weights
	firstRow  int     // first of its 3 x len(weights) far-reaching rows
	trust     float64 // 1, or less for a chip the fit distrusts
	recorded  *Chip   // the chip as recorded, where the fit takes it for another; or nil
	thickness float64
	backing   [color.Bands]float64
}

// A problem is the joint fit of all chips: unknowns, evidence and priors.
type problem struct {
	pigments   []string
	layer      layer.Layer
	readings   []reading
	surface    Surface // prior of k1 and k2, for a layer that has them
	k1, k2     int     // their border unknowns, -1 when held
	noise      Noise
	usual      Noise   // what the noise is expected to be
	strengthSD float64 // sd of ln strength of a paste from chip to chip

	curves int // 1 + pigments
	n      int // local unknowns: 2 x curves x bands
	d      int // border unknowns
	m      int // far-reaching rows
	byBand bool

	scale  []float64                 // per curve and kind: how much rougher than usual it runs
	prec   [][3][color.Bands]float64 // precision bands per curve and kind
	levels []float64                 // prior level per curve and kind
	level  map[int]float64           // of each curve's ln S, once learnt
	logDet float64                   // ln det of the prior precision
}

// unknown returns the position of band b of curve q's ln K (scatter false) or
// ln S. With spectra in evidence the bands of all curves stand together, since
// a spectral reading ties curves within a band; with colours alone each curve
// stands by itself, since only smoothness is local.
func (p *problem) unknown(q int, scatter bool, b int) int {
	k := 2 * q
	if scatter {
		k++
	}
	if p.byBand {
		return b*2*p.curves + k
	}
	return k*color.Bands + b
}

// newProblem resolves the chips against the pigments.
func newProblem(pigments []string, chips []Chip, l layer.Layer, surface Surface, noise Noise) (*problem, error) {
	p := &problem{pigments: pigments, layer: l, surface: surface, k1: -1, k2: -1, level: map[int]float64{}, curves: len(pigments) + 1}
	index := map[string]int{}
	for i, code := range pigments {
		if _, twice := index[code]; twice {
			return nil, fmt.Errorf("pigment %s is listed twice", code)
		}
		index[code] = i + 1
	}
	for i := range chips {
		c := &chips[i]
		if err := c.Check(); err != nil {
			return nil, err
		}
		r := reading{chip: c, trust: 1, thick: -1, thickness: float64(c.Thickness), backing: c.Backing}
		r.add(0, 1, 0, -1)
		for _, code := range c.pigments() {
			q, known := index[code]
			if !known {
				return nil, fmt.Errorf("chip %s: pigment %s is not among the pigments to fit; add it", c.Name, code)
			}
			sd, border := float64(c.WeighSD(code)), -1
			if sd > 0 {
				border = p.d
				p.d++
			}
			r.add(q, float64(c.Loadings[code]), sd, border)
		}
		if c.ThicknessSD > 0 {
			r.thick = p.d
			p.d++
		}
		if c.Spectrum != nil {
			p.byBand = true
		} else {
			r.firstRow = p.m
			for _, lab := range c.Labs {
				w, err := color.WeightsFor(lab.Under)
				if err != nil {
					return nil, fmt.Errorf("chip %s: %w", c.Name, err)
				}
				r.weights = append(r.weights, w)
				p.m += 3
			}
		}
		p.readings = append(p.readings, r)
	}
	if _, ok := l.(layer.KubelkaMunk); ok && surface.K1SD > 0 && surface.K2SD > 0 {
		p.k1, p.k2 = p.d, p.d+1
		p.d += 2
	}
	p.n = 2 * p.curves * color.Bands
	p.noise, p.usual = noise, noise
	p.setPriors()
	return p, nil
}

func (r *reading) add(curve int, loading, sd float64, border int) {
	r.curve = append(r.curve, curve)
	r.loading = append(r.loading, loading)
	r.scaleSD = append(r.scaleSD, sd)
	r.loadingSD = append(r.loadingSD, sd)
	r.border = append(r.border, border)
}

// setStrengthScatter sets how far the strengths of pastes scatter from chip to chip. The
// loadings of x stay what they are.
func (p *problem) setStrengthScatter(sd float64, x state) {
	p.strengthSD = sd
	for i := range p.readings {
		r := &p.readings[i]
		for k, e := range r.border {
			if e < 0 {
				continue
			}
			old := r.loadingSD[k]
			r.loadingSD[k] = math.Hypot(r.scaleSD[k], sd*r.loading[k])
			x[p.n+e] *= old / r.loadingSD[k]
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
			s.Level, s.Spread = v, pigmentSpread
			if k == 1 {
				s.Spread = resinSpread
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
		K1: inside(p.surface.K1+p.surface.K1SD*x[p.n+p.k1], 0, 0.2),
		K2: inside(p.surface.K2+p.surface.K2SD*x[p.n+p.k2], 0, 0.95),
	}
}

func inside(v, lo, hi float64) float64 { return math.Min(math.Max(v, lo), hi) }

// system allocates normal equations of this problem's shape.
func (p *problem) system() *minimize.Bordered {
	width := 2
	if p.byBand {
		width = 4 * p.curves
	}
	return minimize.NewBordered(p.n, p.d, p.m, width)
}
