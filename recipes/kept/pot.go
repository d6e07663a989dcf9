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
	// Jars are pre-dilutions that additions come from, by pigment.
	Jars map[string]Jar `json:"jars,omitempty"`
}

// A Jar is a pre-dilution that is added to a pot.
type Jar struct {
	Item  string  `json:"item"`
	Jar   string  `json:"jar"`
	Share float64 `json:"share"` // of paste in it
}

// PotOf is a pot as it is kept.
func PotOf(p recipes.Pot) Pot {
	k := Pot{Resin: float64(p.Resin), Share: p.Share, Pigments: map[string]float64{}}
	for code, d := range p.Diluted {
		if k.Jars == nil {
			k.Jars = map[string]Jar{}
		}
		k.Jars[code] = Jar{d.Item, d.Jar, d.Share}
	}
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
	for code, j := range k.Jars {
		if p.Diluted == nil {
			p.Diluted = map[string]recipes.Dilution{}
		}
		p.Diluted[code] = recipes.Dilution{Item: j.Item, Jar: j.Jar, Share: j.Share}
	}
	return p, nil
}
