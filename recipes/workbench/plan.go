package workbench

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/color"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
	"masstone/recipes/papers"
)

// A Casting is how the chips of a plan are cast and read. What it leaves open is
// as most chips of the resin were cast, else 50 g in a cup on a scale of 0.01 g,
// 3 mm thick, over white and black.
type Casting struct {
	ChipGrams calibrate.Grams // mixed resin in a chip's cup
	ScaleChoice
	ScaleGrams  calibrate.Grams // step of the scale; that of the scale in use if 0
	ThicknessMM float64
	// ThicknessSDMM is by how much a chip misses that, a standard deviation; nil for that
	// of most chips, or the usual.
	ThicknessSDMM *float64
	Over          []string // backings a chip can be read over, the usual one first
}

// A PlanResult is chips to cast, in their order.
type PlanResult struct {
	Plan        string         `json:"plan" doc:"its number, such as PL3"`
	Title       string         `json:"title"`
	At          string         `json:"at"`
	Resin       string         `json:"resin"`
	Calibration string         `json:"calibration,omitempty" doc:"the chips are to follow"`
	For         []string       `json:"for,omitempty" doc:"targets"`
	Mixtures    int            `json:"mixtures,omitempty" doc:"of interest"`
	Before      *figure.Number `json:"before_dE00,omitempty" doc:"their mean expected error now"`
	After       *figure.Number `json:"after_dE00,omitempty" doc:"and with all chips"`
	ChipGrams   figure.Number  `json:"chip_grams"`
	ScaleGrams  figure.Number  `json:"scale_g"`
	ThicknessMM figure.Number  `json:"thickness_mm"`
	Whites      []string       `json:"whites"`
	Lights      []string       `json:"lights" doc:"each chip will be read under"`
	Spectrum    bool           `json:"spectrum" doc:"each will be read as one"`
	Cups        int            `json:"cups" doc:"to weigh: chips of one content and thickness come from one"`
	Read        int            `json:"chips_read" doc:"that have a reading by now"`
	Chips       []PlannedChip  `json:"chips"`
	Chance      *figure.Number `json:"chance,omitempty" doc:"of the next pour for the targets, their mean, now"`
	PourNow     bool           `json:"pour_now,omitempty" doc:"no chip pays: nothing is planned or kept"`
	// what a target is likely to take by a plan of first chips
	Castings      *figure.Number `json:"expected_castings,omitempty" doc:"of chips and pours until within tolerance, by this plan"`
	WholeCastings *figure.Number `json:"full_set_castings,omitempty" doc:"the same with the whole shelf calibrated first"`
	Notes         []string       `json:"notes"`

	Paper papers.ChipPlan `json:"-"` // without its heading
}

// A PlannedChip is a chip to cast. What it teaches is known after a fit only.
type PlannedChip struct {
	Chip        string                   `json:"chip"`
	Cup         int                      `json:"cup" doc:"number, from 1"`
	Read        bool                     `json:"read,omitempty" doc:"the bench has a reading of it"`
	Over        string                   `json:"over"`
	ThicknessMM figure.Number            `json:"thickness_mm"`
	Loadings    map[string]figure.Number `json:"loadings_phr"`
	Grams       map[string]figure.Number `json:"grams" doc:"of paste by pigment"`
	Weigh       []batch.Line             `json:"weigh" doc:"what goes into the cup"`
	After       *figure.Number           `json:"after_dE00,omitempty" doc:"mean expected error with this chip and those before it"`
	Helps       *HelpedMixture           `json:"helps_most,omitempty"`
	Chance      *figure.Number           `json:"chance,omitempty" doc:"of the next pour for the targets with this chip and those before it"`
}

// A HelpedMixture is the mixture of interest that gains most by a chip, with its
// expected error before and after it.
type HelpedMixture struct {
	What     string                   `json:"what,omitempty" doc:"recipe it is"`
	Loadings map[string]figure.Number `json:"loadings_phr"`
	Before   figure.Number            `json:"before_dE00"`
	After    figure.Number            `json:"after_dE00"`
}

// bench is how the chips are cast and read: as asked for, else as most chips of
// the resin were.
func (c Casting) bench(ctx context.Context, a *archive.Bench, resin archive.Resin, chips []archive.Chip) (*castplan.Bench, error) {
	if err := c.fill(ctx, a, usual(chips, func(c archive.Chip) float64 { return c.ScaleGrams }), &c.ScaleGrams, nil, nil); err != nil {
		return nil, err
	}
	out := &castplan.Bench{
		ChipGrams:   cmp.Or(c.ChipGrams, calibrate.Grams(usual(chips, func(c archive.Chip) float64 { return c.ChipGrams })), 50),
		ScaleGrams:  cmp.Or(c.ScaleGrams, usualStep),
		Thickness:   calibrate.ThicknessMM(cmp.Or(c.ThicknessMM, usual(chips, func(c archive.Chip) float64 { return c.ThicknessMM }), usualThickness)),
		Measurement: usualWay(usual(chips, wayOf)),
		MaxPHR:      calibrate.PHR(resin.MaxPHR),
		Most:        map[string]calibrate.PHR{},
	}
	if err := checkThicknessSD("chips of "+resin.Code, c.ThicknessSDMM, float64(out.Thickness)); err != nil {
		return nil, err
	}
	if out.ThicknessSD = thicknessSD(c.ThicknessSDMM, float64(out.Thickness)); c.ThicknessSDMM == nil && len(chips) > 0 {
		out.ThicknessSD = usual(chips, func(c archive.Chip) calibrate.ThicknessMM { return thicknessSD(c.ThicknessSD, c.ThicknessMM) })
	}
	pigments, err := a.Pigments(ctx)
	if err != nil {
		return nil, err
	}
	for _, p := range pigments {
		if p.MaxPHR > 0 {
			out.Most[p.Code] = calibrate.PHR(p.MaxPHR)
		}
	}
	over := c.Over
	if len(over) == 0 {
		over = usualBackings(chips)
	}
	for _, name := range over {
		k, err := a.Backing(ctx, strings.TrimSpace(name))
		if err != nil {
			return nil, err
		}
		r, err := reflectanceOf(k)
		if err != nil {
			return nil, err
		}
		out.Backings = append(out.Backings, castplan.Backing{Name: k.Name, Reflectance: r})
	}
	return out, out.Check()
}

// wayOf is how a chip was read.
func wayOf(c archive.Chip) color.Measurement {
	if len(c.Readings) == 0 {
		return color.Measurement{}
	}
	return color.Measurement{Geometry: color.Geometry(c.Readings[0].Geometry), Specular: color.Specular(c.Readings[0].Specular)}
}

// usual is what most chips have, the first of equals.
func usual[V comparable](chips []archive.Chip, of func(archive.Chip) V) V {
	count := map[V]int{}
	var best V
	for _, c := range chips {
		count[of(c)]++
	}
	for _, c := range chips {
		if count[of(c)] > count[best] {
			best = of(c)
		}
	}
	return best
}

// usualBackings are those of the chips, the most used first.
func usualBackings(chips []archive.Chip) []string {
	count := map[string]int{}
	var names []string
	for _, c := range chips {
		if count[c.Backing] == 0 {
			names = append(names, c.Backing)
		}
		count[c.Backing]++
	}
	if len(names) == 0 {
		return []string{usualBacking, "black"}
	}
	slices.SortStableFunc(names, func(a, b string) int { return count[b] - count[a] })
	return names
}
