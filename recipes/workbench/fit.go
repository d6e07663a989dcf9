package workbench

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"slices"

	"masstone/calibrate"
	"masstone/calibrate/charts"
	"masstone/calibrate/gamut"
	"masstone/color"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// A FitRequest asks for a calibration of a resin from its chips.
type FitRequest struct {
	Resin    string             // code
	Layer    string             // calibrate.KubelkaMunk or calibrate.ExactLayer; the likelier if empty
	Index    float64            // refractive index of the resin, for the exact layer; as the readings tell if 0
	Main     color.Condition    // of the report; if zero D65/10 where it was read, else the first read
	Evidence calibrate.Evidence // what is used of the readings; all if empty
	// WithoutPours leaves out the read pours of the resin, which otherwise count as
	// castings beside the chips.
	WithoutPours bool
	// From is another resin whose calibration tells the shape of the pastes' curves,
	// so that a few chips do; empty for none.
	From   string
	DryRun bool // nothing is stored
	// Draw takes the charts and tables of the fit one by one, each by its name
	// and its format; nil for none. Where it fails nothing is stored.
	Draw func(name, format string, draw func(io.Writer) error) error
}

// Fit finds how the pigments of a resin mix from all its chips at once, and
// stores it as the resin's next calibration.
func Fit(ctx context.Context, b *Bench, r FitRequest) (FitResult, error) {
	if err := r.check(); err != nil {
		return FitResult{}, err
	}
	var v FitResult
	resin, err := b.archive.Resin(ctx, r.Resin)
	if err != nil {
		return v, err
	}
	from, err := r.from(ctx, b.archive, resin.Code)
	if err != nil {
		return v, err
	}
	in, err := r.chips(ctx, b.archive, resin.Code, from, &v.Remarks)
	if err != nil {
		return v, err
	}
	options := calibrate.Options{Layer: r.Layer, Index: r.Index, Main: in.main, Progress: b.step}
	if options.Noise, err = in.noise(ctx, b.archive, &v.Remarks); err != nil {
		return v, err
	}
	var cal *calibrate.Calibration
	if from != nil {
		cal, err = from.fitted.Carry(ctx, in.chipsAndPours(), options)
	} else {
		cal, err = calibrate.Fit(ctx, in.pigments, in.chipsAndPours(), options)
	}
	if err != nil {
		return v, fmt.Errorf("fit of %s: %w", resin.Code, err)
	}
	if err := r.remarkCarried(ctx, b.archive, resin.Code, &v.Remarks); err != nil {
		return v, err
	}
	if !r.WithoutPours && len(in.pours)+len(in.without) > 0 {
		changed, err := in.changed(ctx, b.archive, resin.Code, cal)
		if err != nil {
			return v, err
		}
		v.Pours = &changed
	}
	noteApertures(in.chips, cal, &v.Remarks)
	cal.Chips = cal.Chips[:len(in.chips)]
	if r.simpler() {
		cal.Warnings = append(cal.Warnings, fmt.Sprintf("made from %s alone: the chips may hold more than that", r.used(cal)))
	}
	stored := archive.Calibration{Resin: resin.Code, Pours: in.refs()}
	if from != nil {
		v.From, stored.From = from.stored.Name(), from.stored.Ref
	}
	if r.DryRun {
		err = r.draw(b, "fit of "+resin.Code, resin, cal, in.chips)
	} else {
		err = together(ctx, b, &stored, func(a *archive.Bench) error {
			if stored, err = storeFit(ctx, a, stored, in, cal); err != nil {
				return err
			}
			return r.draw(b, stored.Name(), resin, cal, in.chips)
		})
	}
	if err != nil {
		return v, err
	}
	v.fill(stored, cmp.Or(r.Evidence, calibrate.AllEvidence), cal, in.chips)
	if r.simpler() && !r.DryRun {
		v.Remarks.say("%s is now the newest calibration, which matches and predictions go by; %s makes one from all readings again", stored.Name(), remedy.Verb("fit", resin.Code))
	}
	return v, v.remarkUnfitted(ctx, b.archive, cal.Codes())
}

func (r FitRequest) check() error {
	switch {
	case r.Layer != "" && r.Layer != calibrate.KubelkaMunk && r.Layer != calibrate.ExactLayer:
		return invalid("layer", "%s: is no layer model; give %s or %s", remedy.InputAs("layer", r.Layer), calibrate.KubelkaMunk, calibrate.ExactLayer)
	case r.Index != 0 && r.Layer == calibrate.KubelkaMunk:
		return invalid("index", "%s is of the exact layer; leave it out, or give %s", remedy.Input("index"), remedy.InputAs("layer", calibrate.ExactLayer))
	case r.Index != 0 && !(r.Index > 1 && r.Index <= 3):
		return outOfRange("index", r.Index, "a value above 1 up to 3")
	}
	return nil
}

// simpler tells whether less is fitted than the chips may hold.
func (r FitRequest) simpler() bool {
	return r.Evidence != "" && r.Evidence != calibrate.AllEvidence
}

// used says what a fit from less than all was made from.
func (r FitRequest) used(cal *calibrate.Calibration) string {
	switch r.Evidence {
	case calibrate.LabEvidence:
		return "Lab under " + cal.Main.String()
	case calibrate.SpectralEvidence:
		return "spectra"
	}
	return "Lab"
}

// fitted is what a fit is made from.
type fitted struct {
	cards    []archive.Chip
	chips    []calibrate.Chip // of the cards, in their order
	pigments []string
	main     color.Condition
	pours    []pouredChip // that count beside the chips
	without  []LeftPour
	young    *YoungPours // those of pours that were read young
}

// chips are those of the resin, with as much of their readings as is asked for.
func (r FitRequest) chips(ctx context.Context, a *archive.Bench, resin string, from *knownResin, say *Remarks) (fitted, error) {
	var in fitted
	var err error
	if in.cards, err = a.Chips(ctx, resin); err != nil {
		return in, err
	}
	if len(in.cards) == 0 {
		return in, fmt.Errorf("no chip of %s to fit; %s", resin, remedy.Verb("chip import", "FILE", remedy.InputAs("resin", resin)))
	}
	if in.chips, in.pigments, err = evidenceOf(ctx, a, in.cards); err != nil {
		return in, err
	}
	if err := from.carries(&in); err != nil {
		return in, fmt.Errorf("fit of %s: %w", resin, err)
	}
	if !r.WithoutPours {
		if err := in.addPours(ctx, a, resin); err != nil {
			return in, err
		}
	}
	in.main = mainLight(r.Main, in.chips)
	if r.simpler() {
		if in.main == (color.Condition{}) {
			in.main = firstLight(in.chips)
		}
		if err := r.leaveSimpler(&in, say); err != nil {
			return in, fmt.Errorf("fit of %s: %w", resin, err)
		}
	}
	if err := in.settle(); err != nil {
		return in, fmt.Errorf("fit of %s: %w", resin, err)
	}
	if len(in.pigments) == 0 {
		return in, fmt.Errorf("fit of %s: %s of bare resin and none that holds a pigment; one chip of a pigment is the least a fit takes, %s says which to cast", resin, figure.Count(len(in.chips), "chip"), remedy.Verb("plan start", resin))
	}
	return in, nil
}

// leaveSimpler leaves the chips what a simpler instrument would have read of
// them.
func (r FitRequest) leaveSimpler(in *fitted, say *Remarks) error {
	chips, without, err := r.Evidence.Of(in.chips, in.main)
	switch {
	case err != nil:
		return err
	case len(chips) == 0 && r.Evidence == calibrate.SpectralEvidence:
		return fmt.Errorf("no chip has a spectrum; leave %s out, or read the chips as spectra", remedy.Input("evidence"))
	case len(chips) == 0:
		return fmt.Errorf("no chip was read under %s; say %s", in.main, remedy.InputAs("main", "LIGHT/OBSERVER"))
	case len(without) > 0:
		say.say("left out, as %s leaves nothing of them: %s", remedy.InputAs("evidence", string(r.Evidence)), figure.List(without))
	}
	if err := r.leaveSimplerPours(in); err != nil {
		return err
	}
	in.chips = chips
	in.cards = slices.DeleteFunc(in.cards, func(k archive.Chip) bool {
		return !slices.ContainsFunc(chips, func(c calibrate.Chip) bool { return c.Name == k.Name })
	})
	in.pigments = slices.DeleteFunc(in.pigments, func(code string) bool {
		return r.From == "" && !slices.ContainsFunc(chips, func(c calibrate.Chip) bool { return c.Loadings[code] > 0 })
	})
	return nil
}

// leaveSimplerPours leaves the pours what such an instrument would have read.
func (r FitRequest) leaveSimplerPours(in *fitted) error {
	var kept []pouredChip
	for _, p := range in.pours {
		if p.still.hours > 0 && r.Evidence == calibrate.SpectralEvidence {
			in.without = append(in.without, LeftPour{p.pour.ID(), "it was read young, and what a spectrum still changes by is not known"})
			continue
		}
		chips, without, err := r.Evidence.Of([]calibrate.Chip{p.chip}, in.main)
		if err != nil {
			return err
		}
		if len(without) > 0 {
			why := "it was not read as a spectrum"
			if r.Evidence != calibrate.SpectralEvidence {
				why = "it was not read under " + in.main.String()
			}
			in.without = append(in.without, LeftPour{p.pour.ID(), why})
			continue
		}
		p.chip = chips[0]
		kept = append(kept, p)
	}
	in.pours = kept
	return nil
}

// mainLight is the condition of the report: the one asked for, else D65/10 if
// it was read; zero leaves it to the fit.
func mainLight(asked color.Condition, chips []calibrate.Chip) color.Condition {
	if asked != (color.Condition{}) {
		return asked
	}
	for _, c := range chips {
		for _, lab := range c.Labs {
			if lab.Under == color.D65Ten() {
				return lab.Under
			}
		}
	}
	return color.Condition{}
}

// firstLight is the light of a fit from one Lab where D65/10 was not read: the
// usual one where there are spectra, else the first that was read.
func firstLight(chips []calibrate.Chip) color.Condition {
	for _, c := range chips {
		if c.Spectrum != nil {
			return color.D65Ten()
		}
	}
	for _, c := range chips {
		if len(c.Labs) > 0 {
			return c.Labs[0].Under
		}
	}
	return color.D65Ten()
}

func storeFit(ctx context.Context, a *archive.Bench, k archive.Calibration, in fitted, cal *calibrate.Calibration) (archive.Calibration, error) {
	var err error
	if k.Document, err = json.Marshal(cal); err != nil {
		return k, fmt.Errorf("fit of %s: it cannot be stored (%w); please report it", k.Resin, err)
	}
	k.Layer = cal.Layer.Name
	for _, c := range in.cards {
		k.Chips = append(k.Chips, c.Ref)
	}
	return a.AddCalibration(ctx, k)
}

// draw hands out the report, if one is asked for.
func (r FitRequest) draw(b *Bench, title string, resin archive.Resin, cal *calibrate.Calibration, chips []calibrate.Chip) error {
	if r.Draw == nil {
		return nil
	}
	all, err := charts.All(cal, charts.Options{Title: title, Chips: chips, Limits: gamut.Limits{TotalPHR: calibrate.PHR(resin.MaxPHR)}})
	if err != nil {
		return err
	}
	for _, c := range all {
		for _, format := range c.Formats {
			b.step("drawing the report")
			if err := r.Draw(c.Name, format, func(w io.Writer) error { return c.Draw(w, format) }); err != nil {
				return err
			}
		}
	}
	return nil
}

// remarkUnfitted names the pigments of the shelf that no chip holds.
func (v *FitResult) remarkUnfitted(ctx context.Context, a *archive.Bench, fitted []string) error {
	shelf, err := pigmentCodes(ctx, a)
	if err != nil {
		return err
	}
	left := slices.DeleteFunc(shelf, func(code string) bool { return slices.Contains(fitted, code) })
	if len(left) > 0 {
		v.Remarks.say("no chip holds %s: recipes cannot use it until one is cast and read", figure.List(left))
	}
	return nil
}
