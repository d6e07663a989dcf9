package workbench

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"masstone/calibrate"
	"masstone/color"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
	"slices"
)

// calibrationOn reads a calibration of the bench; version 0 is the newest.
func calibrationOn(ctx context.Context, b *archive.Bench, resin string, version int) (archive.Calibration, *calibrate.Calibration, error) {
	stored, err := b.Calibration(ctx, resin, version)
	if err != nil {
		return stored, nil, err
	}
	cal, err := openCalibration(b, stored)
	return stored, cal, err
}

// calibrationBefore reads the newest calibration of a resin that was not fitted
// from a pour, so that the pour is not counted twice.
func calibrationBefore(ctx context.Context, b *archive.Bench, resin string, p archive.Pour) (archive.Calibration, *calibrate.Calibration, error) {
	stored, err := b.Calibration(ctx, resin, 0)
	if err != nil {
		return stored, nil, err
	}
	for version := stored.Version - 1; stored.FittedFrom(p); version-- {
		if version == 0 {
			return stored, nil, fmt.Errorf("%s is in every calibration of %s already and would be counted twice; run %s", p.ID(), resin, remedy.Verb("fit", resin, remedy.InputAs("without-pours", "true")))
		}
		if stored, err = b.Calibration(ctx, resin, version); err != nil {
			return stored, nil, err
		}
	}
	cal, err := openCalibration(b, stored)
	return stored, cal, err
}

// openCalibration reads a calibration's document, once for all who ask.
func openCalibration(b *archive.Bench, stored archive.Calibration) (*calibrate.Calibration, error) {
	cal, err := archive.Made(b, stored.Ref, func() (*calibrate.Calibration, error) {
		cal := new(calibrate.Calibration)
		return cal, json.Unmarshal(stored.Document, cal)
	})
	if err != nil {
		return nil, fmt.Errorf("calibration %s cannot be used (%w); run %s again", stored.Name(), err, remedy.Verb("fit", stored.Resin))
	}
	return cal, nil
}

// calibrationName is the name of the calibration of a recipe, empty without one.
func calibrationName(ctx context.Context, b *archive.Bench, r archive.Recipe) (string, error) {
	if r.Calibration == "" {
		return "", nil
	}
	stored, err := b.CalibrationRef(ctx, r.Calibration)
	return stored.Name(), err
}

// checkFitted names the first pigment of a mixture that the calibration does
// not know, and says whether the shelf does.
func checkFitted(ctx context.Context, b *archive.Bench, stored archive.Calibration, cal *calibrate.Calibration, mix map[string]float64) error {
	for _, code := range slices.Sorted(maps.Keys(mix)) {
		if cal.Index(code) > 0 || mix[code] == 0 {
			continue
		}
		if _, err := b.Pigment(ctx, code); err != nil {
			return err
		}
		return notFitted(code, stored)
	}
	return nil
}

func notFitted(code string, stored archive.Calibration) error {
	return fmt.Errorf("pigment %s is on the shelf but not in calibration %s; import chips that hold it and run %s", code, stored.Name(), remedy.Verb("fit", stored.Resin))
}

// inCalibration keeps the strengths of the resin, "", and of pigments that a
// calibration knows.
func inCalibration(cal *calibrate.Calibration, known map[string]calibrate.Strength) map[string]calibrate.Strength {
	out := map[string]calibrate.Strength{}
	for code, s := range known {
		if code == "" || cal.Index(code) != 0 {
			out[code] = s
		}
	}
	return out
}

// lightsOf are the lights to predict under: the main one, then those asked for
// or else those that the chips were read under.
func lightsOf(cal *calibrate.Calibration, asked []color.Condition) []color.Condition {
	lights := []color.Condition{cal.Main}
	if len(asked) == 0 {
		asked = cal.Lights
		if cal.Spectral {
			asked = append(slices.Clone(asked), color.Under(color.A, cal.Main.Observer), color.Under(color.FL11, cal.Main.Observer))
		}
	}
	for _, c := range asked {
		if !slices.Contains(lights, c) {
			lights = append(lights, c)
		}
	}
	return lights
}

// beyond names the pigments of which there is more in a mixture than in any
// chip of a calibration.
func beyond(cal *calibrate.Calibration, mix map[string]float64) []string {
	var notes []string
	for _, code := range slices.Sorted(maps.Keys(mix)) {
		q := cal.Index(code)
		if q == 0 {
			continue
		}
		if most := float64(cal.Curves[q].MaxPHR); mix[code] > 1.001*most {
			notes = append(notes, fmt.Sprintf("%s %.4g phr is more than any chip holds (%.4g): how it goes on from there was not seen", code, mix[code], most))
		}
	}
	return notes
}

// beyondResin says so if a mixture holds more paste than its resin bears.
func beyondResin(ctx context.Context, b *archive.Bench, code string, mix map[string]float64) (string, error) {
	resin, err := b.Resin(ctx, code)
	if err != nil || resin.MaxPHR == 0 {
		return "", err
	}
	sum := 0.0
	for _, phr := range mix {
		sum += phr
	}
	if sum <= 1.001*resin.MaxPHR {
		return "", nil
	}
	return fmt.Sprintf("%s phr of paste is more than %s bears (%s)", figure.Short(sum), code, figure.Short(resin.MaxPHR)), nil
}

// noiseOf is a recipe's calibration for what it says of the instrument and the
// main light: an empty one for a recipe without.
func noiseOf(ctx context.Context, b *archive.Bench, r archive.Recipe) (*calibrate.Calibration, error) {
	if r.Calibration == "" {
		return &calibrate.Calibration{Main: color.D65Ten()}, nil
	}
	stored, err := b.CalibrationRef(ctx, r.Calibration)
	if err != nil {
		return nil, err
	}
	return openCalibration(b, stored)
}
