package workbench

import (
	"cmp"
	"context"
	"fmt"

	"masstone/color"
	"masstone/color/readings"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// usualTolerance is what a client accepts who said nothing, CIEDE2000 (common
// practice, no source).
const usualTolerance = 1

// An AddTargetRequest adds a colour to match, or replaces its card.
type AddTargetRequest struct {
	Name, Client, Part string
	Readings           Readings      // of the part to match
	ThicknessMM        float64       // of the part to cast; 3 if 0
	ThicknessSDMM      *float64      // by which castings of it miss that, a standard deviation; nil for the usual
	Over               string        // backing behind it; white if empty
	Tolerance          float64       // largest difference the client accepts; 1 if 0, none if only Limits count
	Formula            color.Formula // of Tolerance; CIEDE2000 if empty
	Limits             map[string]float64
	Spot               Spot // of the part to cast, as the piece that was read
	Note               string
	Replace            bool
	Seen               string // Ref of the card this was made from; "" does not check
}

// A TargetOutcome is a target, and what was done to its card.
type TargetOutcome struct {
	Outcome string `json:"outcome" doc:"added, unchanged, changed"`
	Target
	Remarks Remarks `json:"-"`
}

// A Target is a colour to match.
type Target struct {
	Name        string                   `json:"target"`
	Client      string                   `json:"client,omitempty"`
	Part        string                   `json:"part,omitempty"`
	ThicknessMM figure.Number            `json:"thickness_mm" doc:"of the part to cast"`
	ThicknessSD figure.Number            `json:"thickness_sd_mm" doc:"by which castings of it miss that, a standard deviation"`
	FlatMM      figure.Number            `json:"flat_mm,omitzero" doc:"what is flat of it"`
	Over        string                   `json:"over"`
	Geometry    color.Geometry           `json:"geometry"`
	Specular    color.Specular           `json:"specular"`
	Tolerance   figure.Number            `json:"tolerance"`
	Formula     string                   `json:"formula"`
	Limits      map[string]figure.Number `json:"limits,omitempty" doc:"by axis"`
	Colors      []PartColor              `json:"colors"`
	Spectrum    *archive.Spectrum        `json:"spectrum,omitempty"`
	OfSpectra   *PartColor               `json:"of_spectra,omitempty" doc:"what the spectra come to under D65/10"`
	Taken       *archive.Taken           `json:"taken,omitempty" doc:"as the file says of the first reading"`
	Signs       []readings.Sign          `json:"signs,omitempty" doc:"that it is no surface that only absorbs and scatters"`
	Note        string                   `json:"note,omitempty"`

	Accepts  string   `json:"-"` // tolerance and limits in words
	StatedSD *float64 `json:"-"` // of the thickness, nil where the usual counts
	Ref      string   `json:"-"` // of the card
}

// A TargetList is the targets of a bench.
type TargetList struct {
	Targets []Target `json:"targets"`
}

// A ShownTarget is a target with the recipes found for it.
type ShownTarget struct {
	Target
	Recipes []Recipe `json:"recipes" as:"recipe show"`

	Remarks Remarks `json:"-"`
}

func targetView(t archive.Target) (Target, readings.Piece, error) {
	p, err := pieceOf(t.Name, t.Readings)
	v := Target{Name: t.Name, Client: t.Client, Part: t.Part, ThicknessMM: figure.Number(t.ThicknessMM), ThicknessSD: figure.Number(thicknessSD(t.ThicknessSD, cmp.Or(t.ThicknessMM, usualThickness))), FlatMM: figure.Number(t.FlatMM), Over: t.Backing, Geometry: p.Measurement.Geometry,
		Specular: p.Measurement.Specular, Tolerance: figure.Number(t.Tolerance), Formula: t.Formula, Colors: partColors(p), Note: t.Note, Accepts: acceptance(t), OfSpectra: ofSpectra(p), Taken: takenOf(p.Circumstances), StatedSD: t.ThicknessSD, Ref: t.Ref}
	if len(t.Limits) > 0 {
		v.Limits = figure.Map(t.Limits)
	}
	if err == nil {
		v.Signs, err = p.Signs()
	}
	if p.Spectrum != nil {
		s := archive.SpectrumOf(*p.Spectrum)
		v.Spectrum = &s
	}
	return v, p, err
}

// AddTarget adds a colour to match.
func AddTarget(ctx context.Context, b *Bench, r AddTargetRequest) (TargetOutcome, error) {
	var v TargetOutcome
	if err := r.Spot.check(); err != nil {
		return v, err
	}
	if err := checkThicknessSD(fmt.Sprintf("target %q", r.Name), r.ThicknessSDMM, cmp.Or(r.ThicknessMM, usualThickness)); err != nil {
		return v, err
	}
	if r.Readings.Instrument != "" { // a client's reading is of none of the bench's
		e, err := equipmentFor(ctx, b.archive, archive.Instrument, r.Readings.Instrument)
		if err != nil {
			return v, err
		}
		r.Readings.read(e, &v.Remarks)
	}
	if err := r.Readings.through(ctx, b.archive, r.Spot.ApertureMM); err != nil {
		return v, err
	}
	rows, err := r.Readings.rows(fmt.Sprintf("target %q", r.Name), r.Name, &v.Remarks)
	if err != nil {
		return v, err
	}
	if r.Tolerance == 0 && len(r.Limits) == 0 {
		r.Tolerance = usualTolerance
	}
	t := archive.Target{Client: r.Client, Part: r.Part, Name: r.Name, Readings: readingsOf(rows), ThicknessMM: cmp.Or(r.ThicknessMM, usualThickness), ThicknessSD: r.ThicknessSDMM,
		Backing: cmp.Or(r.Over, usualBacking), Tolerance: r.Tolerance, Formula: string(cmp.Or(r.Formula, color.CIEDE2000)), Limits: r.Limits, FlatMM: r.Spot.FlatMM, Note: r.Note}
	piece, err := pieceOf(t.Name, t.Readings)
	if err != nil {
		return v, err
	}
	var kept archive.Target
	err = together(ctx, b, &v, func(a *archive.Bench) error {
		if r.Seen != "" {
			now, err := a.Target(ctx, r.Client, r.Name)
			if err != nil {
				return err
			}
			if err := checkSeen("target "+r.Name, r.Seen, now.Stamp); err != nil {
				return err
			}
		}
		outcome, err := a.PutTarget(ctx, t, onChange(r.Replace))
		if err != nil {
			return err
		}
		v.Outcome = string(outcome)
		kept, err = a.Target(ctx, t.Client, t.Name)
		return err
	})
	if err != nil {
		return v, advise(err, "add "+remedy.Input("replace")+" to replace the target, or give it another name")
	}
	v.Target, _, err = targetView(kept)
	v.Remarks.doubt(piece)
	if small := r.Spot.tooSmall(piece); small != "" {
		v.Remarks.warn("%s. Ask for a flat piece of the same material, or read it through a smaller aperture; of a pour %s", small, companion())
	}
	v.Remarks.signs(v.Signs, unmatched())
	return v, err
}

// Targets lists the targets of a client, or all if client is empty.
func Targets(ctx context.Context, b *Bench, client string) (TargetList, error) {
	all, err := b.archive.Targets(ctx, client)
	if err != nil {
		return TargetList{}, err
	}
	v := TargetList{Targets: make([]Target, len(all))}
	for i, t := range all {
		if v.Targets[i], _, err = targetView(t); err != nil {
			return v, err
		}
	}
	return v, nil
}

// ShowTarget shows a target and the recipes found for it; client says whose,
// where several have one of this name.
func ShowTarget(ctx context.Context, b *Bench, client, name string) (ShownTarget, error) {
	var v ShownTarget
	t, err := b.archive.Target(ctx, client, name)
	if err != nil {
		return v, err
	}
	view, piece, err := targetView(t)
	if err != nil {
		return v, err
	}
	found, err := b.archive.Recipes(ctx, t.Client, t.Name)
	v.Target, v.Recipes = view, recipesOf(found)
	v.Remarks.doubt(piece)
	v.Remarks.signs(v.Signs, unmatched())
	return v, err
}
