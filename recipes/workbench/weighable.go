package workbench

import (
	"masstone/calibrate"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
)

// The least and the most that is weighed in a workshop, g: a scale shows no
// less, a floor scale no more.
const (
	leastGrams = 1e-6
	mostGrams  = 1e6
)

// massOf are grams for the batch package.
func massOf(g calibrate.Grams) batch.Mass { return batch.Grams(float64(g)) }

// A weight is a mass of a request, by its input.
type weight struct {
	field string
	grams calibrate.Grams
}

// weighable refuses masses that no workshop weighs; 0 is a mass that is not
// given.
func weighable(given ...weight) error {
	for _, w := range given {
		if w.grams != 0 && !(w.grams >= leastGrams && w.grams <= mostGrams) {
			return outOfRange(w.field, float64(w.grams), figure.Short(leastGrams)+" to "+figure.Short(mostGrams)+" g")
		}
	}
	return nil
}
