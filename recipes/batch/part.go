package batch

import (
	"errors"
	"fmt"
)

// WaterDensity is the density of air-free water at a pressure of one atmosphere,
// 0 to 40 °C, after Tanaka, Girard, Davis, Peuto and Bignell, Metrologia 38, 301
// (2001), equation (1) and table 1 (constants from memory):
//
//	rho = a5 (1 - (t + a1)^2 (t + a2) / (a3 (t + a4)))                       (15)
//
// Tap water is heavier by up to a thousandth, and what is weighed in air shows a
// thousandth less; neither is counted.
func WaterDensity(celsius float64) (Density, error) {
	if !(celsius >= 0 && celsius <= 40) {
		return Density{}, fmt.Errorf("batch: water at %g °C: give 0 to 40 °C", celsius)
	}
	const a1, a2, a3, a4, a5 = -3.983035, 301.797, 522528.9, 69.34881, 0.99997495
	t := celsius
	return Density{a5 * (1 - (t+a1)*(t+a1)*(t+a2)/(a3*(t+a4)))}, nil // (15)
}

// A Weighing of an original or of its mould says how large a part is. One of the
// three ways is given; an original with both its mass and what it displaces also
// tells its density.
type Weighing struct {
	Original  Mass    // the part to be copied, weighed
	Density   Density // of what the original is made of
	Displaced Mass    // what a vessel of water on the scale gains with the original hung in it
	Filled    Mass    // of water that fills the mould
	Celsius   float64 // of the water
}

// A Part is the volume of one part and how it is known.
type Part struct {
	Volume  Volume  `json:"part_ml"`
	By      string  `json:"by"`
	Density Density `json:"original_density,omitzero"`
	Filled  bool    `json:"mould_filled,omitzero"` // with water, which must be dried off
}

// Measured is the volume that a weighing tells:
//
//	V = m / rho,  V = m_displaced / rho_w,  V = m_filled / rho_w               (16)
func (w Weighing) Measured() (Part, error) {
	var p Part
	given := 0
	for _, on := range []bool{w.Density.Known(), w.Displaced.Positive(), w.Filled.Positive()} {
		if on {
			given++
		}
	}
	switch {
	case w.Original.micrograms < 0 || w.Displaced.micrograms < 0 || w.Filled.micrograms < 0:
		return p, errors.New("batch: part: a weighed mass is negative: give what the scale showed")
	case given == 0 && w.Original.Positive():
		return p, fmt.Errorf("batch: part: an original of %v is of unknown density: give its density, or what it displaces of water", w.Original)
	case given != 1:
		return p, errors.New("batch: part: give one of the original's density, what it displaces of water, or the water that fills the mould")
	case w.Density.Known() && !w.Original.Positive():
		return p, errors.New("batch: part: give the grams of the original to its density")
	case w.Filled.Positive() && w.Original.Positive():
		return p, errors.New("batch: part: give either the original or the water that fills the mould")
	}
	if w.Density.Known() {
		if err := w.Density.check("the original"); err != nil {
			return p, err
		}
		p.Volume = Volume{w.Original.Grams() / w.Density.gramsPerML} // (16)
		p.By, p.Density = fmt.Sprintf("an original of %v at %.4g g/ml", w.Original, w.Density.gramsPerML), w.Density
		return p, nil
	}
	water, err := WaterDensity(w.Celsius)
	if err != nil {
		return p, err
	}
	if w.Filled.Positive() {
		p.Volume = Volume{w.Filled.Grams() / water.gramsPerML} // (16)
		p.Filled = true
		p.By = fmt.Sprintf("%v of water at %.4g °C that fill the mould", w.Filled, w.Celsius)
		return p, nil
	}
	p.Volume = Volume{w.Displaced.Grams() / water.gramsPerML} // (16)
	p.By = fmt.Sprintf("%v of water at %.4g °C that the original displaces", w.Displaced, w.Celsius)
	if w.Original.Positive() {
		p.Density = Density{w.Original.Grams() / p.Volume.ml}
		if !(p.Density.gramsPerML >= 0.3 && p.Density.gramsPerML <= 20) {
			return p, fmt.Errorf("batch: part: an original of %v that displaces %v has %.3g g/ml: weigh both again; give what the vessel gains with the original hung in it, under water and clear of the bottom", w.Original, w.Displaced, p.Density.gramsPerML)
		}
	}
	return p, nil
}

// A Shot is what one part takes, as ordered.
type Shot struct {
	Parts     int     `json:"parts"`
	Cavity    Volume  `json:"cavity_ml"`
	Sprue     Volume  `json:"sprue_ml,omitzero"`   // and vents
	Syringe   Volume  `json:"syringe_ml,omitzero"` // that stays in it
	Shrinkage float64 `json:"shrinkage,omitzero"`  // of the volume in curing, as a share
	Waste     float64 `json:"waste,omitzero"`
	Volume    Volume  `json:"shot_ml"` // in all, without the waste
}

// shot is what one part of an order by volume takes.
func (o Order) shot() Shot {
	s := Shot{Parts: o.Shots, Cavity: o.Cavity, Sprue: o.Sprue, Syringe: o.Syringe, Shrinkage: o.Shrinkage, Waste: o.Waste}
	s.Volume = Volume{o.Cavity.ml/(1-o.Shrinkage) + o.Sprue.ml + o.Syringe.ml} // (2)
	return s
}

// checkShot refuses what no mould or syringe is.
func (o Order) checkShot() error {
	for _, v := range []struct {
		what string
		ml   float64
	}{{"sprue and vents", o.Sprue.ml}, {"syringe", o.Syringe.ml}} {
		if !(v.ml >= 0 && v.ml <= 1e5) {
			return fmt.Errorf("batch: %s of %g ml: give 0 to 1e5 ml", v.what, v.ml)
		}
	}
	if !(o.Shrinkage >= 0 && o.Shrinkage <= 0.2) {
		return fmt.Errorf("batch: shrinkage of %g: give a share of the volume from 0 to 0.2, such as 0.03 for 3 %%", o.Shrinkage)
	}
	return nil
}
