package batch

import (
	"errors"
	"fmt"
)

// Order is how much to make: either Total, or Cavity and Shots with Waste.
type Order struct {
	Total  Mass    // the whole batch, pastes included
	Cavity Volume  // one part
	Shots  int     // parts
	Waste  float64 // share lost to cup and stick: 0.10 for 10 %; 0 to 5

	Sprue, Syringe Volume  // sprue and vents of one part; what stays in the syringe
	Shrinkage      float64 // of the volume in curing, which the sprue feeds; 0 to 0.2

	// Grow is the share by which the batch may be made larger if the
	// pigments then fall better on the scale's steps; 0 keeps the order.
	Grow float64
}

// largest bounds a batch; beyond it a slip of the unit is more likely.
var largest = Grams(1e6)

func (o Order) check() error {
	byMass, byVolume := o.Total.micrograms != 0, o.Cavity.ml != 0 || o.Shots != 0 || o.Waste != 0 || o.Sprue.ml != 0 || o.Syringe.ml != 0 || o.Shrinkage != 0
	switch {
	case byMass && byVolume:
		return errors.New("batch: order gives both a mass and a cavity: give one of them")
	case !byMass && !byVolume:
		return errors.New("batch: empty order: give the grams to make, or the cavity in ml and the shots")
	case byMass && (!o.Total.Positive() || o.Total.Compare(largest) > 0):
		return fmt.Errorf("batch: order of %v: give more than 0 and at most %v", o.Total, largest)
	case byVolume && !(o.Cavity.ml > 0 && o.Cavity.ml <= 1e6):
		return fmt.Errorf("batch: cavity of %g ml: give more than 0 and at most 1e6 ml", o.Cavity.ml)
	case byVolume && !(o.Shots >= 1 && o.Shots <= 1e6):
		return fmt.Errorf("batch: %d shots: give at least 1 and at most 1000000", o.Shots)
	case byVolume && !(o.Waste >= 0 && o.Waste <= 5):
		return fmt.Errorf("batch: waste of %g: give a share from 0 to 5, such as 0.10 for 10 %%", o.Waste)
	case !(o.Grow >= 0 && o.Grow <= 1):
		return fmt.Errorf("batch: growth of %g: give a share from 0 to 1", o.Grow)
	}
	return o.checkShot()
}

// Mass is the batch the order asks for, given the density of the mix by (2).
func (o Order) Mass(mixed Density) (Mass, error) {
	if err := o.check(); err != nil {
		return Mass{}, err
	}
	if o.Total.Positive() {
		return o.Total, nil
	}
	if !(mixed.gramsPerML > 0) {
		return Mass{}, errors.New("batch: order by volume, but the density of side A or B is not known: add both to the resin, or order in grams")
	}
	need := Grams(o.shot().Volume.ml * float64(o.Shots) * (1 + o.Waste) * mixed.gramsPerML) // (2)
	if need.Compare(largest) > 0 {
		return Mass{}, fmt.Errorf("batch: order comes to %v: at most %v; check cavity and shots", need, largest)
	}
	return need, nil
}
