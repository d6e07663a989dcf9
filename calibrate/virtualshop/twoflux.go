package virtualshop

import (
	"math"

	"masstone/color"
)

// TwoFlux is the Kubelka-Munk layer under Saunderson's surface, in the textbook
// form (Kubelka 1948; Saunderson 1942):
//
//	a = 1 + K/S, b = sqrt(a^2 - 1)
//	R = (1 - Rg (a - b coth bSX)) / (a - Rg + b coth bSX)    (2)
//	Rm = k1 + (1 - k1)(1 - k2) R / (1 - k2 R)                (3)
type TwoFlux struct{ K1, K2 float64 }

// Reflectance is (3), without its first term when the specular reflection is
// excluded. k and s are above 0.
func (f TwoFlux) Reflectance(k, s, thicknessMM, backing float64, specular color.Specular) float64 {
	a := 1 + k/s
	b := math.Sqrt(k / s * (2 + k/s))
	coth := b / math.Tanh(b*s*thicknessMM)
	r := (1 - backing*(a-coth)) / (a - backing + coth) // (2)
	m := (1 - f.K1) * (1 - f.K2) * r / (1 - f.K2*r)    // (3)
	if specular == color.SpecularExcluded {
		return m
	}
	return f.K1 + m
}
