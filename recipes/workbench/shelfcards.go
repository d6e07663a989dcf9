package workbench

import (
	"fmt"
	"math"

	"masstone/color"
	"masstone/color/readings"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

const (
	// fromMemory is the source of the backings of a new bench, which give way
	// to any statement or reading.
	fromMemory = "from memory"
	// greyChroma is the chroma up to which a constant stands for a backing
	// (common practice, no source).
	greyChroma = 5
)

// greyOf makes a Lab reading of a grey the constant of a backing.
func greyOf(card *archive.Backing, lab color.Lab) error {
	if c := lab.LCh().C; c > greyChroma {
		return fmt.Errorf("backing %s: chroma %.1f is no grey; give its spectrum with %s", card.Name, c, remedy.Input("file"))
	}
	xyz, err := lab.XYZ()
	if err != nil {
		return err
	}
	factor := math.Round(xyz.Y*10) / 1000 // Y runs to 100
	card.Constant, card.Source = &factor, "reading "+figure.LabText(lab)+" "+lab.Under.String()
	return nil
}

// A Pigment is a paste on the shelf. What is not known is left out.
type Pigment struct {
	Code       string         `json:"code"`
	CIName     string         `json:"ci_name,omitempty" doc:"Colour Index"`
	Name       string         `json:"name,omitempty"`
	Density    *figure.Number `json:"density,omitempty" doc:"g/ml"`
	MaxPHR     *figure.Number `json:"max_phr,omitempty"`
	PricePerKG *figure.Number `json:"price_per_kg,omitempty"`
	StockG     *figure.Number `json:"stock_g,omitempty"`
	HeatClass  string         `json:"heat_class,omitempty"`
	LightClass string         `json:"light_class,omitempty"`
	Note       string         `json:"note,omitempty"`
}

// pigmentCard is a line of a list as the archive keeps it; 0 is not known.
func pigmentCard(p readings.Pigment) archive.Pigment {
	value := func(v *float64) float64 {
		if v == nil {
			return 0
		}
		return *v
	}
	return archive.Pigment{Code: p.Code, CIName: p.CIName, Name: p.Name, Density: value(p.DensityGML), MaxPHR: value(p.MaxPHR),
		PricePerKG: value(p.PricePerKg), StockG: p.StockG, HeatClass: p.HeatClass, LightClass: p.LightClass, Note: p.Note}
}

func pigmentOf(p archive.Pigment) Pigment {
	v := Pigment{Code: p.Code, CIName: p.CIName, Name: p.Name, Density: figure.Known(p.Density), MaxPHR: figure.Known(p.MaxPHR),
		PricePerKG: figure.Known(p.PricePerKG), HeatClass: p.HeatClass, LightClass: p.LightClass, Note: p.Note}
	if p.StockG != nil {
		v.StockG = figure.Of(*p.StockG)
	}
	return v
}
