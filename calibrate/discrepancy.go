package calibrate

import (
	"fmt"
	"math"

	"masstone/calibrate/layer"
	"masstone/color"
)

// discrepancyRank is how many waves a discrepancy is made of.
const discrepancyRank = 6

// A discrepancy is how a mixture deviates from the layer model (the model
// discrepancy of Kennedy and O'Hagan, J. R. Stat. Soc. B 63, 425 (2001)): its
// reflectance factor is the model's times 1 + x, with x a smooth function of
// wavelength,
//
//	x(b) = sum over r of z_r Size cos(pi r (b + 1/2) / bands) / (1 + r)
//
// whose shape is common practice without a source. Parts of one target deviate
// alike, so what one of them shows counts for the next.
type discrepancy struct {
	Size  float64              // standard deviation of the first wave before any reading
	Shift [color.Bands]float64 // x as it is now believed to be
}

// waves are the functions of a discrepancy of size 1.
var waves = func() (out [discrepancyRank][color.Bands]float64) {
	for r := range out {
		for b := range out[r] {
			out[r][b] = math.Cos(math.Pi*float64(r)*(float64(b)+0.5)/color.Bands) / float64(1+r)
		}
	}
	return out
}()

// discrepancySize is the size that makes a colour of reflectance factor r deviate
// by sd CIEDE2000 units per direction.
func discrepancySize(sd float64, r *[color.Bands]float64, under *color.Weights) float64 {
	var lab [3]float64
	var jac [3][color.Bands]float64
	under.LabWithJacobian((*color.Reflectance)(r), &lab, &jac)
	m := color.Metric00(lab)
	d := discrepancy{Size: 1}
	sum := 0.0
	for k := range discrepancyRank {
		var v [3]float64
		for t := range v {
			v[t] = d.slope(k, &jac[t], r)
		}
		for i := range v {
			for j := range v {
				sum += v[i] * m[i][j] * v[j]
			}
		}
	}
	return sd * math.Sqrt(3/math.Max(sum, 1e-12))
}

// check refuses a discrepancy that no mixture has.
func (d *discrepancy) check() error {
	if !(d.Size >= 0 && d.Size <= 1e3) {
		return fmt.Errorf("posterior: a departure of size %g", d.Size)
	}
	for _, x := range d.Shift {
		if !(math.Abs(x) <= 1e3) {
			return fmt.Errorf("posterior: a departure by %g", x)
		}
	}
	return nil
}

// slope is the derivative by z_k of a quantity whose derivative by the
// reflectance factor r is jac.
func (d *discrepancy) slope(k int, jac, r *[color.Bands]float64) float64 {
	sum := 0.0
	for b, w := range waves[k] {
		sum += jac[b] * r[b] * w
	}
	return sum * d.Size
}

// apply changes the answer of the layer model. A nil discrepancy changes nothing.
func (d *discrepancy) apply(p *layer.Partials) {
	if d == nil {
		return
	}
	for b, x := range d.Shift {
		f := math.Max(1+x, 0)
		p.R[b] *= f
		p.DK[b] *= f
		p.DS[b] *= f
		p.DX[b] *= f
		p.DG[b] *= f
	}
}
