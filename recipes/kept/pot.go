package kept

import (
	"encoding/json"

	"masstone/calibrate"
	"masstone/recipes"
)

// A Pot is what is kept of a pot that is added to.
type Pot struct {
	Resin    float64            `json:"resin_grams"`
	Share    float64            `json:"share"` // of the mixed resin that is in the pot
	Pigments map[string]float64 `json:"pigment_grams"`
}

// PotOf is a pot as it is kept.
func PotOf(p recipes.Pot) Pot {
	k := Pot{float64(p.Resin), p.Share, map[string]float64{}}
	for code, g := range p.Pigments {
		k.Pigments[code] = float64(g)
	}
	return k
}

// ReadPot reads the pot kept with the batch of that ID.
func ReadPot(id string, document json.RawMessage) (recipes.Pot, error) {
	var k Pot
	if err := read("batch "+id+": what is in its pot", document, &k); err != nil {
		return recipes.Pot{}, err
	}
	p := recipes.Pot{Resin: calibrate.Grams(k.Resin), Share: k.Share, Pigments: map[string]calibrate.Grams{}}
	for code, g := range k.Pigments {
		p.Pigments[code] = calibrate.Grams(g)
	}
	return p, nil
}
