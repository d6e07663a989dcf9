package main

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes/archive"
)

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
	return fmt.Errorf("pigment %s is on the shelf but not in calibration %s; import chips that hold it and run masstone fit %s", code, stored.Name(), stored.Resin)
}
