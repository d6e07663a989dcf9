package main

import (
	"github.com/spf13/pflag"

	"masstone/recipes/workbench"
)

// addSpot adds the flags that say whether an instrument sees more than a flat spot.
func addSpot(f *pflag.FlagSet, s *workbench.Spot) {
	numberVar(f, &s.FlatMM, "flat-mm", inMM, 0, "width of the flat spot that is read")
	addAperture(f, &s.ApertureMM)
}

// addVolume adds the flags that say what one part takes.
func addVolume(f *pflag.FlagSet, m *workbench.Making) {
	numberVar(f, &m.OriginalGrams, "original-g", inGrams, 0, "in place of --cavity-ml: the original, weighed")
	numberVar(f, &m.OriginalGramsPerML, "original-density", perML, 0, "density of what the original is made of in g/ml")
	numberVar(f, &m.DisplacedGrams, "displaced-g", inGrams, 0, "in place of --cavity-ml: what a cup of water on the scale gains with the original hung in it, under water and clear of the bottom")
	numberVar(f, &m.WaterGrams, "water-g", inGrams, 0, "in place of --cavity-ml: water that fills the mould, weighed")
	numberVar(f, &m.WaterCelsius, "water-c", inWater, 20, "temperature of that water")
	numberVar(f, &m.SprueML, "sprue-ml", inML, 0, "sprue and vents of one part")
	numberVar(f, &m.SyringeML, "syringe-ml", inML, 0, "left in the syringe after one part")
	numberVar(f, &m.Shrinkage, "shrinkage", aShare, 0, "of the volume in curing, which the sprue feeds, such as 3%")
}
