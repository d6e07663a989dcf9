package batch

import (
	"fmt"
	"math"
	"time"

	"masstone/calibrate"
)

// PHR is grams of pigment paste per 100 g of mixed resin.
type PHR = calibrate.PHR

// Side is one of the two liquids of the resin, "A" or "B".
type Side string

// The two sides.
const (
	SideA Side = "A"
	SideB Side = "B"
)

func (s Side) other() Side {
	if s == SideA {
		return SideB
	}
	return SideA
}

// Ratio is a mix ratio by mass, such as 100:90.
type Ratio struct{ A, B float64 }

// String is the ratio as typed, "100:90".
func (r Ratio) String() string { return fmt.Sprintf("%g:%g", r.A, r.B) }

// MarshalText writes "100:90".
func (r Ratio) MarshalText() ([]byte, error) { return []byte(r.String()), nil }

// UnmarshalText reads "100:90".
func (r *Ratio) UnmarshalText(text []byte) error {
	parsed, err := ParseRatio(string(text))
	if err == nil {
		*r = parsed
	}
	return err
}

// Share is the share by mass of one side in the mixed resin.
func (r Ratio) Share(s Side) float64 {
	if s == SideA {
		return r.A / (r.A + r.B)
	}
	return r.B / (r.A + r.B)
}

func (r Ratio) check() error {
	ok := func(x float64) bool { return x > 0 && x <= 1e6 }
	if !ok(r.A) || !ok(r.B) || !(math.Abs(math.Log(r.A/r.B)) <= math.Log(1000)) {
		return fmt.Errorf("batch: mix ratio %v: give two positive masses A:B such as 100:90, at most 1000:1 apart", r)
	}
	return nil
}

// Resin is a two-part resin as its data sheet states it.
type Resin struct {
	Mix                Ratio         // A:B by mass
	DensityA, DensityB Density       // g/ml; needed for orders by volume and for containers
	PotLife            time.Duration // from the moment both sides meet; 0 unknown
	PigmentSide        Side          // the side that takes the pigments
	MaxPHR             PHR           // most paste the resin bears in total; 0 no limit known
}

func (r Resin) check() error {
	if err := r.Mix.check(); err != nil {
		return err
	}
	if r.PigmentSide != SideA && r.PigmentSide != SideB {
		return fmt.Errorf("batch: pigment side %q: give A or B", r.PigmentSide)
	}
	if r.PotLife < 0 {
		return fmt.Errorf("batch: pot life %v: give a positive time such as 7m, or leave it out", r.PotLife)
	}
	if !(r.MaxPHR >= 0) {
		return fmt.Errorf("batch: max phr %g: give a positive number, or leave it out", float64(r.MaxPHR))
	}
	if err := r.DensityA.check("side A"); err != nil {
		return err
	}
	return r.DensityB.check("side B")
}

// clearVolume is the volume in ml of one gram of mixed resin, 0 if unknown.
func (r Resin) clearVolume() float64 {
	if !r.DensityA.Known() || !r.DensityB.Known() {
		return 0
	}
	return r.Mix.Share(SideA)/r.DensityA.gramsPerML + r.Mix.Share(SideB)/r.DensityB.gramsPerML
}

// MixedDensity is the density of the mixed, pigmented resin by (1). A paste of
// unknown density counts at that of the clear mix. The answer is unknown if a
// side's density is.
func (r Resin) MixedDensity(recipe map[string]PHR, colorants map[string]Colorant) Density {
	unpigmented := r.clearVolume()
	if unpigmented == 0 {
		return Density{}
	}
	mass, volume := 1.0, unpigmented
	for _, code := range codes(recipe) {
		share := float64(recipe[code]) / 100
		mass += share
		if d := colorants[code].Density; d.Known() {
			volume += share / d.gramsPerML
		} else {
			volume += share * unpigmented
		}
	}
	return Density{mass / volume} // (1)
}
