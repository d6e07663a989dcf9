package workbench

import (
	"fmt"
	"math"

	"masstone/calibrate"
	"masstone/color/remedy"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
)

// order is how much to make of what, with the volume of a part where it was
// weighed.
func (m Making) order(what string) (batch.Order, *batch.Part, error) {
	weighed := m.OriginalGrams != 0 || m.OriginalGramsPerML != 0 || m.DisplacedGrams != 0 || m.WaterGrams != 0
	byVolume := m.CavityML != 0 || m.Shots != 0 || weighed
	grams, cavity, shots, waste := remedy.Input("grams"), remedy.Input("cavity-ml"), remedy.Input("shots"), remedy.Input("waste")
	none := batch.Order{}
	switch {
	case m.Grams != 0 && (byVolume || m.Waste != 0 || m.SprueML != 0 || m.SyringeML != 0 || m.Shrinkage != 0):
		return none, nil, invalid("grams", "batch %s: give either %s, or %s, %s and %s", what, grams, cavity, shots, waste)
	case m.Grams == 0 && !byVolume:
		return none, nil, invalid("grams", "batch %s: how much? give %s, or %s %s %s", what, remedy.InputAs("grams", "G"), remedy.InputAs("cavity-ml", "V"), remedy.InputAs("shots", "N"), remedy.InputAs("waste", "W"))
	case m.CavityML != 0 && weighed:
		return none, nil, invalid("cavity-ml", "batch %s: give either %s or a weighing that tells it", what, cavity)
	case byVolume && !weighed && m.CavityML == 0:
		return none, nil, missing("batch "+what, "cavity-ml", "give the volume of one part", "18.5ml")
	case byVolume && m.Shots < 1:
		return none, nil, invalid("shots", "batch %s: %s is missing; give the number of parts, 1 or more", what, shots)
	}
	err := weighable(weight{"grams", m.Grams}, weight{"scale", m.ScaleGrams}, weight{"min-weigh", m.MinWeigh},
		weight{"capacity", m.Capacity}, weight{"max-cup", m.MaxCup},
		weight{"original-g", m.OriginalGrams}, weight{"displaced-g", m.DisplacedGrams}, weight{"water-g", m.WaterGrams})
	o := batch.Order{Total: massOf(m.Grams), Cavity: batch.Millilitres(m.CavityML), Shots: m.Shots, Waste: m.Waste, Grow: m.Grow,
		Sprue: batch.Millilitres(m.SprueML), Syringe: batch.Millilitres(m.SyringeML), Shrinkage: m.Shrinkage}
	if err != nil || !weighed {
		return o, nil, err
	}
	part, err := batch.Weighing{Original: massOf(m.OriginalGrams), Density: batch.GramsPerML(m.OriginalGramsPerML),
		Displaced: massOf(m.DisplacedGrams), Filled: massOf(m.WaterGrams), Celsius: m.WaterCelsius}.Measured()
	if err != nil {
		return o, nil, invalid("original-g", "batch %s: %w", what, err)
	}
	o.Cavity = part.Volume
	return o, &part, nil
}

// measured says on the sheet how the volume of a part is known.
func (v *Batch) measured(p *batch.Part) {
	if v.Part = p; p == nil {
		return
	}
	note := fmt.Sprintf("A part has %s ml: %s.", hundredths(p.Volume), p.By)
	if p.Filled {
		note += " Dry the mould, warm, before casting: what water is left foams with the isocyanate side."
	}
	v.Notes = append(v.Notes, note)
}

// keepLeftOver says what becomes of the rest of what is stirred for the sheet.
func (v *Batch) keepLeftOver() {
	for _, p := range v.Predilutions {
		if p.Jar == "" {
			v.Notes = append(v.Notes, "Close and label what is left of a pre-dilution: with the pour it is recorded as a jar, stirred as this sheet says, and the next batch takes from it. If you stir other amounts, record the jar first and make the sheet anew.")
			return
		}
	}
}

// asOrdered is the order as a paper says it; grams where it was given as such.
func (v *Batch) asOrdered(grams calibrate.Grams) string {
	s := v.Shot
	if s == nil {
		return figure.Short(float64(grams)) + " g"
	}
	text := fmt.Sprintf("%s of %s ml", figure.Count(s.Parts, "part"), hundredths(s.Cavity))
	add := func(ml batch.Volume, what string) {
		if ml.Millilitres() > 0 {
			text += fmt.Sprintf(", %s ml %s", hundredths(ml), what)
		}
	}
	add(s.Sprue, "of sprue")
	add(s.Syringe, "left in the syringe")
	if s.Shrinkage > 0 {
		text += fmt.Sprintf(", %.3g %% shrinkage", 100*s.Shrinkage)
	}
	if s.Waste > 0 {
		text += fmt.Sprintf(" and %.4g %% waste", 100*s.Waste)
	}
	return text
}

// hundredths is a volume in ml as sheets say it.
func hundredths(v batch.Volume) string {
	return figure.Short(math.Round(v.Millilitres()*100) / 100)
}
