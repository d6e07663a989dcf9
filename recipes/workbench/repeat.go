package workbench

import (
	"cmp"
	"context"

	"masstone/calibrate"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// repeatSD is the standard deviation of one reading as the instrument of all of them
// states it, in each of L*, a*, b*; 0 where one of them is of another, or nothing is
// stated.
func repeatSD(ctx context.Context, a *archive.Bench, of []archive.Reading) (float64, error) {
	name := ""
	for i, r := range of {
		if r.Taken == nil || r.Taken.Instrument == "" || i > 0 && r.Taken.Instrument != name {
			return 0, nil
		}
		name = r.Taken.Instrument
	}
	if name == "" {
		return 0, nil
	}
	all, err := a.Equipment(ctx, archive.Instrument)
	for _, e := range all {
		if e.Name == name {
			return e.RepeatSD, err
		}
	}
	return 0, err
}

// readingNoise is repeatSD where it is stated, and the usual where it is not: what
// limits, drifts and comparisons of readings go by.
func readingNoise(ctx context.Context, a *archive.Bench, of []archive.Reading) (float64, error) {
	sd, err := repeatSD(ctx, a, of)
	return cmp.Or(sd, recipes.ReadingSD), err
}

// noise is what the fit expects of a reading: what the instrument of all chips states,
// nil for the usual. The fit goes on from there by what the readings say.
func (in *fitted) noise(ctx context.Context, a *archive.Bench, say *Remarks) (*calibrate.Noise, error) {
	var all []archive.Reading
	for _, c := range in.cards {
		all = append(all, c.Readings...)
	}
	sd, err := repeatSD(ctx, a, all)
	if err != nil || sd == 0 {
		return nil, err
	}
	say.say("a reading is taken to repeat to %s in L*, a* and b*, as %s states", figure.Short(sd), all[0].Taken.Instrument)
	noise := calibrate.NoiseOf(sd)
	return &noise, nil
}
