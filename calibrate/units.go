package calibrate

// PHR is a loading: grams of pigment paste per 100 grams of mixed resin. The
// paste comes on top of the resin: a 2 phr batch of 100 g resin weighs 102 g.
type PHR float64

// ThicknessMM is a layer's thickness in millimetres.
type ThicknessMM float64

// Grams is a mass.
type Grams float64

// ApertureMM is the radius of what an instrument lights and sees, in millimetres;
// 0 stands for one so wide that no light is lost past it.
type ApertureMM float64

// narrow is the inverse square of the radius, 0 for a wide aperture.
func (r ApertureMM) narrow() float64 {
	if r <= 0 {
		return 0
	}
	return 1 / float64(r*r)
}
