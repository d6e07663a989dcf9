package workbench

import (
	"context"
	"errors"
	"math"

	"masstone/calibrate"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// usualThicknessSD is by how much a casting misses its thickness where nobody says, a
// standard deviation in mm: within 57 cast plates of 3.3 mm it was 0.087 (the data of
// BohndiekLab/end_to_end_phantom_QPAT). What is thinner misses no more than thinMisses
// of it; common practice, no source.
const (
	usualThicknessSD = 0.09
	thinMisses       = 0.03
)

// thicknessSD is by how much a casting of so many mm misses that: as stated, 0 for one
// that was measured exactly, else as is usual.
func thicknessSD(stated *float64, mm float64) calibrate.ThicknessMM {
	if stated != nil {
		return calibrate.ThicknessMM(*stated)
	}
	return calibrate.ThicknessMM(math.Min(usualThicknessSD, thinMisses*mm))
}

// checkThicknessSD refuses a deviation that says nothing of a thickness, 0 where that
// is not known yet.
func checkThicknessSD(what string, stated *float64, mm float64) error {
	switch {
	case stated == nil:
		return nil
	case !(*stated >= 0 && *stated <= 1000):
		return outOfRange("thickness-sd-mm", *stated, "0 to 1000 mm")
	case mm > 0 && *stated > mm/2:
		return invalid("thickness-sd-mm", "%s: a thickness of %s mm that misses by %s mm says nothing; give what it was measured to, %s for exact", what, figure.Short(mm), figure.Short(*stated), remedy.InputAs("thickness-sd-mm", "0"))
	}
	return nil
}

// thicknessSD is by how much the part of a cast misses its thickness: as was said when it
// was read, else as its mould's card or its target's says.
func (c cast) thicknessSD(ctx context.Context, a *archive.Bench) (calibrate.ThicknessMM, error) {
	var stated *float64
	t, err := targetOf(ctx, a, c.recipe)
	if err != nil {
		return 0, err
	}
	if t != nil {
		stated = t.ThicknessSD
	}
	k, err := a.CupOfPour(ctx, c.pour.Ref)
	if err != nil && !errors.Is(err, archive.ErrNotFound) {
		return 0, err
	}
	if err == nil && k.Mould != "" {
		m, err := a.Mould(ctx, k.Mould)
		if err != nil {
			return 0, err
		}
		if m.ThicknessSD != nil {
			stated = m.ThicknessSD
		}
	}
	for _, r := range c.readings {
		if r.ThicknessSD != nil {
			stated = r.ThicknessSD
		}
	}
	return thicknessSD(stated, c.recipe.ThicknessMM), nil
}
