package workbench

import (
	"context"
	"fmt"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes/archive"
)

// usualThickness stands in for a part whose thickness is not known.
const usualThickness = 3

// usualGrams stands in for a batch whose mass is not known yet.
const usualGrams = 100

// backingsOn are the backings of the bench on the model's bands.
func backingsOn(ctx context.Context, b *archive.Bench) (map[string]color.Reflectance, error) {
	all, err := b.Backings(ctx)
	if err != nil {
		return nil, err
	}
	on := map[string]color.Reflectance{}
	for _, k := range all {
		if on[k.Name], err = reflectanceOf(k); err != nil {
			return nil, err
		}
	}
	return on, nil
}

// reflectanceOf is a backing on the model's bands.
func reflectanceOf(k archive.Backing) (color.Reflectance, error) {
	if k.Constant != nil {
		return color.Constant(*k.Constant), nil
	}
	r, err := k.Spectrum.Color().Reflectance()
	if err != nil {
		return r, fmt.Errorf("backing %s: %w", k.Name, err)
	}
	return r, nil
}

// settingOf is a thickness over a backing of the bench.
func settingOf(ctx context.Context, b *archive.Bench, thickness float64, over string, specular color.Specular) (calibrate.Setting, error) {
	k, err := b.Backing(ctx, over)
	if err != nil {
		return calibrate.Setting{}, err
	}
	r, err := reflectanceOf(k)
	return calibrate.Setting{Thickness: calibrate.ThicknessMM(thickness), Backing: r, Specular: specular}, err
}

// usualBacking stands in for one that is not known.
const usualBacking = "white"

// phrs are loadings for the packages.
func phrs(m map[string]float64) map[string]calibrate.PHR {
	out := make(map[string]calibrate.PHR, len(m))
	for code, v := range m {
		out[code] = calibrate.PHR(v)
	}
	return out
}

// floats are loadings for the archive.
func floats(m map[string]calibrate.PHR) map[string]float64 {
	out := make(map[string]float64, len(m))
	for code, v := range m {
		out[code] = float64(v)
	}
	return out
}
