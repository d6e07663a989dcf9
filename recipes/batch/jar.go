package batch

import (
	"fmt"
	"math"
)

// A Jar is a pre-dilution at hand: a paste let down in a side of the resin some
// time ago, by mass. What is in it is a share of paste x = u/(u + v) of the u
// paste and v resin that were stirred, whatever was taken since.
type Jar struct {
	Name    string
	Pigment string
	Side    Side // it was let down in
	Paste   Mass // stirred, in all
	Resin   Mass
	Left    Mass
	On      string // day it was stirred, as sheets say it; empty if not known
}

// Strength is the share of paste in a jar.
func (k Jar) Strength() float64 { return k.Paste.Grams() / (k.Paste.Grams() + k.Resin.Grams()) }

func (k Jar) check() error {
	switch {
	case k.Name == "" || k.Pigment == "":
		return fmt.Errorf("batch: pre-dilution %q of %q: give both names", k.Name, k.Pigment)
	case !k.Paste.Positive() || !k.Resin.Positive() || k.Paste.Compare(largest) > 0 || k.Resin.Compare(largest) > 0:
		return fmt.Errorf("batch: pre-dilution %s of %v paste in %v resin: give both as they were stirred", k.Name, k.Paste, k.Resin)
	case k.Left.micrograms < 0 || k.Left.Compare(k.Paste.Plus(k.Resin)) > 0:
		return fmt.Errorf("batch: pre-dilution %s: %v left of %v stirred: count it again", k.Name, k.Left, k.Paste.Plus(k.Resin))
	}
	return nil
}

// charge is the paste of a jar as a line in steps of a scale whose line has the
// standard deviation sd, micrograms.
func (k Jar) charge(c charge, step int64, sd float64) charge {
	c.unit, c.drop = step, false
	c.strong, c.jar = k.Strength(), k.Name
	c.ratio = max(1, int(math.Round(1/c.strong))-1)
	c.strength = (1 - c.strong) * math.Hypot(sd/float64(k.Paste.micrograms), sd/float64(k.Resin.micrograms)) // (8)
	return c
}

// Most of the tinted side that what a jar carries may make up: the rest leaves
// the scale room to hit the batch.
const mostCarried = 0.8

// takes is the dose of so many grams of paste from a jar, micrograms, and whether
// it can be weighed and there is enough of it.
func (k Jar) takes(paste, grow float64, least, step int64, side float64) (dose float64, ok bool) {
	x := k.Strength()
	dose = paste / x
	most := dose*(1+grow) + 3*float64(step) // what the grid may add
	return dose, dose >= float64(least) && most <= float64(k.Left.micrograms) && most*(1-x) <= mostCarried*side
}

// fromJar is a line from the jar at hand whose dose is the smallest that is easy
// to weigh; false if there is none. Paste is in micrograms.
func (j *job) fromJar(c charge, paste float64) (charge, bool) {
	least, best, found := max(doseSteps*j.step, j.Scale.minimum().micrograms), math.Inf(1), false
	side := paste * 100 / float64(j.Recipe[c.code]) * j.Resin.Mix.Share(j.Resin.PigmentSide)
	for _, k := range j.Jars {
		if k.Pigment != c.code || k.Side != j.Resin.PigmentSide {
			continue
		}
		if dose, ok := k.takes(paste, j.Order.Grow, least, j.step, side); ok && dose < best {
			c, best, found = k.charge(c, j.step, j.Scale.sd()), dose, true
		}
	}
	return c, found
}

// jarOf is the jar of a name.
func (j *job) jarOf(name string) Jar {
	for _, k := range j.Jars {
		if k.Name == name {
			return k
		}
	}
	return Jar{}
}
