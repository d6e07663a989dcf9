package layer

import "masstone/color"

// Partials is what a layer answers: for each band the measured reflectance
// factor and how it answers to each input. R is a fraction of the perfect
// reflecting diffuser. DK and DS are per unit of K and S (mm), DX per mm of
// thickness, DG per unit of the backing's reflectance factor.
type Partials struct {
	R, DK, DS, DX, DG [color.Bands]float64
}

// Layer predicts what an instrument reads on a plane layer of resin over a
// backing.
//
// K and S are the Kubelka-Munk absorption and scattering coefficients per mm,
// both at least 0; thickness is in mm, at least 0; backing is the reflectance
// factor of what lies in optical contact under the layer, 0..1. A value below 0
// is taken as 0, so out stays finite and smooth wherever a search may step.
// Implementations do not allocate and may be used from several goroutines.
type Layer interface {
	Bands(k, s *[color.Bands]float64, thicknessMM float64, backing *[color.Bands]float64, specular color.Specular, out *Partials)
	// Name is a short plain name for reports, for example "Kubelka-Munk".
	Name() string
}

// thickest mm stand for an infinitely deep layer, so that a layer without any
// absorption still has a finite answer.
const thickest = 1e9
