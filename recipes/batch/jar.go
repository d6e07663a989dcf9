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
// the scale room to hit the batch (common practice, no source).
const mostCarried = 0.8

// dose is so many grams of paste from a jar, micrograms, and whether there is
// enough of it and the tinted side has room for it.
func (k Jar) dose(paste, grow float64, step int64, side float64) (dose float64, ok bool) {
	x := k.Strength()
	dose = paste / x
	most := dose*(1+grow) + 3*float64(step) // what the grid may add
	return dose, most <= float64(k.Left.micrograms) && most*(1-x) <= mostCarried*side
}

// pick is the jar for so much paste of a pigment, micrograms: the one whose dose is
// the smallest that is easy to weigh, else the largest that is least or more.
func pick(jars []Jar, code string, in Side, paste, grow float64, easy, least float64, step int64, side float64) (best Jar, found bool) {
	of := 0.0
	for _, k := range jars {
		if k.Pigment != code || k.Side != in {
			continue
		}
		dose, ok := k.dose(paste, grow, step, side)
		if !ok || dose < least {
			continue
		}
		if !found || dose >= easy && (of < easy || dose < of) || dose < easy && of < easy && dose > of {
			best, of, found = k, dose, true
		}
	}
	return best, found
}

// easy is the dose that is easy to weigh, micrograms.
func (s Scale) easy() float64 {
	return float64(max(doseSteps*s.Step.micrograms, s.minimum().micrograms))
}

// fromJar is a line from a jar at hand, false if there is none whose dose is as easy
// to weigh as that of one stirred for the batch would be, up to a step. Paste is in
// micrograms.
func (j *job) fromJar(c charge, paste float64) (charge, bool) {
	side := paste * 100 / float64(j.Recipe[c.code]) * j.Resin.Mix.Share(j.Resin.PigmentSide)
	easy := j.Scale.easy()
	least := math.Min(easy, paste*float64(1+letDowns[len(letDowns)-1])-float64(j.step))
	k, ok := pick(j.Jars, c.code, j.Resin.PigmentSide, paste, j.Order.Grow, easy, least, j.step, side)
	if !ok {
		return c, false
	}
	return k.charge(c, j.step, j.Scale.sd()), true
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
