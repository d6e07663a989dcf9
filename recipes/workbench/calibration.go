package workbench

import (
	"context"
	"io"
	"slices"

	"masstone/calibrate"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// A CalibrationLine names a calibration of a resin.
type CalibrationLine struct {
	Calibration string `json:"calibration"`
	Version     int    `json:"version"`
	Chips       int    `json:"chips"`
	Pours       int    `json:"pours"`
	Layer       string `json:"layer"`
	At          string `json:"at"`
	Who         string `json:"who"`
}

// A CalibrationList is the calibrations of a resin, the newest first.
type CalibrationList struct {
	Resin        string            `json:"resin"`
	Calibrations []CalibrationLine `json:"calibrations"`
}

// Calibrations lists the calibrations of a resin.
func Calibrations(ctx context.Context, b *Bench, resin string) (CalibrationList, error) {
	r, err := resinAt(ctx, b.archive, resin)
	if err != nil {
		return CalibrationList{}, err
	}
	all, err := b.archive.Calibrations(ctx, r.Code)
	v := CalibrationList{Resin: r.Code, Calibrations: []CalibrationLine{}}
	for _, k := range slices.Backward(all) {
		v.Calibrations = append(v.Calibrations, CalibrationLine{k.Name(), k.Version, len(k.Chips), len(k.Pours), k.Layer, figure.At(k.At), k.Who})
	}
	return v, err
}

// A CalibrationRequest names a calibration.
type CalibrationRequest struct {
	Resin   string
	Version int // the newest if 0
	// Draw takes the charts and tables one by one, each by its name and its
	// format; nil for none.
	Draw func(name, format string, draw func(io.Writer) error) error
}

// ShowCalibration shows a stored calibration, chip by chip, as its fit did.
func ShowCalibration(ctx context.Context, b *Bench, r CalibrationRequest) (FitResult, error) {
	var v FitResult
	resin, err := resinAt(ctx, b.archive, r.Resin)
	if err != nil {
		return v, err
	}
	stored, cal, err := calibrationOn(ctx, b.archive, resin.Code, r.Version)
	if err != nil {
		return v, err
	}
	chips, err := chipsOf(ctx, b.archive, stored)
	if err != nil {
		return v, err
	}
	if v.From, err = carriedFrom(ctx, b.archive, stored); err != nil {
		return v, err
	}
	v.fill(stored, "", cal, chips)
	return v, FitRequest{Draw: r.Draw}.draw(b, stored.Name(), resin, cal, chips)
}

// chipsOf are the chips a calibration was fitted from, as they were then.
func chipsOf(ctx context.Context, b *archive.Bench, stored archive.Calibration) ([]calibrate.Chip, error) {
	cards := make([]archive.Chip, len(stored.Chips))
	for i, ref := range stored.Chips {
		var err error
		if cards[i], err = b.ChipRef(ctx, ref); err != nil {
			return nil, err
		}
	}
	chips, _, err := evidenceOf(ctx, b, cards)
	return chips, err
}
