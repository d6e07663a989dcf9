package batch

import (
	"errors"
	"fmt"
)

// A Moulding is the silicone of a new mould: a box filled with it around the
// original.
type Moulding struct {
	Box, Part Volume  // of the box to where it is filled; of the original in it
	Mix       Ratio   // A:B of the silicone, by mass
	Density   Density // mixed
	Waste     float64 // share that stays in the container
}

// A SiliconeSheet is what to weigh for a mould.
type SiliconeSheet struct {
	Silicone      Volume  `json:"silicone_ml"` // that the mould takes
	Total         Mass    `json:"total_grams"`
	A             Mass    `json:"a_grams"`
	B             Mass    `json:"b_grams"`
	ContainerLow  Volume  `json:"container_low_ml"`  // for degassing, of least
	ContainerHigh Volume  `json:"container_high_ml"` // or better
	Mix           Ratio   `json:"-"`
	Density       Density `json:"density"`
}

// Silicone rises to several times its volume under vacuum before it collapses
// (common practice, no source).
const riseLow, riseHigh = 4, 5

// siliconeStep is what silicone is weighed on; more digits would be pretence.
const siliconeStep = perGram / 10

// Weigh is the silicone to weigh, whole tenths of a gram that sum up:
//
//	T = (V_box - V_part) (1 + w) rho,  A = T a/(a + b),  B = T - A             (17)
//
// and the container it is degassed in.
func (m Moulding) Weigh() (SiliconeSheet, error) {
	var s SiliconeSheet
	switch {
	case !(m.Box.ml > 0 && m.Box.ml <= 1e6):
		return s, fmt.Errorf("batch: mould: a box of %g ml: give length x width x height of fill, in cm, above 0", m.Box.ml)
	case !(m.Part.ml >= 0 && m.Part.ml < m.Box.ml):
		return s, fmt.Errorf("batch: mould: an original of %g ml in a box of %g ml: give the volume of the part, less than the box", m.Part.ml, m.Box.ml)
	case !(m.Mix.A > 0 && m.Mix.B > 0):
		return s, fmt.Errorf("batch: mould: a mix of %v: give A:B by mass of the silicone, such as 100:10", m.Mix)
	case !(m.Waste >= 0 && m.Waste <= 0.5):
		return s, fmt.Errorf("batch: mould: waste of %g: give a share from 0 to 0.5", m.Waste)
	}
	if !m.Density.Known() {
		return s, errors.New("batch: mould: the density of the silicone is missing: give it in g/ml, mixed, as its data sheet says")
	}
	if err := m.Density.check("the silicone"); err != nil {
		return s, err
	}
	s.Silicone, s.Mix, s.Density = Volume{m.Box.ml - m.Part.ml}, m.Mix, m.Density
	all := s.Silicone.ml * (1 + m.Waste)
	s.Total = Mass{atLeast(all*m.Density.gramsPerML*perGram, siliconeStep)} // (17)
	s.A = Mass{nearest(float64(s.Total.micrograms)*m.Mix.A/(m.Mix.A+m.Mix.B), siliconeStep)}
	s.B = s.Total.Minus(s.A)
	s.ContainerLow, s.ContainerHigh = Volume{riseLow * all}, Volume{riseHigh * all}
	return s, nil
}
