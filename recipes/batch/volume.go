package batch

import (
	"encoding/json"
	"fmt"
	"math"
)

// Volume is a volume in millilitres.
type Volume struct{ ml float64 }

// Millilitres is a volume given in ml.
func Millilitres(ml float64) Volume { return Volume{ml} }

// Millilitres is the volume in ml.
func (v Volume) Millilitres() float64 { return v.ml }

// String is the volume in ml to a tenth.
func (v Volume) String() string { return fmt.Sprintf("%.1f ml", v.ml) }

// MarshalJSON writes a number of ml to a hundredth; more would be pretence.
func (v Volume) MarshalJSON() ([]byte, error) { return json.Marshal(hundredth(v.ml)) }

// UnmarshalJSON reads a number of ml.
func (v *Volume) UnmarshalJSON(data []byte) error {
	ml, err := number("volume in ml", data)
	if err == nil {
		v.ml = ml
	}
	return err
}

// Density is a density in grams per millilitre; zero stands for unknown.
type Density struct{ gramsPerML float64 }

// GramsPerML is a density given in g/ml.
func GramsPerML(d float64) Density { return Density{d} }

// GramsPerML is the density in g/ml, 0 when unknown.
func (d Density) GramsPerML() float64 { return d.gramsPerML }

// Known tells whether there is a density.
func (d Density) Known() bool { return d.gramsPerML != 0 }

// MarshalJSON writes a number of g/ml to 1e-4.
func (d Density) MarshalJSON() ([]byte, error) {
	return json.Marshal(math.Round(d.gramsPerML*1e4) / 1e4)
}

// UnmarshalJSON reads a number of g/ml.
func (d *Density) UnmarshalJSON(data []byte) error {
	g, err := number("density in g/ml", data)
	if err == nil {
		d.gramsPerML = g
	}
	return err
}

// check refuses what no liquid or paste can weigh; unknown passes.
func (d Density) check(what string) error {
	if d.Known() && !(d.gramsPerML >= 0.3 && d.gramsPerML <= 20) {
		return fmt.Errorf("batch: density of %s is %g g/ml: give 0.3 to 20, or leave it out", what, d.gramsPerML)
	}
	return nil
}

func hundredth(x float64) float64 { return math.Round(x*100) / 100 }

func number(what string, data []byte) (float64, error) {
	var x float64
	if err := json.Unmarshal(data, &x); err != nil {
		return 0, fmt.Errorf("batch: %s: %q is not a number", what, data)
	}
	return x, nil
}
