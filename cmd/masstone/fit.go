package main

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes/archive"
)

type fitOptions struct {
	resin    string
	layer    string
	index    float64
	main     color.Condition
	evidence calibrate.Evidence
	report   string
	dryRun   bool
}

func newFitCommand(env *Env) *cobra.Command {
	o := fitOptions{evidence: calibrate.AllEvidence}
	cmd := &cobra.Command{
		Use:   "fit RESIN",
		Short: "Fit how the pigments mix in a resin, from its chips",
		Long: `Fits the optics of a resin and its pigments from all its chips at once, judges
the fit by what it says of each chip when that chip is left out, and stores it as
the resin's next calibration. Earlier ones are kept.

A chip that is wrong in a way no noise explains is named, with the likeliest cause:
a loading off by a factor, two chips swapped, another backing. The record stays as
it is; correct it, or read the chip again.

The layer models are tried in turn (kubelka-munk, and exact: light followed through
the layer in many directions, scattered forward, less so or evenly) and the one by
which the readings are likeliest is taken, the less usual only where clearly
better, unless --layer says which. Where others remain possible, the bars hold
what they say differently; more chips per pigment tell models apart.

The table: dE00 is the CIEDE2000 between the reading and the fit; left out, what
it would be had the chip not been read; sigma, how far that lies outside the bars
claimed for it, as the number of standard deviations of equal rarity. Beside each
layer stands the mean dE00 of its left-out chips.

--evidence takes less than the chips hold, to see what a simpler instrument would
give: lab, the Lab under one light (that of --main); labs, under all lights that
were read, or D65, A and FL11 of the spectra; spectra alone; or all, which is
spectra and, of chips without one, Lab. What was not read comes from the spectrum.

--report draws the fit into a folder, SVG and PNG: K and S of the resin and every
pigment with their 95 % bands, chips measured against fitted, the a*b* map of the
left-out chips, the gamut; and two tables as CSV: the chips, and the curves with
their bands.

  masstone fit CLR --report report
  masstone fit CLR --evidence lab --dry-run

JSON keys: calibration (name), resin, version, evidence, pigments, layer (name, k1, k2,
k1_sd, k2_sd, index, index_sd, mean_cosine, surface_known), layers_tried (name,
index, mean_cosine, mean_dE00 and log_score (mean ln density) of the left-out
chips, log_likelihood, weight (how likely the model is, of 1)), main, lights, spectral, noise (lab_sd,
spectrum_sd), strength_scatter (of pastes from chip to chip, sd of ln strength),
model_error (widen, floor_dE00, layer_dE00 (of the floor)), leave_one_out (chips, mean_dE00, median_dE00, coverage95), chips (a
list of chip, loadings_phr, under, measured, fitted, left_out, dE00,
left_out_dE00, sigma, inside95, vague (the other chips cannot tell), weighed_phr
(what the fit believes was in the cup)), suspects (a list of chips, cause,
pigment, factor (true over written loading), backing (what it was really read
over), written (the backing on record), sigma, ln_odds (against the next
explanation), taken (the fit takes the chips for that, else it hears them
faintly), says), warnings, report (the files written).
With --dry-run calibration is empty and version 0.`,
		Args: needs("RESIN"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.resin = args[0]
			return runFit(cmd.Context(), env, o)
		},
	}
	f := cmd.Flags()
	f.Var(parsed[string]{&o.layer, parseLayer, func(s string) string { return s }, "model"}, "layer", "layer model: kubelka-munk or exact (else the better)")
	numberVar(f, &o.index, "index", anIndex, 0, "refractive index of the resin for the exact layer (as the readings tell)")
	f.Var(conditionFlag(&o.main), "main", "light and observer of the report, such as D65/10 (else D65/10 if it was read)")
	f.Var(parsed[calibrate.Evidence]{&o.evidence, calibrate.ParseEvidence, func(e calibrate.Evidence) string { return string(e) }, "kind"}, "evidence", "readings to fit: lab, labs, spectra or all")
	f.StringVar(&o.report, "report", "", "`FOLDER` to draw charts and tables into")
	f.BoolVar(&o.dryRun, "dry-run", false, "show the fit, store nothing")
	return cmd
}

func parseLayer(s string) (string, error) {
	switch strings.ToLower(s) {
	case "kubelka-munk", "km", "kubelkamunk":
		return calibrate.KubelkaMunk, nil
	case "exact":
		return calibrate.ExactLayer, nil
	}
	return "", fmt.Errorf("is no layer model; give %s or %s", calibrate.KubelkaMunk, calibrate.ExactLayer)
}

func conditionFlag(value *color.Condition) parsed[color.Condition] {
	return parsed[color.Condition]{value, color.ParseCondition, func(c color.Condition) string {
		if c == (color.Condition{}) {
			return ""
		}
		return c.String()
	}, "light/observer"}
}

func runFit(ctx context.Context, env *Env, o fitOptions) error {
	if o.index != 0 && o.layer == calibrate.KubelkaMunk {
		return misusef("--index is of the exact layer; leave it out, or give --layer exact")
	}
	if err := reportFolder(env, o.report); err != nil {
		return err
	}
	return withBench(ctx, env, func(b *archive.Bench) error {
		resin, err := b.Resin(ctx, o.resin)
		if err != nil {
			return err
		}
		archived, err := b.Chips(ctx, resin.Code)
		if err != nil {
			return err
		}
		if len(archived) == 0 {
			return fmt.Errorf("no chip of %s to fit; masstone chip import FILE --resin %s", resin.Code, resin.Code)
		}
		chips, pigments, err := evidenceOf(ctx, b, archived)
		if err != nil {
			return err
		}
		main := mainLight(o.main, chips)
		if o.evidence != calibrate.AllEvidence {
			if main == (color.Condition{}) {
				main = firstLight(chips)
			}
			if chips, err = simpler(env, o.evidence, chips, main); err != nil {
				return fmt.Errorf("fit of %s: %w", resin.Code, err)
			}
			archived, pigments = fittedCards(archived, chips), fittedPigments(pigments, chips)
		}
		p := env.progress()
		cal, err := calibrate.Fit(ctx, pigments, chips, calibrate.Options{Layer: o.layer, Index: o.index, Main: main, Progress: p.step})
		p.end()
		if err != nil {
			return fmt.Errorf("fit of %s: %w", resin.Code, err)
		}
		if o.evidence != calibrate.AllEvidence {
			cal.Warnings = append(cal.Warnings, fmt.Sprintf("made with --evidence %s: the chips may hold more than it used", o.evidence))
		}
		stored := archive.Calibration{Resin: resin.Code}
		title := "fit of " + resin.Code
		if !o.dryRun {
			if stored, err = storeFit(ctx, b, resin.Code, archived, cal); err != nil {
				return err
			}
			title = stored.Name()
		}
		files, err := writeReport(env, o.report, title, resin, cal, chips)
		if err != nil {
			return err
		}
		left, err := pigmentsWithout(ctx, b, pigments)
		if err != nil {
			return err
		}
		if env.JSON {
			return env.emit(viewFit(stored, o.evidence, cal, chips, files))
		}
		printFit(env, stored, cal, chips)
		printFiles(env, o.report, files)
		if o.evidence != calibrate.AllEvidence && !o.dryRun {
			env.say("%s is now the newest calibration, which match and predict use; masstone fit %s makes one from all readings again", stored.Name(), stored.Resin)
		}
		if len(left) > 0 {
			env.say("no chip holds %s: recipes cannot use it until one is cast and read", listed(left))
		}
		return nil
	})
}

// mainLight is the condition of the report: the one asked for, else D65/10 if
// it can be had.
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

func storeFit(ctx context.Context, b *archive.Bench, resin string, chips []archive.Chip, cal *calibrate.Calibration) (archive.Calibration, error) {
	document, err := json.Marshal(cal)
	if err != nil {
		return archive.Calibration{}, fmt.Errorf("fit of %s: it cannot be stored (%w); please report it", resin, err)
	}
	refs := make([]string, len(chips))
	for i, c := range chips {
		refs[i] = c.Ref
	}
	return b.AddCalibration(ctx, archive.Calibration{Resin: resin, Layer: cal.Layer.Name, Chips: refs, Document: document})
}

// pigmentsWithout lists pigments of the shelf that are not among the fitted.
func pigmentsWithout(ctx context.Context, b *archive.Bench, fitted []string) ([]string, error) {
	shelf, err := pigmentCodes(ctx, b)
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(shelf, func(code string) bool { return slices.Contains(fitted, code) }), nil
}

// calibrationOn reads a calibration of the bench; version 0 is the newest.
func calibrationOn(ctx context.Context, b *archive.Bench, resin string, version int) (archive.Calibration, *calibrate.Calibration, error) {
	stored, err := b.Calibration(ctx, resin, version)
	if err != nil {
		return stored, nil, err
	}
	cal, err := openCalibration(stored)
	return stored, cal, err
}

func openCalibration(stored archive.Calibration) (*calibrate.Calibration, error) {
	cal := new(calibrate.Calibration)
	if err := json.Unmarshal(stored.Document, cal); err != nil {
		return nil, fmt.Errorf("calibration %s cannot be used (%w); run masstone fit %s again", stored.Name(), err, stored.Resin)
	}
	return cal, nil
}
