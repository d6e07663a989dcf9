package color

import "sync"

// Weights turn a reflectance on the model grid into tristimulus values: the
// 10 nm weights of ASTM E308, computed by ASTM E2022 (4), with the weights
// outside 400-700 nm folded into the end bands.
type Weights struct {
	W     [3][Bands]float64 // rows X, Y, Z; Y of the perfect diffuser sums to 100
	White [3]float64        // row sums: the perfect diffuser by these weights
	Under Condition
}

// WeightsFor gives the weights of a condition. The value is the caller's own
// copy: ask once and keep it. The error is an unknown illuminant or observer.
func WeightsFor(c Condition) (*Weights, error) {
	w, err := shared(c)
	if err != nil {
		return nil, err
	}
	own := *w
	return &own, nil
}

// shared gives the one set of weights of a condition, which must not change.
func shared(c Condition) (*Weights, error) {
	if err := c.Check(); err != nil {
		return nil, err
	}
	return allWeights()[c], nil
}

var allWeights = sync.OnceValue(func() map[Condition]*Weights {
	all := map[Condition]*Weights{}
	for _, illuminant := range Illuminants() {
		for _, observer := range []Observer{TwoDegree, TenDegree} {
			c := Condition{illuminant, observer}
			w := &Weights{Under: c}
			for band, v := range stepWeights(c, FirstNM, StepNM, Bands) {
				for k := range v {
					w.W[k][band] = v[k]
					w.White[k] += v[k]
				}
			}
			all[c] = w
		}
	}
	return all
})

// stepWeights computes the weights of bands firstNM, firstNM+step, ... by ASTM
// E2022: the reflectance between bands is taken from the Lagrange polynomial
// through its neighbours, so every nm of light times observer is shared out
// over the bands of that polynomial (4). Weights of bands that were not
// measured are added to the first or last one that was (ASTM E308).
func stepWeights(c Condition, firstNM, step, bands int) [][3]float64 {
	t := tables()
	match, power := t.matching[c.Observer], t.power[c.Illuminant]
	sum := 0.0
	for i := range power {
		sum += power[i] * match[1][i]
	}
	k := 100 / sum // (2)

	// The full grid in step with the bands, starting at or above 360 nm.
	gridFirst := spanFirst + ((firstNM-spanFirst)%step+step)%step
	nodes := (spanLast-gridFirst)/step + 1
	out := make([][3]float64, bands)
	for i := range power {
		first, share := lagrange(float64(spanFirst+i-gridFirst)/float64(step), nodes)
		for j, l := range share {
			nm := gridFirst + (first+j)*step
			band := min(max((nm-firstNM)/step, 0), bands-1)
			for v := range match {
				out[band][v] += k * power[i] * match[v][i] * l // (4)
			}
		}
	}
	return out
}

// XYZ gives the tristimulus values of r, Y = 100 for the perfect diffuser.
func (w *Weights) XYZ(r *Reflectance) XYZ {
	t := w.tristimulus(r)
	return XYZ{t[0], t[1], t[2], w.Under}
}

// Lab gives CIELAB 1976 of r against the white of these weights.
func (w *Weights) Lab(r *Reflectance) Lab {
	return labOf(w.tristimulus(r), w.White, w.Under)
}

func (w *Weights) tristimulus(r *Reflectance) [3]float64 {
	var x, y, z float64
	for i, v := range r { // (5)
		x += w.W[0][i] * v
		y += w.W[1][i] * v
		z += w.W[2][i] * v
	}
	return [3]float64{x, y, z}
}

// LabWithJacobian computes L*, a*, b* of r into lab and their derivatives by
// the reflectance factor of each band into jac: jac[0][i] is dL*/dR of band i.
// It allocates nothing.
func (w *Weights) LabWithJacobian(r *Reflectance, lab *[3]float64, jac *[3][Bands]float64) {
	t := w.tristimulus(r)
	fx, sx := compressSlope(t[0] / w.White[0])
	fy, sy := compressSlope(t[1] / w.White[1])
	fz, sz := compressSlope(t[2] / w.White[2])
	lab[0], lab[1], lab[2] = 116*fy-16, 500*(fx-fy), 200*(fy-fz) // (6)
	sx /= w.White[0]
	sy /= w.White[1]
	sz /= w.White[2]
	for i := range jac[0] { // (6) by the chain rule
		x, y, z := sx*w.W[0][i], sy*w.W[1][i], sz*w.W[2][i]
		jac[0][i] = 116 * y
		jac[1][i] = 500 * (x - y)
		jac[2][i] = 200 * (y - z)
	}
}
