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
// factor, 0..1, of what lies under the layer. A value below 0 is taken as 0, a
// backing above 1 as 1, so out stays finite wherever a search may step. The
// mirror reflection counts unless specular says it is excluded. Implementations
// do not allocate and may be used from several goroutines.
type Layer interface {
	Bands(k, s *[color.Bands]float64, thicknessMM float64, backing *[color.Bands]float64, specular color.Specular, out *Partials)
	// Name is a short plain name for reports, for example "Kubelka-Munk".
	Name() string
}

const (
	thickest = 1e9   // mm that stand for infinite depth
	thinnest = 1e-9  // mm that stand for none where it is divided by
	faintest = 1e-12 // K and S per mm that stand for none where they are divided by
)

func notNegative(v float64) float64 {
	if v < 0 {
		return 0
	}
	return v
}

// within holds v in 0..top.
func within(v, top float64) float64 {
	if v > top {
		return top
	}
	return notNegative(v)
}

func atLeast(least, v float64) float64 {
	if v < least {
		return least
	}
	return v
}
