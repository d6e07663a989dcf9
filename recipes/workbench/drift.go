package workbench

import (
	"context"
	"math"

	"masstone/recipes/ageing"
	"masstone/recipes/figure"
)

// A ResinDrift is how parts of a resin change from a first reading until they are
// settled.
type ResinDrift struct {
	Resin   string        `json:"resin"`
	Parts   int           `json:"learnt_from" doc:"parts read at several ages; 0 where nothing is learnt and nothing assumed"`
	AtH     figure.Number `json:"settled_h" doc:"age at which a part counts as settled"`
	Tau     figure.Number `json:"time_constant_h"`
	TauLow  figure.Number `json:"time_constant_low95"`
	TauHigh figure.Number `json:"time_constant_high95"`
	From    []DriftFrom   `json:"from" doc:"what a part read at an age still changes by"`
	Prior   string        `json:"prior"`
}

// A DriftFrom is what is expected of a part that was read at an age.
type DriftFrom struct {
	AgeH figure.Number `json:"age_h"`
	DL   figure.Number `json:"dL"`
	DA   figure.Number `json:"da"`
	DB   figure.Number `json:"db"`
	SDL  figure.Number `json:"sd_dL" doc:"of a part"`
	SDA  figure.Number `json:"sd_da"`
	SDB  figure.Number `json:"sd_db"`
}

// driftAges are the ages that are told.
func driftAges() []float64 { return []float64{4, 24, 48, 72, 120} }

// ShowDrift tells what is known of how parts of a resin change. It is learnt from
// the pours of the resin whose parts were read at several ages.
func ShowDrift(ctx context.Context, b *Bench, code string) (ResinDrift, error) {
	v := ResinDrift{AtH: ageing.SettledHours, Prior: "settled after 7 d, time constant 56 h (21 to 149 h), no change expected but 0.5 (sd) per axis open: " + priorSource}
	resin, err := b.archive.Resin(ctx, code)
	if err != nil {
		return v, err
	}
	known, err := drifts{}.of(ctx, b.archive, resin.Code)
	if err != nil {
		return v, err
	}
	v.Resin, v.Parts = resin.Code, known.Parts
	tau, low, high := known.Tau()
	v.Tau, v.TauLow, v.TauHigh = figure.Number(tau), figure.Number(low), figure.Number(high)
	for _, hours := range driftAges() {
		by, cov := known.From(hours)
		sd := func(i int) figure.Number { return figure.Number(math.Sqrt(cov[i][i])) }
		v.From = append(v.From, DriftFrom{figure.Number(hours), figure.Number(by[0]), figure.Number(by[1]), figure.Number(by[2]), sd(0), sd(1), sd(2)})
	}
	return v, nil
}
