package castplan_test

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

// small is a shop of six pigments, calibrated once from its starting plan.
var small = sync.OnceValues(func() (*world, map[virtualshop.Evidence]*calibrate.Calibration) {
	w := newWorld(virtualshop.Painted(1, 6), 1, calibrate.KubelkaMunk)
	start, err := castplan.Start(castplan.Shelf{Pigments: w.Codes, Whites: []string{virtualshop.White}, PerColour: 2, Level: w.Level}, w.bench)
	if err != nil {
		panic(err)
	}
	chips := w.cast(rand.New(rand.NewPCG(1, 's')), start)
	all := map[virtualshop.Evidence]*calibrate.Calibration{}
	for _, e := range virtualshop.Evidences() {
		if all[e], err = calibrate.Fit(context.Background(), w.Codes, e.Of(chips), calibrate.Options{Layer: w.layer}); err != nil {
			panic(err)
		}
	}
	return w, all
})

// What is expected never rises by casting, and falls the most by the chip
// rated first.
func TestExpectationNeverRises(t *testing.T) {
	w, all := small()
	for _, e := range virtualshop.Evidences() {
		c := all[e]
		r := w.request(t, c, 0)
		rapid.Check(t, func(t *rapid.T) {
			r := castplan.Request{Reading: r.Reading, Count: 4}
			full := w.request(nilFatal{t}, c, 0)
			for range rapid.IntRange(1, 6).Draw(t, "candidates") {
				r.Candidates = append(r.Candidates, full.Candidates[rapid.IntRange(0, len(full.Candidates)-1).Draw(t, "candidate")])
			}
			for range rapid.IntRange(1, 5).Draw(t, "mixtures") {
				r.Interest = append(r.Interest, full.Interest[rapid.IntRange(0, len(full.Interest)-1).Draw(t, "mixture")])
			}
			plan, err := castplan.Next(context.Background(), c, r)
			require.NoError(t, err)
			require.Len(t, plan.Steps, min(4, len(r.Candidates)))
			rated, err := castplan.Rate(context.Background(), c, r)
			require.NoError(t, err)
			require.InDelta(t, rated[0].After, plan.Steps[0].After, 1e-9)
			was := plan.Before
			for _, s := range plan.Steps {
				require.LessOrEqual(t, s.After, was+1e-9)
				require.LessOrEqual(t, s.HelpsAfter, s.HelpsBefore+1e-9)
				require.Greater(t, s.After, 0.0)
				was = s.After
			}
			for _, one := range rated {
				require.LessOrEqual(t, one.After, plan.Before+1e-9)
				require.GreaterOrEqual(t, one.After, rated[0].After)
			}
		})
	}
}

// nilFatal lets helpers made for tests serve a property.
type nilFatal struct{ *rapid.T }
