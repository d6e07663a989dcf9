package workbench

import (
	"context"
	"errors"
	"fmt"

	"masstone/calibrate"
	"masstone/color/remedy"
	"masstone/recipes/archive"
)

// A knownResin is a calibration that another resin's curves are carried over from.
type knownResin struct {
	stored archive.Calibration
	fitted *calibrate.Calibration
}

// from finds it; nil where none was asked for.
func (r FitRequest) from(ctx context.Context, a *archive.Bench, resin string) (*knownResin, error) {
	if r.From == "" {
		return nil, nil
	}
	other, err := resinAt(ctx, a, r.From)
	if err != nil {
		return nil, err
	}
	switch {
	case other.Code == resin:
		return nil, invalid("from", "%s is the resin that is fitted; name another one, whose pastes are known", remedy.InputAs("from", r.From))
	case r.Layer != "":
		return nil, invalid("layer", "%s goes by the layer of %s; leave %s out", remedy.Input("from"), other.Code, remedy.Input("layer"))
	}
	stored, cal, err := calibrationOn(ctx, a, other.Code, 0)
	if err != nil {
		return nil, err
	}
	if r.Index != 0 && cal.Layer.Name != calibrate.ExactLayer {
		return nil, invalid("index", "%s is of the exact layer, and %s has %s; leave it out", remedy.Input("index"), stored.Name(), cal.Layer.Name)
	}
	return &knownResin{stored, cal}, nil
}

// carries makes all that the other resin knows the pigments of a fit, and refuses
// chips of others.
func (k *knownResin) carries(in *fitted) error {
	if k == nil {
		return nil
	}
	for _, code := range in.pigments {
		if k.fitted.Index(code) == 0 {
			return fmt.Errorf("%s knows no %s, which chips hold; cast it in %s too and run %s, or leave %s out", k.stored.Name(), code, k.stored.Resin, remedy.Verb("fit", k.stored.Resin), remedy.Input("from"))
		}
	}
	in.pigments = k.fitted.Codes()
	return nil
}

// remarkCarried says so where the curves were carried over before and are not now.
func (r FitRequest) remarkCarried(ctx context.Context, a *archive.Bench, resin string, say *Remarks) error {
	newest, err := a.Calibration(ctx, resin, 0)
	if errors.Is(err, archive.ErrNotFound) || err == nil && (newest.From == "" || r.From != "") {
		return nil
	}
	if err != nil {
		return err
	}
	name, err := carriedFrom(ctx, a, newest)
	if err != nil || name == "" {
		return err
	}
	say.warn("the curves of %s were carried over from %s, these come of the chips alone; %s carries them over again", newest.Name(), name, remedy.InputAs("from", "RESIN"))
	return nil
}

// carriedFrom names the calibration that another's curves were carried over from,
// empty where there is none here.
func carriedFrom(ctx context.Context, a *archive.Bench, k archive.Calibration) (string, error) {
	if k.From == "" {
		return "", nil
	}
	from, err := a.CalibrationRef(ctx, k.From)
	if errors.Is(err, archive.ErrNotFound) {
		return "", nil
	}
	return from.Name(), err
}
