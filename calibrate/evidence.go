package calibrate

import (
	"fmt"

	"masstone/calibrate/layer"
	"masstone/calibrate/minimize"
	"masstone/color"
)

// hyper holds what the fit learns about its own priors and noise.
type hyper struct {
	BendK, BendS float64 // smoothness of ln K and ln S
	LabSD        float64 // sd of one Lab channel
	SpectrumSD   float64 // sd of one band's reflectance factor
}

// A reading is one chip prepared for the fit: names resolved to indices,
// conditions to weights.
type reading struct {
	chip      *Chip
	curve     []int     // curve index per component: 0 the resin, i+1 pigment i
	loading   []float64 // per component, 1 for the resin
	weigh     []float64 // sd of the loading, 0 for exact
	border    []int     // border unknown of the component, -1 for none
	thick     int       // border unknown of the thickness, -1 for none
	weights   []*color.Weights
	firstRow  int     // first of its 3 x len(weights) far-reaching rows
	trust     float64 // 1, or less for a reading the robust fit distrusts
	thickness float64
	backing   [color.Bands]float64
}

// A problem is the joint fit of all chips: unknowns, evidence and priors.
type problem struct {
	pigments []string
	layer    layer.Layer
	readings []reading
	hyper    hyper
	prior    func(curve int, scatter bool, h hyper) smoothness

	curves int // 1 + pigments
	n      int // local unknowns: 2 x curves x bands
	d      int // border unknowns
	m      int // far-reaching rows
	byBand bool

	prec   [][3][color.Bands]float64 // precision bands per curve and kind
	levels []float64                 // prior level per curve and kind
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
func newProblem(pigments []string, chips []Chip, l layer.Layer, h hyper, prior func(int, bool, hyper) smoothness) (*problem, error) {
	p := &problem{pigments: pigments, layer: l, curves: len(pigments) + 1, prior: prior}
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
	p.n = 2 * p.curves * color.Bands
	p.setHyper(h)
	return p, nil
}

func (r *reading) add(curve int, loading, sd float64, border int) {
	r.curve = append(r.curve, curve)
	r.loading = append(r.loading, loading)
	r.weigh = append(r.weigh, sd)
	r.border = append(r.border, border)
}

// setHyper installs new priors and noise levels.
func (p *problem) setHyper(h hyper) {
	p.hyper = h
	p.prec = make([][3][color.Bands]float64, 2*p.curves)
	p.levels = make([]float64, 2*p.curves)
	p.logDet = 0
	known := map[smoothness]float64{}
	for k := range p.prec {
		s := p.prior(k/2, k%2 == 1, h)
		d0, d1, d2 := s.precision()
		p.prec[k] = [3][color.Bands]float64{d0, d1, d2}
		p.levels[k] = s.Level
		if _, ok := known[s]; !ok {
			known[s] = s.logDet()
		}
		p.logDet += known[s]
	}
}

// system allocates normal equations of this problem's shape.
func (p *problem) system() *minimize.Bordered {
	width := 2
	if p.byBand {
		width = 4 * p.curves
	}
	return minimize.NewBordered(p.n, p.d, p.m, width)
}
