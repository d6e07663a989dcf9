package calibrate

// PHR is a loading: grams of pigment paste per 100 grams of mixed resin. The
// paste comes on top of the resin: a 2 phr batch of 100 g resin weighs 102 g.
type PHR float64

// ThicknessMM is a layer's thickness in millimetres.
type ThicknessMM float64

// Grams is a mass.
type Grams float64
