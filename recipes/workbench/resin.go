package workbench

import (
	"context"
	"fmt"
	"time"

	"masstone/calibrate"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
)

// An AddResinRequest adds a two-part resin as its data sheet states it, or
// replaces its card. A number that is 0 is not known.
type AddResinRequest struct {
	Code, Name                                string
	Mix                                       batch.Ratio // A:B by mass
	AGramsPerML, BGramsPerML, CuredGramsPerML float64     // densities of the sides, and cured
	PotLife                                   time.Duration
	PigmentSide                               batch.Side
	MaxPHR                                    calibrate.PHR // most paste in all
	Note                                      string
	Replace                                   bool
	Seen                                      string // Ref of the card this was made from; "" does not check
}

// A Resin is a two-part casting resin.
type Resin struct {
	Code         string         `json:"resin"`
	Name         string         `json:"name,omitempty"`
	Mix          string         `json:"mix" doc:"A:B by mass"`
	DensityA     *figure.Number `json:"density_a,omitempty" doc:"g/ml"`
	DensityB     *figure.Number `json:"density_b,omitempty"`
	DensityCured *figure.Number `json:"density_cured,omitempty"`
	PotMinutes   *figure.Number `json:"pot_life_minutes,omitempty"`
	PigmentSide  string         `json:"pigment_side"`
	MaxPHR       *figure.Number `json:"max_phr,omitempty"`
	Note         string         `json:"note,omitempty"`

	PotLife time.Duration `json:"-"`
	Ref     string        `json:"-"` // of the card
}

// A ResinOutcome is a resin, and what was done to its card.
type ResinOutcome struct {
	Outcome string `json:"outcome" doc:"added, unchanged, changed"`
	Resin
	Remarks Remarks `json:"-"`
}

// A ResinList is the resins of a bench by code.
type ResinList struct {
	Resins []Resin `json:"resins" as:"resin add"`
}

func resinOf(r archive.Resin) Resin {
	return Resin{Code: r.Code, Name: r.Name, Mix: mixOf(r).String(), DensityA: figure.Known(r.DensityA), DensityB: figure.Known(r.DensityB), DensityCured: figure.Known(r.DensityCured),
		PotMinutes: figure.Known(r.PotLife.Minutes()), PigmentSide: r.PigmentSide, MaxPHR: figure.Known(r.MaxPHR), Note: r.Note, PotLife: r.PotLife, Ref: r.Ref}
}

// AddResin adds a resin. The same card twice changes nothing; another card of
// the same code needs Replace, and the old one is kept.
func AddResin(ctx context.Context, b *Bench, r AddResinRequest) (ResinOutcome, error) {
	var v ResinOutcome
	what := "resin " + r.Code
	switch {
	case r.Mix == (batch.Ratio{}):
		return v, missing(what, "mix", "give A:B by mass", "100:90")
	case r.PigmentSide == "":
		return v, invalid("pigment-side", "%s: %s is missing; give A or B, the side that takes the pigments", what, remedy.Input("pigment-side"))
	}
	card := archive.Resin{Code: r.Code, Name: r.Name, MixA: r.Mix.A, MixB: r.Mix.B, DensityA: r.AGramsPerML, DensityB: r.BGramsPerML,
		DensityCured: r.CuredGramsPerML, PotLife: r.PotLife, PigmentSide: string(r.PigmentSide), MaxPHR: float64(r.MaxPHR), Note: r.Note}
	err := together(ctx, b, &v, func(a *archive.Bench) error {
		if r.Seen != "" {
			now, err := a.Resin(ctx, r.Code)
			if err != nil {
				return err
			}
			if err := checkSeen(what, r.Seen, now.Stamp); err != nil {
				return err
			}
		}
		outcome, err := a.PutResin(ctx, card, onChange(r.Replace))
		if err != nil {
			return advise(err, fmt.Sprintf("add %s to replace the card", remedy.Input("replace")))
		}
		kept, err := a.Resin(ctx, r.Code)
		v.Outcome, v.Resin = string(outcome), resinOf(kept)
		return err
	})
	if err == nil && !(r.AGramsPerML > 0 && r.BGramsPerML > 0) {
		v.Remarks.say("without both densities a batch can be ordered in grams only; add %s and %s with %s", remedy.Input("density-a"), remedy.Input("density-b"), remedy.Input("replace"))
	}
	return v, err
}

// Resins lists the resins of a bench.
func Resins(ctx context.Context, b *Bench) (ResinList, error) {
	v := ResinList{Resins: []Resin{}}
	all, err := b.archive.Resins(ctx)
	for _, r := range all {
		v.Resins = append(v.Resins, resinOf(r))
	}
	return v, err
}

// ShowResin shows the resin of a code.
func ShowResin(ctx context.Context, b *Bench, code string) (Resin, error) {
	r, err := b.archive.Resin(ctx, code)
	return resinOf(r), err
}
