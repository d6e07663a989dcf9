package batch

import (
	"fmt"
	"math"
)

// Scale is the balance the batch is weighed on.
type Scale struct {
	Step     Mass // the last digit, such as 0.01 g
	Minimum  Mass // least line worth weighing; 0 stands for ten steps
	Tared    bool // the cup is zeroed before each line, see (6)
	Capacity Mass // 0 unknown
}

// leastSteps: a line of ten steps is off by at most 5 % (common practice, no
// source).
const leastSteps = 10

func (s Scale) check() error {
	if !s.Step.Positive() || s.Step.Compare(Grams(100)) > 0 {
		return fmt.Errorf("batch: scale step of %v: give the last digit the scale shows, such as 0.01 g", s.Step)
	}
	if s.Minimum.micrograms < 0 || s.Capacity.micrograms < 0 {
		return fmt.Errorf("batch: scale minimum %v and capacity %v: neither may be negative", s.Minimum, s.Capacity)
	}
	return nil
}

func (s Scale) minimum() Mass {
	if s.Minimum.Positive() {
		return s.Minimum
	}
	return Mass{leastSteps * s.Step.micrograms}
}

// sd is the standard deviation of one weighed line in micrograms (6).
func (s Scale) sd() float64 {
	if s.Tared {
		return float64(s.Step.micrograms) / math.Sqrt(12)
	}
	return float64(s.Step.micrograms) / math.Sqrt(6)
}

// Colorant is what the sheet needs to know of one pigment paste. Everything is
// optional.
type Colorant struct {
	Density Density
	Drop    Mass    // mass of one drop, for a paste that is counted in drops
	Scatter float64 // sd of one drop as a share of its mass, 0 to 1
}

// fewestDrops: fewer than three drops cannot be corrected by one (common
// practice, no source).
const fewestDrops = 3

func (c Colorant) check(code string) error {
	if err := c.Density.check(code); err != nil {
		return err
	}
	if c.Drop.micrograms < 0 || c.Drop.Compare(Grams(10)) > 0 {
		return fmt.Errorf("batch: drop of %s weighs %v: give the grams of one drop, such as 0.03", code, c.Drop)
	}
	if !(c.Scatter >= 0 && c.Scatter <= 1) {
		return fmt.Errorf("batch: drop scatter of %s is %g: give a share from 0 to 1", code, c.Scatter)
	}
	return nil
}
