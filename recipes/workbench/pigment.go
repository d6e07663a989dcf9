package workbench

import (
	"context"
	"maps"
	"slices"

	"masstone/color/readings"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// An ImportPigmentsRequest takes in a pigment list. What a line leaves out keeps
// what the bench knew.
type ImportPigmentsRequest struct {
	File    File
	Preview bool              // say what would be stored, store nothing
	Seen    map[string]string // by code: Ref of the card the line was made from; none does not check
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

	Ref string `json:"-"` // of the card
}

// A PigmentList is the pigments of a bench by code.
type PigmentList struct {
	Pigments []Pigment `json:"pigments"`
}

// A CardReport names the cards of an import by what became of them.
type CardReport struct {
	Added     []string `json:"added"`
	Changed   []string `json:"changed"`
	Unchanged []string `json:"unchanged"`
}

func cardReport(r archive.Report) CardReport {
	return CardReport{append([]string{}, r.Added...), append([]string{}, r.Changed...), append([]string{}, r.Unchanged...)}
}

// String gives the counts.
func (r CardReport) String() string { return archive.Report(r).String() }

// ImportedPigments says what became of a pigment list.
type ImportedPigments struct {
	Preview bool `json:"preview,omitempty" doc:"true if asked for"`
	CardReport
	Pigments []PreviewedPigment `json:"pigments,omitempty" doc:"of a preview, as the file has them, with outcome" as:"pigment list"`
}

// A PreviewedPigment is a pigment of a file, and what an import would do to its
// card.
type PreviewedPigment struct {
	Outcome string `json:"outcome"`
	Pigment
}

// ImportPigments takes in a pigment list, all of it or nothing.
func ImportPigments(ctx context.Context, b *Bench, r ImportPigmentsRequest) (ImportedPigments, error) {
	v := ImportedPigments{Preview: r.Preview}
	options, err := r.File.options(nil)
	if err != nil {
		return v, err
	}
	list, err := readings.Pigments(r.File.Data, options)
	if err != nil {
		return v, err
	}
	cards := make([]archive.Pigment, len(list))
	for i, p := range list {
		cards[i] = pigmentCard(p)
	}
	if r.Preview {
		report, err := b.archive.PreviewPigments(ctx, cards)
		v.CardReport = cardReport(report)
		outcome := outcomes(report)
		for _, p := range cards {
			v.Pigments = append(v.Pigments, PreviewedPigment{string(outcome[p.Code]), pigmentOf(p)})
		}
		return v, err
	}
	err = together(ctx, b, &v, func(a *archive.Bench) error {
		for _, code := range slices.Sorted(maps.Keys(r.Seen)) {
			now, err := a.Pigment(ctx, code)
			if err != nil {
				return err
			}
			if err := checkSeen("pigment "+code, r.Seen[code], now.Stamp); err != nil {
				return err
			}
		}
		report, err := a.ImportPigments(ctx, cards)
		v.CardReport = cardReport(report)
		return err
	})
	return v, err
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
		PricePerKG: figure.Known(p.PricePerKG), HeatClass: p.HeatClass, LightClass: p.LightClass, Note: p.Note, Ref: p.Ref}
	if p.StockG != nil {
		v.StockG = figure.Of(*p.StockG)
	}
	return v
}

// Pigments lists the pigments of a bench.
func Pigments(ctx context.Context, b *Bench) (PigmentList, error) {
	v := PigmentList{Pigments: []Pigment{}}
	all, err := b.archive.Pigments(ctx)
	for _, p := range all {
		v.Pigments = append(v.Pigments, pigmentOf(p))
	}
	return v, err
}

// ShowPigment shows the pigment of a code.
func ShowPigment(ctx context.Context, b *Bench, code string) (Pigment, error) {
	p, err := b.archive.Pigment(ctx, code)
	return pigmentOf(p), err
}
